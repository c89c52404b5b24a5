package mark

import (
	"cmp"
	"math"
	"slices"
)

// part is a compact patch of what changes at one level: an object, a piece of one where the rest looks like what is behind
// it, or something else that came with it.
type part struct {
	level                  int
	pixels                 []int32 // places in the map, in reading order
	minX, minY, maxX, maxY int     // both ends in it
	middleX, middleY       int     // of its pixels
	radius                 float64 // of the largest disc in it, pixels
	mapWidth               int
}

func (p *part) width() int  { return p.maxX - p.minX + 1 }
func (p *part) height() int { return p.maxY - p.minY + 1 }
func (p *part) area() int   { return len(p.pixels) }

// newPart measures a patch.
func newPart(level int, pixels []int32, width int, squared []int32) *part {
	p := &part{level: level, pixels: pixels, mapWidth: width, minX: math.MaxInt, minY: math.MaxInt}
	sumX, sumY, radius := 0, 0, int32(0)
	for _, i := range pixels {
		x, y := int(i)%width, int(i)/width
		p.minX, p.maxX, p.minY, p.maxY = min(p.minX, x), max(p.maxX, x), min(p.minY, y), max(p.maxY, y)
		sumX += x
		sumY += y
		if squared != nil {
			radius = max(radius, squared[i])
		}
	}
	p.middleX, p.middleY = sumX/len(pixels), sumY/len(pixels)
	p.radius = math.Sqrt(float64(radius))
	return p
}

// leastRadius is the radius in pixels of the smallest patch that is looked at. Thinner ones are edges and noise.
const leastRadius = 2.0

// parts are the patches of each level, by level, the larger first. Thin slivers are not among them.
func (g *grown) parts() [][]*part {
	out := make([][]*part, g.top+1)
	for level := 1; level <= g.top; level++ {
		mask := make([]bool, len(g.sure))
		for i, first := range g.sure {
			mask[i] = int(first) == level
		}
		reach := 1
		if max(g.width, g.height) >= 800 {
			reach = 2
		}
		mask = majority(mask, g.width, g.height, reach)
		fillHoles(mask, g.width, g.height)
		out[level] = patches(mask, g.width, g.height, level)
	}
	return out
}

// majority sets a pixel where most of the pixels up to reach around it are set: speckles go, edges stay.
func majority(mask []bool, width, height, reach int) []bool {
	// Sums over the rectangle from the corner, one row and column of zeros in front.
	sums := make([]int32, (width+1)*(height+1))
	for y := range height {
		row := int32(0)
		for x := range width {
			if mask[y*width+x] {
				row++
			}
			sums[(y+1)*(width+1)+x+1] = sums[y*(width+1)+x+1] + row
		}
	}
	out := make([]bool, len(mask))
	for y := range height {
		y0, y1 := max(y-reach, 0), min(y+reach+1, height)
		for x := range width {
			x0, x1 := max(x-reach, 0), min(x+reach+1, width)
			count := sums[y1*(width+1)+x1] - sums[y0*(width+1)+x1] - sums[y1*(width+1)+x0] + sums[y0*(width+1)+x0]
			out[y*width+x] = 2*int(count) > (y1-y0)*(x1-x0)
		}
	}
	return out
}

// fillHoles sets what is enclosed by what is set, where it is smaller than a quarter of what encloses it.
func fillHoles(mask []bool, width, height int) {
	label, sizes := components(mask, width, height, true)
	empty := make([]bool, len(mask))
	for i, set := range mask {
		empty[i] = !set
	}
	holes, holeSizes := components(empty, width, height, false)
	around := make([]int32, len(holeSizes)) // the one component next to a hole; -1 for several, or the border
	for i, hole := range holes {
		if hole == 0 {
			continue
		}
		x, y := i%width, i/width
		if x == 0 || y == 0 || x == width-1 || y == height-1 {
			around[hole] = -1
			continue
		}
		for _, j := range [4]int{i - 1, i + 1, i - width, i + width} {
			if c := label[j]; c != 0 && around[hole] != c {
				if around[hole] == 0 {
					around[hole] = c
				} else {
					around[hole] = -1
				}
			}
		}
	}
	for i, hole := range holes {
		if hole != 0 && around[hole] > 0 && 4*holeSizes[hole] < sizes[around[hole]] {
			mask[i] = true
		}
	}
}

// components labels the connected patches of a mask from 1 up, joined at corners too if asked for. sizes are in pixels,
// by label.
func components(mask []bool, width, height int, corners bool) (label []int32, sizes []int) {
	label = make([]int32, len(mask))
	sizes = []int{0}
	var todo []int32
	for start, set := range mask {
		if !set || label[start] != 0 {
			continue
		}
		id := int32(len(sizes))
		sizes = append(sizes, 0)
		label[start] = id
		todo = append(todo[:0], int32(start))
		for len(todo) > 0 {
			i := int(todo[len(todo)-1])
			todo = todo[:len(todo)-1]
			sizes[id]++
			x, y := i%width, i/width
			for dy := -1; dy <= 1; dy++ {
				for dx := -1; dx <= 1; dx++ {
					if !corners && dx != 0 && dy != 0 || x+dx < 0 || x+dx >= width || y+dy < 0 || y+dy >= height {
						continue
					}
					if j := i + dy*width + dx; mask[j] && label[j] == 0 {
						label[j] = id
						todo = append(todo, int32(j))
					}
				}
			}
		}
	}
	return label, sizes
}

// neck is how narrow, as a share of the smaller one's radius, the way between two lobes of a patch must be for them to be
// two parts: objects that touch have a narrow way between them, one object seldom has.
const neck = 0.6

// patches cuts a mask into parts at its necks. The distance to the outside is a landscape whose summits are the middles
// of the parts; going down from the summits, two parts that meet stay two if both have come down far enough (a watershed
// by immersion).
func patches(mask []bool, width, height, level int) []*part {
	outside := make([]int32, len(mask))
	var order []int32
	for i, set := range mask {
		if set {
			order = append(order, int32(i))
		} else {
			outside[i] = 1
		}
	}
	if len(order) == 0 || len(order) == len(mask) {
		return nil
	}
	squared, _ := nearest(outside, width, height)
	slices.SortFunc(order, func(a, b int32) int {
		if squared[a] != squared[b] {
			return cmp.Compare(squared[b], squared[a])
		}
		return cmp.Compare(a, b)
	})
	basin := make([]int32, len(mask)) // 0 for none yet
	joined := []int32{0}              // by basin: the one it was joined to
	summit := []int32{0}              // by basin: its largest squared distance
	root := func(b int32) int32 {
		for joined[b] != b {
			joined[b] = joined[joined[b]]
			b = joined[b]
		}
		return b
	}
	for _, i := range order {
		x, y := int(i)%width, int(i)/width
		best := int32(0)
		for dy := -1; dy <= 1; dy++ {
			for dx := -1; dx <= 1; dx++ {
				if x+dx < 0 || x+dx >= width || y+dy < 0 || y+dy >= height {
					continue
				}
				other := basin[int(i)+dy*width+dx]
				if other == 0 {
					continue
				}
				other = root(other)
				switch {
				case best == 0:
					best = other
				case other != best:
					high, low := best, other
					if summit[low] > summit[high] || summit[low] == summit[high] && low < high {
						high, low = low, high
					}
					if float64(squared[i]) > neck*neck*float64(summit[low]) || float64(summit[low]) < leastRadius*leastRadius {
						joined[low] = high
					}
					best = high
				}
			}
		}
		if best == 0 {
			best = int32(len(joined))
			joined, summit = append(joined, best), append(summit, squared[i])
		}
		basin[i] = best
	}
	// Tails are left off: what no disc of a third of the part's own radius covers that fits into it.
	inner := make([]int32, len(mask))
	tail := func(b int32) float64 { return float64(summit[b]) / 9 }
	for i := range basin {
		if basin[i] != 0 {
			basin[i] = root(basin[i])
			if float64(squared[i]) >= tail(basin[i]) {
				inner[i] = basin[i]
			}
		}
	}
	away, owner := nearest(inner, width, height)
	byBasin := make([][]int32, len(joined))
	for i, b := range basin {
		if b != 0 && owner[i] == b && float64(away[i]) <= max(tail(b), 2) {
			byBasin[b] = append(byBasin[b], int32(i))
		}
	}
	var out []*part
	for b, pixels := range byBasin {
		if pixels != nil && float64(summit[b]) >= leastRadius*leastRadius {
			out = append(out, newPart(level, pixels, width, squared))
		}
	}
	slices.SortStableFunc(out, func(a, b *part) int { return cmp.Compare(b.area(), a.area()) })
	return out
}
