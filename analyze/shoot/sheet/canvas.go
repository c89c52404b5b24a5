package sheet

import (
	"image"
	"image/color"
	"image/draw"
	"math"

	"golang.org/x/image/font"

	xdraw "golang.org/x/image/draw"

	"colonnade/analyze/pen"
)

// letterSize is the height of all letters, in pixels.
const letterSize = 13

// canvas is the sheet being drawn.
type canvas struct {
	img     *image.RGBA
	letters font.Face
}

// text writes from x along the base line y.
func (s *canvas) text(x, y int, text string, colour color.Color) {
	pen.Text(s.img, colour, s.letters, pen.Point{X: float64(x), Y: float64(y)}, text)
}

func (s *canvas) wide(text string) int { return int(math.Ceil(pen.Width(s.letters, text))) }

// inside is the part of the sheet that at covers.
func (s *canvas) inside(at image.Rectangle) *image.RGBA { return s.img.SubImage(at).(*image.RGBA) }

// label writes on a picture, with a dark ground so that it can be read on anything; what reaches past at is cut off.
func (s *canvas) label(x, y int, text string, at image.Rectangle) {
	ground := image.Rect(x-2, y-12, x+s.wide(text)+2, y+4).Intersect(at)
	draw.Draw(s.img, ground, image.NewUniform(color.NRGBA{0, 0, 0, 150}), image.Point{}, draw.Over)
	pen.Text(s.inside(at), color.White, s.letters, pen.Point{X: float64(x), Y: float64(y)}, text)
}

// picture fills at with a picture.
func (s *canvas) picture(at image.Rectangle, source image.Image) {
	xdraw.BiLinear.Scale(s.img, at, source, source.Bounds(), draw.Src, nil)
}

// line draws a straight line of the given width, inside at.
func (s *canvas) line(x0, y0, x1, y1, width float64, colour color.Color, at image.Rectangle) {
	pen.Line(s.inside(at), colour, width, pen.Point{X: x0, Y: y0}, pen.Point{X: x1, Y: y1})
}

// ring draws a circle.
func (s *canvas) ring(x, y, radius, width float64, colour color.Color, at image.Rectangle) {
	corners := circle(x, y, radius)
	for i, from := range corners {
		pen.Line(s.inside(at), colour, width, from, corners[(i+1)%len(corners)])
	}
}

// dot draws a full circle.
func (s *canvas) dot(x, y, radius float64, colour color.Color) {
	pen.Fill(s.img, colour, circle(x, y, radius)...)
}

func circle(x, y, radius float64) []pen.Point {
	corners := make([]pen.Point, 24)
	for i := range corners {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(len(corners)))
		corners[i] = pen.Point{X: x + radius*cos, Y: y + radius*sin}
	}
	return corners
}

// frame draws the outline of at, outside of it.
func (s *canvas) frame(at image.Rectangle, colour color.Color, width float64) {
	out := at.Inset(-int(math.Ceil(width)))
	for _, side := range []image.Rectangle{
		{out.Min, image.Pt(out.Max.X, at.Min.Y)}, {image.Pt(out.Min.X, at.Max.Y), out.Max},
		{out.Min, image.Pt(at.Min.X, out.Max.Y)}, {image.Pt(at.Max.X, out.Min.Y), out.Max},
	} {
		draw.Draw(s.img, side, image.NewUniform(colour), image.Point{}, draw.Src)
	}
}
