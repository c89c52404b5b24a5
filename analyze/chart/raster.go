package chart

import (
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"
)

// enlarge is how many pixels of the PNG make a dot, along each axis.
const enlarge = 2

// PNG writes the chart as a picture, two pixels a dot.
func (c *Chart) PNG(w io.Writer) error {
	face, err := opentype.Parse(goregular.TTF)
	if err != nil {
		return err
	}
	r := &rasterCanvas{img: image.NewRGBA(image.Rect(0, 0, int(enlarge*width()), int(enlarge*c.height()))), font: face, faces: make(map[float64]font.Face)}
	c.draw(r)
	if r.err != nil {
		return r.err
	}
	return png.Encode(w, r.img)
}

type rasterCanvas struct {
	img   *image.RGBA
	font  *opentype.Font
	faces map[float64]font.Face // by size
	err   error
}

func parseColour(text string) color.RGBA {
	var r, g, b uint8
	fmt.Sscanf(text, "#%02x%02x%02x", &r, &g, &b) // of this package's own constants alone
	return color.RGBA{r, g, b, 255}
}

// shape fills a path of straight lines, by the non-zero rule.
func (r *rasterCanvas) shape(paths [][]point, colour string) {
	bounds := image.Rectangle{}
	for _, path := range paths {
		for _, p := range path {
			x, y := int(math.Floor(enlarge*p.x)), int(math.Floor(enlarge*p.y))
			bounds = bounds.Union(image.Rect(x, y, x+2, y+2))
		}
	}
	bounds = bounds.Intersect(r.img.Bounds())
	if bounds.Empty() {
		return
	}
	v := vector.NewRasterizer(bounds.Dx(), bounds.Dy())
	for _, path := range paths {
		for i, p := range path {
			x, y := float32(enlarge*p.x)-float32(bounds.Min.X), float32(enlarge*p.y)-float32(bounds.Min.Y)
			if i == 0 {
				v.MoveTo(x, y)
			} else {
				v.LineTo(x, y)
			}
		}
		v.ClosePath()
	}
	v.Draw(r.img, bounds, image.NewUniform(parseColour(colour)), image.Point{})
}

func (r *rasterCanvas) fill(points []point, colour string) { r.shape([][]point{points}, colour) }

// stroke draws each stretch of a line as a rectangle, lengthened by half its width so that corners close.
func (r *rasterCanvas) stroke(points []point, colour string, width float64, dashed bool) {
	const dash, gap = 5, 4
	for i := 1; i < len(points); i++ {
		a, b := points[i-1], points[i]
		length := math.Hypot(b.x-a.x, b.y-a.y)
		if length == 0 {
			continue
		}
		ux, uy := (b.x-a.x)/length, (b.y-a.y)/length
		piece := func(from, to float64) {
			p := func(along, across float64) point {
				return point{a.x + ux*along - uy*across, a.y + uy*along + ux*across}
			}
			h := width / 2
			r.shape([][]point{{p(from, -h), p(to, -h), p(to, h), p(from, h)}}, colour)
		}
		if !dashed {
			piece(-width/2, length+width/2)
			continue
		}
		for from := 0.0; from < length; from += dash + gap {
			piece(from, math.Min(from+dash, length))
		}
	}
}

func (r *rasterCanvas) text(at point, anchor, colour string, size float64, text string) {
	face := r.faces[size]
	if face == nil {
		var err error
		if face, err = opentype.NewFace(r.font, &opentype.FaceOptions{Size: enlarge * size, DPI: 72, Hinting: font.HintingNone}); err != nil {
			r.err = err
			return
		}
		r.faces[size] = face
	}
	d := font.Drawer{Dst: r.img, Src: image.NewUniform(parseColour(colour)), Face: face, Dot: fixed.P(int(math.Round(enlarge*at.x)), int(math.Round(enlarge*at.y)))}
	switch advance := d.MeasureString(text); anchor {
	case "end":
		d.Dot.X -= advance
	case "middle":
		d.Dot.X -= advance / 2
	}
	d.DrawString(text)
}
