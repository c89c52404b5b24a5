package photos

import (
	"math"
	"runtime"
	"sync"

	"colonnade/compose/light"
	"colonnade/compose/picture"
)

const (
	// GainUnit is the gain of a photo that is as bright as the base plate.
	GainUnit = 1 << 16
	// ShiftUnit is the steps of a shift by one pixel.
	ShiftUnit = 64
)

// Correction says how a photo differs from the base plate, so that it can be brought to its light and place.
type Correction struct {
	Gain  [3]int64 // of the light of red, green and blue, in GainUnit; 0 for none
	Shift [2]int64 // by which the scene has moved right and down, in ShiftUnit
}

// none is whether there is nothing to correct.
func (c Correction) none() bool {
	for _, gain := range c.Gain {
		if gain != 0 && gain != GainUnit {
			return false
		}
	}
	return c.Shift == [2]int64{}
}

// whole is the shift in whole pixels, to the nearest.
func (c Correction) whole() [2]int {
	return [2]int{int((c.Shift[0] + ShiftUnit/2) >> 6), int((c.Shift[1] + ShiftUnit/2) >> 6)}
}

// Apply makes the corrected photo: its light divided by the gains, and moved back by the shift, what is not at hand
// then taken from base. Both have one size; neither is changed. All is done in light and rounded once.
func (c Correction) Apply(photo, base *picture.Picture, curve *light.Curve) *picture.Picture {
	if c.none() {
		return photo
	}
	out := picture.New(photo.Width, photo.Height)
	var even, kept [3][]int64
	for channel := range 3 {
		even[channel], kept[channel] = c.table(channel, curve)
	}
	across, down := moveTaps(c.Shift[0]), moveTaps(c.Shift[1])
	workers := min(runtime.GOMAXPROCS(0), out.Height)
	var group sync.WaitGroup
	for w := range workers {
		group.Go(func() {
			m := mover{photo: photo, base: base, out: out, even: even, kept: kept, shift: c.whole(), across: across, down: down, curve: curve}
			m.rows(out.Height*w/workers, out.Height*(w+1)/workers)
		})
	}
	group.Wait()
	return out
}

// burntFrom is the code above which a photo that is brighter than the base plate may be burnt out.
const burntFrom = 248

// table is the corrected light of each code of a channel: of a code above burntFrom first as an amount of light like any
// other, then, in kept, as one that is darkened less and less, so that white stays white.
func (c Correction) table(channel int, curve *light.Curve) (even, kept []int64) {
	gain := c.Gain[channel]
	if gain == 0 {
		gain = GainUnit
	}
	even, kept = make([]int64, 256), make([]int64, 256)
	for code := range even {
		linear := int64(curve.Linear[code])
		even[code] = min((linear*GainUnit+gain/2)/gain, light.One)
		kept[code] = even[code]
		if code > burntFrom && even[code] < linear {
			kept[code] += (linear - even[code]) * int64(code-burntFrom) / (255 - burntFrom)
		}
	}
	return even, kept
}

// burnt is the light of a sample above burntFrom. What is burnt out was at least as bright as even says. Where the base
// plate is too, the same is seen in both, and the base plate knows how bright it was. Elsewhere, on an object, nobody
// does: to make grey of white would be worse than to leave it.
func burnt(code uint8, base, even, kept int64) int64 {
	if base < even-even/burntDoubt {
		return kept
	}
	if code == 255 {
		return max(even, base)
	}
	return even
}

// burntDoubt is by which part of the light two photos of the same may differ by noise, near white.
const burntDoubt = 32

// lobes is how far the kernel reaches to each side, in pixels: three lobes of the sine keep detail that a cubic
// softens, and ring less than more would.
const lobes = 3

// moveTaps is the kernel that gives what lies shift/ShiftUnit pixels to the right: C. Duchon's (Journal of Applied
// Meteorology 18, 1979) product of two cardinal sines, after Lanczos. Its weights sum to 1<<weightBits; for whole
// pixels there is one.
func moveTaps(shift int64) taps {
	whole := int(shift >> 6)
	t := float64(shift-int64(whole)<<6) / ShiftUnit
	if t == 0 {
		return taps{whole, []int64{1 << weightBits}}
	}
	weights := make([]float64, 2*lobes)
	for i := range weights {
		x := float64(i-lobes+1) - t
		weights[i] = sinc(x) * sinc(x/lobes)
	}
	return taps{whole - lobes + 1, fixedWeights(weights)}
}

func sinc(x float64) float64 {
	if x == 0 {
		return 1
	}
	x *= math.Pi
	return math.Sin(x) / x
}

// fixedWeights are weights as whole numbers that sum to 1<<weightBits.
func fixedWeights(weights []float64) []int64 {
	sum := 0.0
	for _, w := range weights {
		sum += w
	}
	fixed := make([]int64, len(weights))
	rest, largest := int64(1<<weightBits), 0
	for i, w := range weights {
		fixed[i] = int64(math.Round(w / sum * (1 << weightBits)))
		rest -= fixed[i]
		if fixed[i] > fixed[largest] {
			largest = i
		}
	}
	fixed[largest] += rest
	return fixed
}

// mover makes rows of a corrected photo.
type mover struct {
	photo, base, out *picture.Picture
	even, kept       [3][]int64 // see Correction.table
	shift            [2]int     // the whole pixels nearest to the shift
	across, down     taps
	curve            *light.Curve

	source []int64 // a row of the photo in corrected light
}

func (m *mover) rows(from, to int) {
	width := m.photo.Width
	// Columns whose middle lies between two of the photo's: the others come from the base plate.
	first, last := inside(m.across, width)
	lines := make(map[int][]int64)
	var spare [][]int64
	sums := make([]int64, 3*width)
	m.source = make([]int64, 3*width)
	top, bottom := inside(m.down, m.photo.Height)
	for y := from; y < to; y++ {
		row := m.out.Row(y)
		copy(row, m.base.Row(y))
		if y < top || y >= bottom || first >= last {
			continue
		}
		for at, line := range lines {
			if at < y+m.down.first {
				spare = append(spare, line)
				delete(lines, at)
			}
		}
		clear(sums)
		for i, weight := range m.down.weights {
			at := y + m.down.first + i
			line := lines[at]
			if line == nil {
				if n := len(spare); n > 0 {
					line, spare = spare[n-1], spare[:n-1]
				} else {
					line = make([]int64, 3*width)
				}
				m.line(line, min(max(at, 0), m.photo.Height-1), first, last)
				lines[at] = line
			}
			for x := 3 * first; x < 3*last; x++ {
				sums[x] += weight * line[x]
			}
		}
		for x := 3 * first; x < 3*last; x++ {
			v := (sums[x] + 1<<(weightBits-1)) >> weightBits
			row[x] = m.curve.Code(uint32(min(max(v, 0), light.One)))
		}
	}
}

// inside is from where to where, along an axis of the given length, a kernel's middle lies within the photo.
func inside(t taps, length int) (first, last int) {
	before, after := t.first, t.first
	if n := len(t.weights); n > 1 {
		before, after = t.first+n/2-1, t.first+n/2 // the pixels on both sides of the middle
	}
	return max(0, -before), min(length, length-after)
}

// line moves row y of the photo across.
func (m *mover) line(line []int64, y, first, last int) {
	width := m.photo.Width
	plate := m.base.Row(min(max(y-m.shift[1], 0), m.base.Height-1))
	for i, code := range m.photo.Row(y) {
		channel := i % 3
		v := m.even[channel][code]
		if code > burntFrom {
			same := plate[3*min(max(i/3-m.shift[0], 0), width-1)+channel]
			v = burnt(code, int64(m.curve.Linear[same]), v, m.kept[channel][code])
		}
		m.source[i] = v
	}
	n := len(m.across.weights)
	for x := first; x < last; x++ {
		at := x + m.across.first
		var r, g, b int64
		if at >= 0 && at+n <= width {
			source := m.source[3*at:][:3*n]
			for i, weight := range m.across.weights {
				r += weight * source[3*i]
				g += weight * source[3*i+1]
				b += weight * source[3*i+2]
			}
		} else {
			for i, weight := range m.across.weights {
				p := 3 * min(max(at+i, 0), width-1)
				r += weight * m.source[p]
				g += weight * m.source[p+1]
				b += weight * m.source[p+2]
			}
		}
		const half = 1 << (weightBits - 1)
		line[3*x], line[3*x+1], line[3*x+2] = (r+half)>>weightBits, (g+half)>>weightBits, (b+half)>>weightBits
	}
}
