// Package pen draws shapes, lines and letters on pictures that people look at: charts, contact sheets, pictures of
// regions. It knows nothing of what they mean. What reaches beyond a picture is cut off: a part of one, by
// SubImage, is drawn on as well.
package pen

import (
	"image"
	"image/color"
	"math"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"
)

// Point is a place in pixels, from the top-left corner of a picture's pixel (0, 0).
type Point struct{ X, Y float64 }

// farthest keeps the rasteriser's whole numbers within their bounds.
const farthest = 1 << 20

// Fill paints the inside of a path of straight lines, which closes by itself, by the non-zero rule.
func Fill(dst *image.RGBA, colour color.Color, path ...Point) {
	var bounds image.Rectangle
	for _, p := range path {
		x, y := int(math.Floor(within(p.X))), int(math.Floor(within(p.Y)))
		bounds = bounds.Union(image.Rect(x, y, x+2, y+2))
	}
	bounds = bounds.Intersect(dst.Rect)
	if bounds.Empty() {
		return
	}
	v := vector.NewRasterizer(bounds.Dx(), bounds.Dy()) // no larger than the shape: its cost is its area
	for i, p := range path {
		x, y := float32(within(p.X)-float64(bounds.Min.X)), float32(within(p.Y)-float64(bounds.Min.Y))
		if i == 0 {
			v.MoveTo(x, y)
		} else {
			v.LineTo(x, y)
		}
	}
	v.ClosePath()
	v.Draw(dst, bounds, image.NewUniform(colour), image.Point{})
}

func within(v float64) float64 { return min(max(v, -farthest), farthest) }

// Line draws a straight line of that width in pixels, with square ends at from and to. A line of no length is nothing.
func Line(dst *image.RGBA, colour color.Color, width float64, from, to Point) {
	length := math.Hypot(to.X-from.X, to.Y-from.Y)
	if length == 0 {
		return
	}
	dx, dy := (from.Y-to.Y)/length*width/2, (to.X-from.X)/length*width/2
	Fill(dst, colour, Point{from.X + dx, from.Y + dy}, Point{to.X + dx, to.Y + dy}, Point{to.X - dx, to.Y - dy}, Point{from.X - dx, from.Y - dy})
}

// Letters is the typeface of all pictures, Go Regular, size pixels high.
func Letters(size float64) (font.Face, error) {
	parsed, err := opentype.Parse(goregular.TTF)
	if err != nil {
		return nil, err
	}
	return opentype.NewFace(parsed, &opentype.FaceOptions{Size: size, DPI: 72, Hinting: font.HintingNone})
}

// Width is how many pixels wide a text is.
func Width(letters font.Face, text string) float64 {
	return float64(font.MeasureString(letters, text)) / 64
}

// Text writes from at on, which is the left end of the letters' base line.
func Text(dst *image.RGBA, colour color.Color, letters font.Face, at Point, text string) {
	d := font.Drawer{Dst: dst, Src: image.NewUniform(colour), Face: letters,
		Dot: fixed.Point26_6{X: fixed.Int26_6(math.Round(64 * at.X)), Y: fixed.Int26_6(math.Round(64 * at.Y))}}
	d.DrawString(text)
}
