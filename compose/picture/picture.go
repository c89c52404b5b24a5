// Package picture is the plain compositor: from the photos and a tuple of levels to pixels, one pixel after
// the other, as the formula reads. It is the reference that every faster way is held against.
package picture

import (
	"colonnade/analyze/levels"
	"colonnade/compose/light"
	"colonnade/masks"
)

// Picture is 8-bit RGB, row by row, 3*Width bytes a row.
type Picture struct {
	Width, Height int     // pixels
	Pix           []uint8 // red, green and blue of each pixel, from the top-left one
}

// New makes a black picture.
func New(width, height int) *Picture {
	return &Picture{width, height, make([]uint8, 3*width*height)}
}

// Row is the pixels of row y, from 0 at the top: 3*Width bytes of Pix itself, no copy.
func (p *Picture) Row(y int) []uint8 { return p.Pix[3*p.Width*y:][:3*p.Width] }

// Scene is all that a frame's pixels are made from. Every photo and the base plate have the frame's size, and
// the masks lie inside it.
type Scene struct {
	Base   *Picture
	Photos []*Picture    // by level
	Masks  []*masks.Mask // by column, in the order in which columns are laid over each other
	Curve  *light.Curve  // of the photos, or light.Encoded
}

// Compose makes the frame in which column i stands at tuple[i]:
//
//	out = base; for each column: out = out + mask x (photo[level] - out)
//
// in light, rounded once, to the nearest code. Between two levels the photo is the mix of both in light.
// dst has the frame's size. tuple has a level for each mask, between 0 and that of the last photo.
func (s *Scene) Compose(dst *Picture, tuple []levels.Level) {
	copy(dst.Pix, s.Base.Pix)
	line := make([]uint32, 3*dst.Width)
	for y := range dst.Height {
		row, first, last := dst.Row(y), dst.Width, 0
		for _, m := range s.Masks {
			if m.Row(y) != nil {
				first, last = min(first, m.Rect.Min.X), max(last, m.Rect.Max.X)
			}
		}
		for x := 3 * first; x < 3*last; x++ {
			line[x] = s.Curve.Linear[row[x]]
		}
		for i, m := range s.Masks {
			s.layRow(line, y, m, tuple[i])
		}
		for x := 3 * first; x < 3*last; x++ {
			row[x] = s.Curve.Code(line[x])
		}
	}
}

func (s *Scene) layRow(line []uint32, y int, m *masks.Mask, level levels.Level) {
	low, part := level/levels.One, level%levels.One
	below := s.Photos[low].Row(y)
	above := below
	if part > 0 {
		above = s.Photos[low+1].Row(y)
	}
	x := 3 * m.Rect.Min.X
	for _, mask := range m.Row(y) {
		for range 3 {
			line[x] = light.Mix(line[x], Between(s.Curve, below[x], above[x], part), mask)
			x++
		}
	}
}

// Between is the light part/1000 of the way from code low to code high, 0 to light.One, rounded toward low. part is
// from 0 to levels.One.
func Between(curve *light.Curve, low, high uint8, part levels.Level) uint32 {
	from, to := int64(curve.Linear[low]), int64(curve.Linear[high])
	return uint32(from + (to-from)*int64(part)/int64(levels.One))
}
