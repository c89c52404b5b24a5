package sheet

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"math"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"

	xdraw "golang.org/x/image/draw"
)

// letterSize is the size of all letters, in points at 72 to the inch: pixels.
const letterSize = 13

// pen draws on the sheet.
type pen struct {
	dst     *image.NRGBA
	letters font.Face
}

func newPen() (*pen, error) {
	parsed, err := opentype.Parse(goregular.TTF)
	if err != nil {
		return nil, fmt.Errorf("sheet: the letters can not be read (%w)", err)
	}
	face, err := opentype.NewFace(parsed, &opentype.FaceOptions{Size: letterSize, DPI: 72, Hinting: font.HintingNone})
	if err != nil {
		return nil, fmt.Errorf("sheet: the letters can not be drawn (%w)", err)
	}
	return &pen{letters: face}, nil
}

// text writes from x along the base line y.
func (p *pen) text(x, y int, text string, colour color.NRGBA) {
	d := font.Drawer{Dst: p.dst, Src: image.NewUniform(colour), Face: p.letters, Dot: fixed.P(x, y)}
	d.DrawString(text)
}

func (p *pen) wide(text string) int { return font.MeasureString(p.letters, text).Ceil() }

// label writes on a picture, with a dark ground so that it can be read on anything; what reaches past at is cut off.
func (p *pen) label(x, y int, text string, at image.Rectangle) {
	ground := image.Rect(x-2, y-12, x+p.wide(text)+2, y+4).Intersect(at)
	draw.Draw(p.dst, ground, image.NewUniform(color.NRGBA{0, 0, 0, 150}), image.Point{}, draw.Over)
	cut := p.dst.SubImage(at.Intersect(p.dst.Rect)).(*image.NRGBA)
	d := font.Drawer{Dst: cut, Src: image.White, Face: p.letters, Dot: fixed.P(x, y)}
	d.DrawString(text)
}

// picture fills at with a picture.
func (p *pen) picture(at image.Rectangle, source image.Image) {
	xdraw.BiLinear.Scale(p.dst, at, source, source.Bounds(), draw.Src, nil)
}

// line draws a straight line of the given width, inside at.
func (p *pen) line(x0, y0, x1, y1, width float64, colour color.NRGBA, at image.Rectangle) {
	length := math.Hypot(x1-x0, y1-y0)
	if length == 0 {
		return
	}
	dx, dy := (y1-y0)/length*width/2, (x0-x1)/length*width/2
	p.fill([][2]float64{{x0 + dx, y0 + dy}, {x1 + dx, y1 + dy}, {x1 - dx, y1 - dy}, {x0 - dx, y0 - dy}}, colour, at)
}

// ring draws a circle.
func (p *pen) ring(x, y, radius, width float64, colour color.NRGBA, at image.Rectangle) {
	const corners = 24
	for i := range corners {
		a, b := 2*math.Pi*float64(i)/corners, 2*math.Pi*float64(i+1)/corners
		p.line(x+radius*math.Cos(a), y+radius*math.Sin(a), x+radius*math.Cos(b), y+radius*math.Sin(b), width, colour, at)
	}
}

// dot draws a full circle.
func (p *pen) dot(x, y, radius float64, colour color.NRGBA) {
	const corners = 16
	var outline [][2]float64
	for i := range corners {
		a := 2 * math.Pi * float64(i) / corners
		outline = append(outline, [2]float64{x + radius*math.Cos(a), y + radius*math.Sin(a)})
	}
	p.fill(outline, colour, p.dst.Rect)
}

// fill paints a polygon, inside at.
func (p *pen) fill(corners [][2]float64, colour color.NRGBA, at image.Rectangle) {
	minX, minY, maxX, maxY := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, c := range corners {
		minX, minY, maxX, maxY = min(minX, c[0]), min(minY, c[1]), max(maxX, c[0]), max(maxY, c[1])
	}
	limits := image.Rect(at.Min.X-2000, at.Min.Y-2000, at.Max.X+2000, at.Max.Y+2000)
	box := image.Rect(int(math.Floor(minX)), int(math.Floor(minY)), int(math.Ceil(maxX)), int(math.Ceil(maxY))).Intersect(limits)
	if box.Empty() {
		return
	}
	r := vector.NewRasterizer(box.Dx(), box.Dy())
	for i, c := range corners {
		x, y := float32(c[0]-float64(box.Min.X)), float32(c[1]-float64(box.Min.Y))
		if i == 0 {
			r.MoveTo(x, y)
		} else {
			r.LineTo(x, y)
		}
	}
	r.ClosePath()
	mask := image.NewAlpha(image.Rect(0, 0, box.Dx(), box.Dy()))
	r.Draw(mask, mask.Rect, image.Opaque, image.Point{})
	seen := box.Intersect(at)
	draw.DrawMask(p.dst, seen, image.NewUniform(colour), image.Point{}, mask, seen.Min.Sub(box.Min), draw.Over)
}

// frame draws the outline of at, outside of it.
func (p *pen) frame(at image.Rectangle, colour color.NRGBA, width float64) {
	out := at.Inset(-int(math.Ceil(width)))
	for _, side := range []image.Rectangle{
		{out.Min, image.Pt(out.Max.X, at.Min.Y)}, {image.Pt(out.Min.X, at.Max.Y), out.Max},
		{out.Min, image.Pt(at.Min.X, out.Max.Y)}, {image.Pt(at.Max.X, out.Min.Y), out.Max},
	} {
		draw.Draw(p.dst, side, image.NewUniform(colour), image.Point{}, draw.Src)
	}
}
