package shoot

import (
	"math"

	"colonnade/compose/picture"
)

const (
	// refineSteps is how often a shift is refined; three steps settle it, as a rule.
	refineSteps = 6
	// farthestRefined is how far, in pixels, refining may go from the correlation's peak before it is taken to be lost.
	farthestRefined = 2
	// tileWithin is the standard deviation, in pixels, within which a tile must know its shift to be counted, knownWithin that
	// of all together for the shift to be trusted.
	tileWithin, knownWithin = 0.2, 0.1
	// smoothedNeighbours is over how many pixels the binomial kernel spreads the noise of one: 1 over the sum of
	// its squared weights, (256/70)^2.
	smoothedNeighbours = 13.4
)

// match is where a tile of the base plate was found in a photo.
type match struct {
	tile      *tile
	dx, dy    int64   // right and down, in moveUnit
	height    float64 // of the correlation's peak
	deviation float64 // standard deviation of dx and dy, in pixels, the larger of both
	gain      float64 // of the photo's codes against the base plate's
	luma      []int32 // of the photo, moved back by whole pixels
	use       []uint8 // the pixels at hand in both
	found     bool
	// left is what the photo differs by from the tile when moved back, inPlace when it is left where it is: mean
	// magnitudes in units of smooth.
	left, inPlace int64
}

// find looks for a tile in a photo, around (atX, atY) pixels right and down of its place.
func (t *tile) find(photo *picture.Picture, atX, atY int) match {
	m := match{tile: t}
	transform := transform{t.n}
	patch := lumaPatch(photo, t.x+atX, t.y+atY, t.n)
	m.luma, m.use = inner(patch, t.n), t.within(photo, atX, atY)
	p := transform.correlate(t.spectrum, transform.look(m.luma, m.use), lumaVariance(t.noise), t.n/4)
	m.height = p.height
	if p.x != 0 || p.y != 0 {
		atX, atY = atX+p.x, atY+p.y
		patch = lumaPatch(photo, t.x+atX, t.y+atY, t.n)
		m.luma, m.use = inner(patch, t.n), t.within(photo, atX, atY)
	}
	f := newFit(t, patch, m.use)
	dx, dy, deviation := f.refine()
	m.dx, m.dy, m.deviation = int64(atX)*moveUnit+dx, int64(atY)*moveUnit+dy, deviation
	if m.found = m.height >= minConfidence && m.deviation <= tileWithin; !m.found {
		return m
	}
	m.gain = 65536 / float64(f.back)
	m.left = f.mean(dx, dy)
	if m.inPlace = m.left; m.dx != 0 || m.dy != 0 {
		unmoved := newFit(t, lumaPatch(photo, t.x, t.y, t.n), m.use)
		unmoved.back, unmoved.offset = f.back, f.offset
		m.inPlace = unmoved.mean(0, 0)
	}
	return m
}

// within is the tile's still pixels that lie in the photo when moved by (atX, atY).
func (t *tile) within(photo *picture.Picture, atX, atY int) []uint8 {
	use := make([]uint8, len(t.use))
	for y := range t.n {
		if v := t.y + y + atY; v < 0 || v >= photo.Height {
			continue
		}
		from, to := max(0, -t.x-atX), min(t.n, photo.Width-t.x-atX)
		if from < to {
			copy(use[y*t.n+from:y*t.n+to], t.use[y*t.n+from:y*t.n+to])
		}
	}
	return use
}

// fit is one tile being refined.
type fit struct {
	tile  *tile
	wide  []int32 // smoothed photo
	side  int
	use   []uint8
	every int // rows looked at: each, or each second

	moved     []int32 // the photo moved back by the present shift
	back      int64   // the photo's contrast is brought to the base plate's by back/65536
	offset    int64
	deviation int64 // of what is left over, in units of smooth
	begun     bool  // back, offset and deviation are known
}

func newFit(t *tile, patch []int32, use []uint8) *fit {
	f := &fit{tile: t, use: use, every: max(t.n/256, 1), back: 1 << 16, moved: make([]int32, t.n*t.n)}
	f.wide, f.side = smoothed(patch, t.n+2*tileMargin)
	return f
}

// refine finds the fraction of a pixel by which the photo still lies off the tile: the least squares of what is left
// over, by Gauss and Newton's steps with the tile's slopes (Lucas and Kanade 1981; Baker and Matthews 2004 for slopes
// taken once). Pixels that differ by more than noise and a shift by a pixel explain are not counted: something else
// has changed there. deviation is infinite where the shift can not be told.
func (f *fit) refine() (dx, dy int64, deviation float64) {
	lost := math.Inf(1)
	reach := int32(2) // halves of a pixel
	for step := range refineSteps {
		f.move(dx, dy)
		if !f.level(reach) {
			return dx, dy, lost
		}
		s := f.sums(reach)
		determinant := float64(s.xx*s.yy) - float64(s.xy*s.xy)
		if lesserEigenvalue(s.xx, s.xy, s.yy) <= 1e-6*(s.xx+s.yy) {
			return dx, dy, lost
		}
		moveX := int64(math.Round(-2 * (float64(s.yy*s.xe) - float64(s.xy*s.ye)) / determinant * moveUnit))
		moveY := int64(math.Round(-2 * (float64(s.xx*s.ye) - float64(s.xy*s.xe)) / determinant * moveUnit))
		dx, dy = dx+moveX, dy+moveY
		if max(dx, -dx, dy, -dy) > farthestRefined*moveUnit {
			return 0, 0, lost
		}
		spread := float64(f.deviation*f.deviation) * smoothedNeighbours / float64(f.every) * 4
		deviation = math.Sqrt(spread * max(s.xx, s.yy) / determinant)
		if step >= 2 && max(moveX, -moveX, moveY, -moveY) <= 1 {
			break
		}
		if step >= 1 {
			reach = 1
		}
	}
	return dx, dy, deviation
}

// mean is the mean magnitude of what is left over when the photo is moved back by dx and dy.
func (f *fit) mean(dx, dy int64) int64 {
	f.move(dx, dy)
	var sum, n int64
	for y := 0; y < f.tile.n; y += f.every {
		for x := range f.tile.n {
			if i := y*f.tile.n + x; f.use[i] != 0 {
				left := int64(f.left(i))
				sum, n = sum+max(left, -left), n+1
			}
		}
	}
	return sum / max(n, 1)
}

func (f *fit) move(dx, dy int64) {
	n := f.tile.n
	atX, wx := cubic(dx)
	atY, wy := cubic(dy)
	margin := (f.side - n) / 2
	line := make([]int64, n+3)
	for y := 0; y < n; y += f.every {
		at := (y+margin+atY)*f.side + margin + atX
		r0, r1, r2, r3 := f.wide[at:][:n+3], f.wide[at+f.side:][:n+3], f.wide[at+2*f.side:][:n+3], f.wide[at+3*f.side:][:n+3]
		for x := range line {
			line[x] = wy[0]*int64(r0[x]) + wy[1]*int64(r1[x]) + wy[2]*int64(r2[x]) + wy[3]*int64(r3[x])
		}
		out := f.moved[y*n:][:n]
		for x := range out {
			sum := wx[0]*line[x] + wx[1]*line[x+1] + wx[2]*line[x+2] + wx[3]*line[x+3]
			out[x] = int32((sum + moveUnit*moveUnit/2) >> 20)
		}
	}
}

// left is what the photo differs by at pixel i.
func (f *fit) left(i int) int32 {
	return int32(((int64(f.moved[i])-f.offset)*f.back)>>16) - f.tile.smooth[i]
}

// explained is whether what is left over at pixel i may come from noise and a shift by reach/2 pixels.
func (f *fit) explained(i int, left, reach int32) bool {
	t := f.tile
	limit := 3*int32(f.deviation) + (max(t.slopeX[i], -t.slopeX[i])+max(t.slopeY[i], -t.slopeY[i]))*reach/4
	return left <= limit && left >= -limit
}

// level brings the photo's contrast and brightness to the tile's, and finds the deviation of what is left over.
func (f *fit) level(reach int32) bool {
	t := f.tile
	if f.begun { // and outliers can be told
		f.levelBy(func(i int) bool { return f.explained(i, f.left(i), reach) })
	} else {
		f.levelBy(func(int) bool { return true })
	}
	if f.back < 1<<14 || f.back > 1<<18 {
		return false
	}
	const bin = 4 // log2 of the width of a bin
	counts := make([]int32, 1020*256>>bin)
	total := int32(0)
	for y := 0; y < t.n; y += f.every {
		for x := range t.n {
			if i := y*t.n + x; f.use[i] != 0 {
				left := f.left(i)
				counts[min(int(max(left, -left))>>bin, len(counts)-1)]++
				total++
			}
		}
	}
	if total == 0 {
		return false
	}
	seen := int32(0)
	for i, count := range counts {
		if seen += count; 2*seen >= total {
			// 1.4826 times the median is the standard deviation of what is spread normally.
			f.deviation = int64(i<<bin+1<<(bin-1)) * 14826 / 10000
			f.begun = true
			break
		}
	}
	return true
}

func (f *fit) levelBy(counts func(i int) bool) {
	t := f.tile
	var n, a, b, aa, ab int64
	for y := 0; y < t.n; y += f.every {
		for x := range t.n {
			i := y*t.n + x
			if f.use[i] == 0 || !counts(i) {
				continue
			}
			u, v := int64(t.smooth[i]), int64(f.moved[i])
			n, a, b, aa, ab = n+1, a+u, b+v, aa+u*u, ab+u*v
		}
	}
	if n == 0 {
		f.back = 0
		return
	}
	count := float64(n)
	meanA, meanB := float64(a)/count, float64(b)/count
	spread := float64(aa)/count - float64(meanA*meanA)
	slope := 1.0
	if spread > 0 {
		slope = (float64(ab)/count - float64(meanA*meanB)) / spread
	}
	if !(slope > 0.01) {
		f.back = 0
		return
	}
	f.back = int64(math.Round(65536 / slope))
	f.offset = int64(math.Round(meanB - float64(slope*meanA)))
}

// sums are those of the least squares: products of the slopes, and of the slopes and what is left over.
type sums struct{ xx, xy, yy, xe, ye float64 }

func (f *fit) sums(reach int32) sums {
	t := f.tile
	var xx, xy, yy, xe, ye int64
	for y := 0; y < t.n; y += f.every {
		for x := range t.n {
			i := y*t.n + x
			if f.use[i] == 0 {
				continue
			}
			left := f.left(i)
			if !f.explained(i, left, reach) {
				continue
			}
			gx, gy, e := int64(t.slopeX[i]), int64(t.slopeY[i]), int64(left)
			xx, xy, yy, xe, ye = xx+gx*gx, xy+gx*gy, yy+gy*gy, xe+gx*e, ye+gy*e
		}
	}
	return sums{float64(xx), float64(xy), float64(yy), float64(xe), float64(ye)}
}
