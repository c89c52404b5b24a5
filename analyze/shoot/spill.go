package shoot

import (
	"image"
	"slices"
)

// spill is a part of the picture outside all columns in which a photo differs from the base plate.
type spill struct {
	area    area    // photo pixels
	steps   float64 // the largest mean difference in a square, in 8-bit steps
	columns []int   // whose edge it touches; none when it stays clear of all
	size    int     // squares
}

// spillsOf gathers the squares in which something has changed into parts that hang together, the largest first.
func (b *Base) spillsOf(cells []cell, spread, doubt int64) []spill {
	g := b.grid()
	full := int64(g.side * g.side)
	over := make([]int64, len(cells)) // the mean difference where it is seen
	for i, c := range cells {
		if 2*c.weight < full {
			continue
		}
		mean := c.mean(c.apart)
		if mean = max(mean, -mean); mean > b.visible(c, spread, doubt, full) {
			over[i] = mean
		}
	}
	var out []spill
	for i := range over {
		if over[i] == 0 {
			continue
		}
		var part spill
		box, most := area{}, int64(0)
		for queue := []int{i}; len(queue) > 0; {
			at := queue[len(queue)-1]
			queue = queue[:len(queue)-1]
			if over[at] == 0 {
				continue
			}
			most, over[at] = max(most, over[at]), 0
			part.size++
			x, y := at%g.across, at/g.across
			box = box.Union(image.Rect(x*g.side, y*g.side, (x+1)*g.side, (y+1)*g.side))
			for _, column := range b.near[at] {
				if !slices.Contains(part.columns, column) {
					part.columns = append(part.columns, column)
				}
			}
			for v := max(y-1, 0); v <= min(y+1, g.down-1); v++ {
				for u := max(x-1, 0); u <= min(x+1, g.across-1); u++ {
					queue = append(queue, v*g.across+u)
				}
			}
		}
		slices.Sort(part.columns)
		part.area, part.steps = b.bounds(box), rounded(float64(most)/codeUnit, 10)
		if part.size >= leastSpill {
			out = append(out, part)
		}
	}
	slices.SortStableFunc(out, func(a, b spill) int { return b.size - a.size })
	return out
}

// leastSpill is how many squares must differ for what they show to be told: one alone may be a speck of dust or an insect.
const leastSpill = 2

// nearColumns are the columns whose masks reach into each square or one beside it.
func (b *Base) nearColumns(g grid) [][]int {
	near := make([][]int, g.across*g.down)
	for column, mask := range b.masks {
		for y := mask.Rect.Min.Y; y < mask.Rect.Max.Y; y++ {
			for i, alpha := range mask.Row(y) {
				if alpha < maskSeen {
					continue
				}
				x := (mask.Rect.Min.X + i) / g.side
				for v := max(y/g.side-1, 0); v <= min(y/g.side+1, g.down-1); v++ {
					for u := max(x-1, 0); u <= min(x+1, g.across-1); u++ {
						if list := near[v*g.across+u]; len(list) == 0 || list[len(list)-1] != column {
							near[v*g.across+u] = append(list, column)
						}
					}
				}
			}
		}
	}
	return near
}
