package shoot

import (
	"image"

	"colonnade/masks"
)

// overlap is where one column's edge lets a photo show inside another column.
type overlap struct {
	column, other int
	share         float64 // the most that column takes of a pixel that is other's, 0 to 1
	rect          area    // where it does so, in reduced pixels
}

// ghost is what a column shows of what stands in another, as a photo has it.
type ghost struct {
	column, other int
	steps         float64 // the largest mean difference in a square, in 8-bit steps
	x, y          int     // photo pixels
}

// findOverlaps lists the pairs of columns of which the first takes part in pixels that are the second's: those that it
// shows by half or more.
func (b *Base) findOverlaps() []overlap {
	var out []overlap
	for column, mask := range b.masks {
		for other, theirs := range b.masks {
			if column == other {
				continue
			}
			common := mask.Rect.Intersect(theirs.Rect)
			o := overlap{column: column, other: other}
			most := uint16(0)
			for y := common.Min.Y; y < common.Max.Y; y++ {
				for x := common.Min.X; x < common.Max.X; x++ {
					if own := mask.At(x, y); own >= maskSeen && theirs.At(x, y) >= masks.Full/2 {
						most = max(most, own)
						o.rect = o.rect.Union(image.Rect(x, y, x+1, y+1))
					}
				}
			}
			if most > 0 {
				o.share = rounded(float64(most)/masks.Full, 1000)
				out = append(out, o)
			}
		}
	}
	return out
}

// ghostOf is what a photo would show of its own inside other through the edge of column, when it is seen.
func (b *Base) ghostOf(o overlap, even []int32, spread, doubt int64) (ghost, bool) {
	g, width := b.grid(), b.reduced.width
	mask, theirs := b.masks[o.column], b.masks[o.other]
	cells := make(map[image.Point]*cell)
	for y := o.rect.Min.Y; y < o.rect.Max.Y; y++ {
		for x := o.rect.Min.X; x < o.rect.Max.X; x++ {
			own, other := int64(mask.At(x, y)), int64(theirs.At(x, y))
			if own < maskSeen || other < masks.Full/2 {
				continue
			}
			if o.other > o.column { // laid over it, and hides as much as it shows
				own = own * (masks.Full - other) / masks.Full
			}
			at := image.Pt(x/g.side, y/g.side)
			if cells[at] == nil {
				cells[at] = new(cell)
			}
			i := y*width + x
			shown := int32(int64(even[i]) * own / masks.Full)
			cells[at].add(1, shown, shown, b.codes.luma(i), 0)
		}
	}
	out, found := ghost{column: o.column, other: o.other}, false
	most := int64(0)
	full := int64(g.side * g.side)
	for y := o.rect.Min.Y / g.side; y <= o.rect.Max.Y/g.side; y++ {
		for x := o.rect.Min.X / g.side; x <= o.rect.Max.X/g.side; x++ {
			c := cells[image.Pt(x, y)]
			if c == nil || leastOnEdge*c.weight < full {
				continue
			}
			step := c.mean(c.apart)
			if step = max(step, -step); step > most && step > b.visible(*c, spread, doubt, full) {
				most, found = step, true
				out.x, out.y = (x*g.side+g.side/2)*b.factor, (y*g.side+g.side/2)*b.factor
			}
		}
	}
	out.steps = rounded(float64(most)/codeUnit, 10)
	return out, found
}
