package chart

import (
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"

	"golang.org/x/image/font"

	"colonnade/analyze/pen"
)

// enlarge is how many pixels of the PNG make a dot, along each axis.
const enlarge = 2

// PNG writes the chart as a picture, two pixels a dot.
func (c *Chart) PNG(w io.Writer) error {
	r := &rasterCanvas{img: image.NewRGBA(image.Rect(0, 0, int(enlarge*width()), int(enlarge*c.height()))), letters: make(map[float64]font.Face)}
	c.draw(r)
	if r.err != nil {
		return r.err
	}
	return png.Encode(w, r.img)
}

type rasterCanvas struct {
	img     *image.RGBA
	letters map[float64]font.Face // by size
	err     error
}

func parseColour(text string) color.RGBA {
	var r, g, b uint8
	fmt.Sscanf(text, "#%02x%02x%02x", &r, &g, &b) // of this package's own constants alone
	return color.RGBA{r, g, b, 255}
}

// pixels is where a point lies on the picture.
func (p point) pixels() pen.Point { return pen.Point{X: enlarge * p.x, Y: enlarge * p.y} }

func (r *rasterCanvas) fill(points []point, colour string) {
	path := make([]pen.Point, len(points))
	for i, p := range points {
		path[i] = p.pixels()
	}
	pen.Fill(r.img, parseColour(colour), path...)
}

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
			pen.Line(r.img, parseColour(colour), enlarge*width, point{a.x + ux*from, a.y + uy*from}.pixels(), point{a.x + ux*to, a.y + uy*to}.pixels())
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
	letters := r.letters[size]
	if letters == nil {
		var err error
		if letters, err = pen.Letters(enlarge * size); err != nil {
			r.err = err
			return
		}
		r.letters[size] = letters
	}
	dot := at.pixels()
	switch wide := pen.Width(letters, text); anchor {
	case "end":
		dot.X -= wide
	case "middle":
		dot.X -= wide / 2
	}
	pen.Text(r.img, parseColour(colour), letters, dot, text)
}
