package shoot

import (
	"image"
	"math"
	"math/bits"

	"colonnade/compose/light"
	"colonnade/compose/picture"
	"colonnade/masks"
)

// Base is the base plate, made ready for photos to be measured against it. It may be used by several goroutines
// at once.
type Base struct {
	size    image.Point
	columns []Column
	factor  int // photo pixels a reduced pixel
	curve   *light.Curve
	table   []uint16

	reduced  *reduced
	codes    codes
	slopes   []int32       // of the brightness, the larger along both axes, in codeUnit steps a pixel
	masks    []*masks.Mask // of the columns, in reduced pixels
	still    []uint8       // 1 where nothing should change, in reduced pixels
	near     [][]int       // the columns near each square of the grid
	overlaps []overlap

	coarse coarse
	tiles  []*tile
	noise  float64
}

// coarseSide is the most pixels of a side of it: half a pixel of the coarse picture must lie well within a tile's reach.
const coarseSide = 256

// coarse is the base plate shrunk to one tile, in which any shift is looked for first.
type coarse struct {
	factor   int // reduced pixels a pixel
	n        int
	use      []uint8
	spectrum spectrum
}

// maskSeen is the least mask value that counts as a column's: half an 8-bit step of what it lets through.
const maskSeen = masks.Full / 510

// NewBase makes a base plate ready. curve is that of the photos. columns may be empty: then all of the picture is
// taken to be still, and what changes is left out as it is found.
func NewBase(photo *picture.Picture, curve *light.Curve, columns []Column) *Base {
	b := &Base{size: image.Pt(photo.Width, photo.Height), columns: columns, curve: curve, table: codeTable(curve)}
	b.factor = reductionFactor(photo.Width, photo.Height)
	b.reduced = reduce(photo, 0, 0, b.factor, b.curve)
	b.codes = b.reduced.codes(b.table, evenGains).smoothed(b.reduced.width, b.reduced.height)
	b.slopes = slopes(b.codes, b.reduced.width, b.reduced.height)
	b.makeMasks()
	b.near, b.overlaps = b.nearColumns(b.grid()), b.findOverlaps()
	b.tiles = chooseTiles(photo, b.stillAt)
	var noise []float64
	for _, tile := range b.tiles {
		noise = append(noise, tile.noise)
	}
	b.noise = rounded(middling(noise), 100)
	b.coarse = b.shrink()
	return b
}

var evenGains = [3]int64{GainUnit, GainUnit, GainUnit}

func (b *Base) makeMasks() {
	w, h := b.reduced.width, b.reduced.height
	b.still = make([]uint8, w*h)
	for i := range b.still {
		b.still[i] = 1
	}
	rect := image.Rect(0, 0, w, h)
	for _, column := range b.columns {
		region := make(masks.Region, len(column.Region))
		for i, p := range column.Region {
			region[i] = masks.Point{X: p.X / float64(b.factor), Y: p.Y / float64(b.factor)}
		}
		mask := masks.Feathered(region, column.Feather/float64(b.factor), rect, rect)
		b.masks = append(b.masks, mask)
		// One pixel more on each side: a reduced pixel on the edge is part one, part the other.
		for y := mask.Rect.Min.Y; y < mask.Rect.Max.Y; y++ {
			for i, alpha := range mask.Row(y) {
				if alpha < maskSeen {
					continue
				}
				x := mask.Rect.Min.X + i
				for v := max(y-1, 0); v <= min(y+1, h-1); v++ {
					for u := max(x-1, 0); u <= min(x+1, w-1); u++ {
						b.still[v*w+u] = 0
					}
				}
			}
		}
	}
}

// rim is how many pixels along the photo's border are no good for slopes: the kernel would look past it.
const rim = 3

// stillAt is whether a pixel of the photo should never change, and can be used to tell a shift.
func (b *Base) stillAt(x, y int) bool {
	if min(x, y) < rim || x >= b.size.X-rim || y >= b.size.Y-rim {
		return false
	}
	x, y = x/b.factor, y/b.factor
	return x < b.reduced.width && y < b.reduced.height && b.still[y*b.reduced.width+x] != 0
}

// shrink makes the base plate one tile.
func (b *Base) shrink() coarse {
	w, h := b.reduced.width, b.reduced.height
	c := coarse{factor: (max(w, h) + coarseSide - 1) / coarseSide}
	side := max(w, h) / c.factor
	c.n = max(1<<bits.Len(uint(max(side-1, 1))), smallestTile)
	c.use = make([]uint8, c.n*c.n)
	for y := range h / c.factor {
		for x := range w / c.factor {
			c.use[y*c.n+x] = 1
			for j := range c.factor {
				for i := range c.factor {
					c.use[y*c.n+x] &= b.still[(y*c.factor+j)*w+x*c.factor+i]
				}
			}
		}
	}
	c.spectrum = transform{c.n}.look(c.luma(b.codes, w, h), c.use)
	return c
}

// variance is that of a shrunk picture's noise, in codeUnit steps: averages have little, a quarter of a step at the most.
func (c *coarse) variance() float64 { return codeUnit * codeUnit / 16 }

func (c *coarse) luma(codes codes, w, h int) []int32 {
	out := make([]int32, c.n*c.n)
	for y := range h / c.factor {
		for x := range w / c.factor {
			var sum int32
			for j := range c.factor {
				for i := range c.factor {
					sum += codes.luma((y*c.factor+j)*w + x*c.factor + i)
				}
			}
			out[y*c.n+x] = sum / int32(c.factor*c.factor)
		}
	}
	return out
}

// slopes is how much the brightness changes from pixel to pixel.
func slopes(c codes, width, height int) []int32 {
	luma := make([]int32, width*height)
	for i := range luma {
		luma[i] = c.luma(i)
	}
	out := make([]int32, width*height)
	for y := range height {
		for x := range width {
			left, right := luma[y*width+max(x-1, 0)], luma[y*width+min(x+1, width-1)]
			up, down := luma[max(y-1, 0)*width+x], luma[min(y+1, height-1)*width+x]
			dx, dy := right-left, down-up
			out[y*width+x] = max(dx, -dx, dy, -dy) / 2
		}
	}
	return out
}

// stillShare is the share of the picture in which nothing should change.
func (b *Base) stillShare() float64 {
	n := 0
	for _, s := range b.still {
		n += int(s)
	}
	return float64(n) / float64(max(len(b.still), 1))
}

// centre is the middle of a tile, seen from the middle of the picture.
func (b *Base) centre(t *tile) (x, y float64) {
	return float64(t.x) + float64(t.n)/2 - float64(b.size.X)/2, float64(t.y) + float64(t.n)/2 - float64(b.size.Y)/2
}

// move measures how the scene has moved in a photo whose reduced form is r, on the given tiles.
func (b *Base) move(photo *picture.Picture, r *reduced, tiles []*tile, m *Measure) {
	if b.same(r) {
		m.Confidence, m.ShiftTrusted, m.Sharpness, m.Noise = 1, true, 1, b.noise
		return
	}
	whole := transform{b.coarse.n}
	luma := b.coarse.luma(r.codes(b.table, evenGains), r.width, r.height)
	p := whole.correlate(b.coarse.spectrum, whole.look(luma, b.coarse.use), b.coarse.variance(), b.coarse.n/4)
	m.Confidence = p.height
	scale := b.coarse.factor * b.factor
	atX, atY := p.x*scale, p.y*scale
	if p.height < minConfidence {
		atX, atY = 0, 0
	}
	if m.Dull = len(tiles) == 0; m.Dull {
		m.Confidence = 0
		return
	}
	var matches []match
	var seen []sighting
	var heights, noise []float64
	for _, tile := range tiles {
		found := tile.find(photo, atX, atY)
		noise = append(noise, noiseOf(found.luma, found.use, tile.n))
		heights = append(heights, found.height)
		if !found.found {
			continue
		}
		x, y := b.centre(tile)
		matches = append(matches, found)
		s := sighting{x: x, y: y, dx: float64(found.dx) / moveUnit, dy: float64(found.dy) / moveUnit}
		s.weigh(found.deviation)
		seen = append(seen, s)
	}
	m.Noise = rounded(middling(noise), 100)
	if len(seen) == 0 {
		m.Shift = [2]float64{float64(atX), float64(atY)}
		m.Confidence = rounded(max(middling(heights), p.height), 1000)
		return
	}
	found, agreeing := settle(seen, float64(b.size.X)/2, float64(b.size.Y)/2)
	heights = heights[:0]
	var agreed []match
	known := 0.0
	for i, yes := range agreeing {
		if yes {
			known += seen[i].weight
			heights = append(heights, matches[i].height)
			agreed = append(agreed, matches[i])
			m.left, m.inPlace = m.left+matches[i].left, m.inPlace+matches[i].inPlace
		}
	}
	m.Confidence = rounded(middling(heights), 1000)
	m.ShiftTrusted = known >= 1/(knownWithin*knownWithin+leastVariance)
	for i, v := range [2]float64{found.x, found.y} {
		m.shift[i] = int64(math.Round(v * ShiftUnit))
		m.Shift[i] = rounded(v, 1000)
	}
	m.Rotation = rounded(found.turn*180/math.Pi, 10_000)
	m.Zoom = rounded(found.grow*100, 10_000)
	m.Corner = rounded(math.Hypot(found.turn, found.grow)*math.Hypot(float64(b.size.X), float64(b.size.Y))/2, 100)
	m.Sharpness = sharpness(agreed)
}

// narrowed are the base plate's tiles without what is not in use.
func (b *Base) narrowed(use []uint8) []*tile {
	var out []*tile
	for _, t := range b.tiles {
		narrow := *t
		if narrow.mark(func(x, y int) bool { return b.stillAt(x, y) && use[y/b.factor*b.reduced.width+x/b.factor] != 0 }) >= leastStill {
			if narrow.rate(); narrow.ready() {
				out = append(out, &narrow)
			}
		}
	}
	return out
}

// same is whether a photo equals the base plate wherever nothing should change.
func (b *Base) same(r *reduced) bool {
	for c := range 3 {
		for i, v := range r.light[c] {
			if b.still[i] != 0 && v != b.reduced.light[c][i] {
				return false
			}
		}
	}
	return true
}

// Size is the photos' size in pixels.
func (b *Base) Size() image.Point { return b.size }

// Columns are the columns that the photos are checked for.
func (b *Base) Columns() []Column { return b.columns }
