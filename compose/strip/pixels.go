package strip

import (
	"colonnade/analyze/levels"
	"colonnade/compose/light"
	"colonnade/compose/picture"
	"colonnade/masks"
)

// pixels makes the pixels that a state decides: the base with the state's columns laid over it. Where other
// columns lie, too, the pixels are not those of a frame, but there they are not asked for.
type pixels struct {
	curve   *light.Curve
	base    *picture.Picture
	columns []layer
	light   []uint32 // a row, between laying and rounding
}

// layer is one column at the level of a state.
type layer struct {
	mask         *masks.Mask
	below, above *picture.Picture // the photos that the level lies between
	part         levels.Level     // thousandths of the way from below to above
}

// set makes p those of the columns at the levels. photos, by level, holds at least those that they lie between. A column that
// shows the base plate's own photo right on the base plate changes nothing and is left out.
func (p *pixels) set(source *Source, columns []int, at []levels.Level, base *picture.Picture, photos []*picture.Picture) {
	p.curve, p.base, p.columns = source.Curve, base, p.columns[:0]
	for i, column := range columns {
		low, part := int(at[i]/levels.One), at[i]%levels.One
		c := layer{source.Masks[column], photos[low], photos[low], part}
		if part > 0 {
			c.above = photos[low+1]
		} else if c.below == base && len(p.columns) == 0 {
			continue
		}
		p.columns = append(p.columns, c)
	}
}

// forget lets go of all pictures: a worker that idles must not keep what the caller has dropped.
func (p *pixels) forget() {
	clear(p.columns[:cap(p.columns)])
	p.base, p.columns = nil, p.columns[:0]
}

// row makes pixels from to before to of row y in dst, which holds three bytes for each pixel of the row.
func (p *pixels) row(dst []byte, y, from, to int) {
	base := p.base.Row(y)
	copy(dst[3*from:3*to], base[3*from:])
	if len(p.columns) == 1 {
		p.single(dst, &p.columns[0], y, from, to)
		return
	}
	first, last := to, from
	for i := range p.columns {
		if m := p.columns[i].mask; m.Row(y) != nil {
			first, last = min(first, max(from, m.Rect.Min.X)), max(last, min(to, m.Rect.Max.X))
		}
	}
	for x := 3 * first; x < 3*last; x++ {
		p.light[x] = p.curve.Linear[base[x]]
	}
	for i := range p.columns {
		p.lay(&p.columns[i], y, from, to)
	}
	for x := 3 * first; x < 3*last; x++ {
		dst[x] = p.curve.Code(p.light[x])
	}
}

// lay mixes one column into the row of light.
func (p *pixels) lay(c *layer, y, from, to int) {
	alpha := c.mask.Row(y)
	if alpha == nil {
		return
	}
	below, above := c.below.Row(y), c.above.Row(y)
	left := c.mask.Rect.Min.X
	for x := max(from, left); x < min(to, c.mask.Rect.Max.X); x++ {
		a := alpha[x-left]
		for i := 3 * x; i < 3*x+3; i++ {
			p.light[i] = light.Mix(p.light[i], picture.Between(p.curve, below[i], above[i], c.part), a)
		}
	}
}

// single lays one column straight on the codes. It leaves out the way into light and back where it would lead
// to the same code: where the mask takes all or nothing.
func (p *pixels) single(dst []byte, c *layer, y, from, to int) {
	alpha := c.mask.Row(y)
	if alpha == nil {
		return
	}
	below, above := c.below.Row(y), c.above.Row(y)
	left := c.mask.Rect.Min.X
	to = min(to, c.mask.Rect.Max.X)
	for x := max(from, left); x < to; {
		a := alpha[x-left]
		end := x + 1
		switch {
		case a == 0:
		case a == masks.Full && c.part == 0:
			for end < to && alpha[end-left] == masks.Full {
				end++
			}
			copy(dst[3*x:3*end], below[3*x:])
		default:
			for i := 3 * x; i < 3*x+3; i++ {
				target := picture.Between(p.curve, below[i], above[i], c.part)
				dst[i] = p.curve.Code(light.Mix(p.curve.Linear[dst[i]], target, a))
			}
		}
		x = end
	}
}
