package shoot

import (
	"image"
	"sort"

	"colonnade/masks"
)

const (
	// seamShare is the share of a column that must show for a pixel to lie on its edge, and the share that another
	// column may have there: one part in thirty.
	seamShare = masks.Full / 30
	// leastOnEdge is how much of a square must lie on the edge, as a share of its pixels, for its mean to count.
	leastOnEdge = 8
)

// seam is how much a photo differs from the base plate along the edge of a column, where the one fades into the other.
type seam struct {
	steps float64 // the largest mean difference in a square, in 8-bit steps, at the base plate's light and in its place
	asIs  float64 // the same, of the photo as it is
	x, y  int     // where, in photo pixels
	seen  bool    // it is more than the eye misses
}

// grid divides the reduced picture into squares, over which differences are averaged: the eye does so too, and
// noise grows small.
type grid struct {
	side, across, down int
}

func (b *Base) grid() grid {
	side := max(2, min(8, min(b.reduced.width, b.reduced.height)/40))
	return grid{side, (b.reduced.width + side - 1) / side, (b.reduced.height + side - 1) / side}
}

// cell is a square's sums: of weights, of weighted differences from the base plate, of the base plate's brightness and its slopes.
type cell struct{ weight, apart, asIs, base, slope int64 }

// mean is a weighted mean, in codeUnit steps.
func (c cell) mean(sum int64) int64 { return nearest(sum, max(c.weight, 1)) }

// visible is the least mean difference, in codeUnit steps, that is seen in a square: what the eye tells at that
// brightness, and what noise and doubtful edges do not explain. full is the weight of a whole square.
func (b *Base) visible(c cell, spread, doubt, full int64) int64 {
	linear := int64(b.curve.Linear[min(c.mean(c.base)/codeUnit, 255)] >> 8)
	least := int64(b.table[min(linear+linear*seamPercent/100, lightUnit)]) - int64(b.table[linear])
	noise := int64(float64(noisy*spread) * squareRoot(float64(full)/float64(max(c.weight, 1))))
	return max(least, leastStep*codeUnit/100, noise) + c.mean(c.slope)*doubt/64
}

// noisy is how many standard deviations of the squares' means are taken for noise.
const noisy = 5

// differences are what the squares of the still area differ by, and their spread in codeUnit steps.
func (b *Base) differences(s *Shot, luma []int32) (cells []cell, spread int64) {
	g := b.grid()
	cells = make([]cell, g.across*g.down)
	for y := range b.reduced.height {
		for x := range b.reduced.width {
			if i := y*b.reduced.width + x; s.use[i] != 0 {
				cells[y/g.side*g.across+x/g.side].add(1, luma[i], 0, b.codes.luma(i), b.slopes[i])
			}
		}
	}
	var sizes []int
	for _, c := range cells {
		if 2*c.weight >= int64(g.side*g.side) {
			m := int(c.mean(c.apart))
			sizes = append(sizes, max(m, -m))
		}
	}
	if len(sizes) == 0 {
		return cells, 0
	}
	sort.Ints(sizes)
	return cells, int64(sizes[len(sizes)/2]) * 14826 / 10000
}

func (c *cell) add(weight int64, apart, asIs, base, slope int32) {
	c.weight += weight
	c.apart += weight * int64(apart)
	c.asIs += weight * int64(asIs)
	c.base += weight * int64(base)
	c.slope += weight * int64(slope)
}

// findSeams measures the photo along each column's edge, and what changes outside. raw is the photo as it is.
func (b *Base) findSeams(s *Shot, raw codes) {
	n := len(b.codes[0])
	even, asIs := make([]int32, n), make([]int32, n)
	for i := range n {
		base := b.codes.luma(i)
		even[i], asIs[i] = s.codes.luma(i)-base, raw.luma(i)-base
	}
	cells, spread := b.differences(s, even)
	doubt := int64(s.doubt())
	s.seams = make([]seam, len(b.masks))
	for column := range b.masks {
		s.seams[column] = b.seamOf(column, even, asIs, spread, doubt)
	}
	s.spills = b.spillsOf(cells, spread, doubt)
	for _, o := range b.overlaps {
		if g, ok := b.ghostOf(o, even, spread, doubt); ok {
			s.ghosts = append(s.ghosts, g)
		}
	}
}

// edgeUnit is the weight of a pixel in the middle of an edge.
const edgeUnit = 255 * 255 / 4

func (b *Base) seamOf(column int, even, asIs []int32, spread, doubt int64) seam {
	mask, g, width := b.masks[column], b.grid(), b.reduced.width
	cells := make(map[image.Point]*cell)
	around := mask.Rect.Inset(-1).Intersect(area{Max: image.Pt(width, b.reduced.height)})
	for y := around.Min.Y; y < around.Max.Y; y++ {
		for x := around.Min.X; x < around.Max.X; x++ {
			weight := b.onEdge(column, x, y)
			if weight == 0 {
				continue
			}
			at := image.Pt(x/g.side, y/g.side)
			if cells[at] == nil {
				cells[at] = new(cell)
			}
			i := y*width + x
			cells[at].add(weight, even[i], asIs[i], b.codes.luma(i), b.slopes[i])
		}
	}
	var out seam
	full := int64(g.side * g.side * edgeUnit)
	most, mostAsIs, excess := int64(-1), int64(0), int64(0)
	for y := range g.down {
		for x := range g.across {
			c := cells[image.Pt(x, y)]
			if c == nil || leastOnEdge*c.weight < full {
				continue
			}
			step, plain := c.mean(c.apart), c.mean(c.asIs)
			step, plain = max(step, -step), max(plain, -plain)
			mostAsIs = max(mostAsIs, plain)
			over := step - b.visible(*c, spread, doubt, full)
			if over > 0 && over > excess || excess == 0 && step > most {
				most, excess = step, max(over, 0)
				out.x, out.y = (x*g.side+g.side/2)*b.factor, (y*g.side+g.side/2)*b.factor
				out.seen = over > 0
			}
		}
	}
	out.steps, out.asIs = rounded(float64(max(most, 0))/codeUnit, 10), rounded(float64(mostAsIs)/codeUnit, 10)
	return out
}

// onEdge is how much a pixel lies on the outer half of a column's edge alone, where less than half of the photo shows:
// most where half does. What a photo has there is cut off. On the inner half shadows may fade out, and objects end.
func (b *Base) onEdge(column, x, y int) int64 {
	mask := b.masks[column]
	own := mask.At(x, y)
	if own > masks.Full/2 {
		return 0
	}
	for other, m := range b.masks {
		if other != column && m.At(x, y) > seamShare {
			return 0
		}
	}
	// An edge with hardly any feather lies between two pixels.
	for _, step := range [4]image.Point{{X: -1}, {X: 1}, {Y: -1}, {Y: 1}} {
		if mask.At(x+step.X, y+step.Y) > masks.Full/2 {
			return edgeUnit
		}
	}
	if own <= seamShare {
		return 0
	}
	return int64(own>>8) * int64(255-own>>8)
}
