package strip

import (
	"slices"

	"colonnade/analyze/levels"
	"colonnade/compose/light"
	"colonnade/compose/picture"
	"colonnade/masks"
)

// pixels makes the pixels that a state decides: the base with the state's columns laid over it. Where other
// columns lie, too, the pixels are not those of a frame, but there they are not asked for.
type pixels struct {
	curve   *light.Curve
	base    picture.Reader
	columns []layer
	light   []uint32 // a row, between laying and rounding
	// Pixels of a row of a column's photos.
	below, above []byte
}

func newPixels(width int) pixels {
	return pixels{light: make([]uint32, 3*width), below: make([]byte, 3*width), above: make([]byte, 3*width)}
}

// layer is one column at the level of a state.
type layer struct {
	mask         *masks.Mask
	below, above picture.Reader // the photos that the level lies between
	part         levels.Level   // thousandths of the way from below to above
}

// set makes p those of the columns at the levels. photos, by level, holds at least those that they lie between. A column that
// shows the base plate's own photo right on the base plate changes nothing and is left out.
func (p *pixels) set(source *Source, columns []int, at []levels.Level, base picture.Reader, photos []picture.Reader) {
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
	if len(p.columns) == 1 {
		p.single(dst, &p.columns[0], y, from, to)
		return
	}
	p.base.Read(dst[3*from:3*to], from, y)
	first, last := to, from
	for i := range p.columns {
		if m := p.columns[i].mask; m.Row(y) != nil {
			first, last = min(first, max(from, m.Rect.Min.X)), max(last, min(to, m.Rect.Max.X))
		}
	}
	for x := 3 * first; x < 3*last; x++ {
		p.light[x] = p.curve.Linear[dst[x]]
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
	from, to = c.touched(y, from, to)
	if from >= to {
		return
	}
	below, above := p.read(c, y, from, to)
	alpha := c.mask.Row(y)[from-c.mask.Rect.Min.X:]
	line := p.light[3*from : 3*to]
	for i := range line {
		line[i] = light.Mix(line[i], picture.Between(p.curve, below[i], above[i], c.part), alpha[i/3])
	}
}

// touched is the part of the pixels from to before to of row y beyond which the column's mask takes nothing.
func (c *layer) touched(y, from, to int) (first, last int) {
	alpha, left := c.mask.Row(y), c.mask.Rect.Min.X
	from, to = max(from, left), min(to, left+len(alpha))
	for from < to && alpha[from-left] == 0 {
		from++
	}
	for from < to && alpha[to-1-left] == 0 {
		to--
	}
	return from, to
}

// read is pixels from to before to of row y of a column's photos, until the next call.
func (p *pixels) read(c *layer, y, from, to int) (below, above []byte) {
	below, above = p.below[:3*(to-from)], p.above[:3*(to-from)]
	c.below.Read(below, from, y)
	if c.part == 0 {
		return below, below
	}
	c.above.Read(above, from, y)
	return below, above
}

// single lays one column straight on the codes. It leaves out the way into light and back where it would lead
// to the same code: where the mask takes all or nothing.
func (p *pixels) single(dst []byte, c *layer, y, from, to int) {
	for from < to {
		solid, end := c.solid(y, from, to)
		p.base.Read(dst[3*from:3*solid], from, y)
		p.mix(dst, c, y, from, solid)
		c.below.Read(dst[3*solid:3*end], solid, y)
		from = end
	}
}

// solid is the first of the pixels from from to before to of row y at which the mask takes all of a photo as it is, and where
// the next one is that is not such; to twice, if none is.
func (c *layer) solid(y, from, to int) (first, end int) {
	alpha, left := c.mask.Row(y), c.mask.Rect.Min.X
	from, last := max(from, left), min(to, left+len(alpha))
	if c.part > 0 || from >= last {
		return to, to
	}
	n := slices.Index(alpha[from-left:last-left], masks.Full)
	if n < 0 {
		return to, to
	}
	first = from + n
	end = first + 1
	for end < last && alpha[end-left] == masks.Full {
		end++
	}
	return first, end
}

// mix mixes a column into the codes.
func (p *pixels) mix(dst []byte, c *layer, y, from, to int) {
	from, to = c.touched(y, from, to)
	if from >= to {
		return
	}
	below, above := p.read(c, y, from, to)
	alpha := c.mask.Row(y)[from-c.mask.Rect.Min.X:]
	codes := dst[3*from : 3*to]
	for x, a := range alpha[:to-from] {
		if a == 0 {
			continue
		}
		for i := 3 * x; i < 3*x+3; i++ {
			target := p.curve.Linear[below[i]]
			if c.part > 0 {
				target = picture.Between(p.curve, below[i], above[i], c.part)
			}
			codes[i] = p.curve.Code(light.Mix(p.curve.Linear[codes[i]], target, a))
		}
	}
}
