package shoot

import (
	"math"
	"sort"
)

const (
	// lightBlock is the side, in reduced pixels, of the squares whose light is compared: the mean of many pixels has
	// little noise.
	lightBlock = 4
	// leastBlocks are enough for a median that a few that move do not sway.
	leastBlocks = 12
	// outlier is how many standard deviations from the median a square may lie; beyond, something has changed there.
	outlier = 3
	// leastSpread is the least standard deviation assumed, as a share of the light: rounding to 8 bits leaves as much.
	leastSpread = 0.001
)

// darkest are the codes below which a square is left out, the first for which enough squares remain. In the
// dark an 8-bit step is a large share of the light, and noise alone makes the mean of the light too bright.
var darkest = []int{40, 20, 8}

// comparison is a photo's light against the base plate's.
type comparison struct {
	ratio    [3]float64 // by channel
	luminous float64    // of the luminance
	uneven   float64    // see Measure
	trusted  bool
}

// compareLight compares where use is not 0. photo lies in the base plate's place. noise is that of both, in 8-bit steps.
func compareLight(base, photo *reduced, use []uint8, noise [2]float64, table []uint16) comparison {
	none := comparison{ratio: [3]float64{1, 1, 1}, luminous: 1}
	block := lightBlock
	for block > 1 && (base.width/block)*(base.height/block) < 4*leastBlocks*block {
		block /= 2
	}
	for _, dark := range darkest {
		squares := lightSquares(base, photo, use, block, uint16(dark*codeUnit), table)
		if len(squares) < leastBlocks {
			continue
		}
		out := comparison{trusted: true}
		ratios := make([]float64, len(squares))
		var doubt [3]float64
		for c := range 4 {
			for i, s := range squares {
				ratios[i] = s.ratio(c)
			}
			value, unsure := trimmedMean(ratios)
			if c < 3 {
				out.ratio[c], doubt[c] = value, unsure+noiseBias(squares, c, block, noise, table)
			} else {
				out.luminous = value
			}
		}
		// What is not known to be a tint is none: dark blue that is mostly noise would else tint the whole photo.
		for c := range out.ratio {
			if math.Abs(out.ratio[c]/out.luminous-1) <= doubt[c] {
				out.ratio[c] = out.luminous
			}
		}
		out.uneven = unevenness(squares, base.width, base.height)
		return out
	}
	return none
}

// square is the light of one square in both pictures; the fourth is the luminance (IEC 61966-2-1's weights,
// in ten thousandths).
type square struct {
	x, y        int // its place, in reduced pixels
	base, photo [4]int64
}

func (s square) ratio(channel int) float64 {
	return float64(s.photo[channel]) / float64(s.base[channel])
}

func lightSquares(base, photo *reduced, use []uint8, block int, dark uint16, table []uint16) []square {
	var out []square
	for y := 0; y+block <= base.height; y += block {
		for x := 0; x+block <= base.width; x += block {
			s := square{x: x, y: y}
			if s.fill(base, photo, use, block) && s.bright(block, dark, table) {
				out = append(out, s)
			}
		}
	}
	return out
}

func (s *square) fill(base, photo *reduced, use []uint8, block int) bool {
	for y := s.y; y < s.y+block; y++ {
		for x := s.x; x < s.x+block; x++ {
			i := y*base.width + x
			if use[i] == 0 || base.burnt[i] != 0 || photo.burnt[i] != 0 {
				return false
			}
			for c := range 3 {
				s.base[c] += int64(base.light[c][i])
				s.photo[c] += int64(photo.light[c][i])
			}
		}
	}
	s.base[3] = 2126*s.base[0] + 7152*s.base[1] + 722*s.base[2]
	s.photo[3] = 2126*s.photo[0] + 7152*s.photo[1] + 722*s.photo[2]
	return true
}

// bright is whether each channel is above the darkest code wanted.
func (s *square) bright(block int, dark uint16, table []uint16) bool {
	for c := range 3 {
		if n := int64(block * block); table[s.base[c]/n] < dark || table[s.photo[c]/n] < dark {
			return false
		}
	}
	return true
}

// noiseBias is by which share noise makes a channel of the photo seem brighter than the base plate, at the most: the mean light
// of codes that are spread by n around c is 1.2 x 1.4 (n/c)^2 brighter than that of c, by the second derivative of a power of
// 2.4, and more where codes are cut off at 0.
func noiseBias(squares []square, channel, block int, noise [2]float64, table []uint16) float64 {
	sum := 0.0
	for _, s := range squares {
		code := float64(table[s.base[channel]/int64(block*block)]) / codeUnit
		sum += 1.68 * math.Abs(float64(noise[1]*noise[1])-float64(noise[0]*noise[0])) / float64(code*code)
	}
	return sum / float64(len(squares))
}

// unsure is how many standard deviations of a mean it may be off: squares beside each other share what compression did.
const unsure = 8

// trimmedMean is the mean of what lies near the median: outliers are cut off until none are left. doubt is by how much of
// itself it may be off.
func trimmedMean(values []float64) (mean, doubt float64) {
	kept := append([]float64(nil), values...)
	sort.Float64s(kept)
	for range 20 {
		median := kept[len(kept)/2]
		apart := make([]float64, len(kept))
		for i, v := range kept {
			apart[i] = math.Abs(v - median)
		}
		sort.Float64s(apart)
		// 1.4826 times the median of the distances is the standard deviation of what is spread normally.
		limit := outlier * max(1.4826*apart[len(apart)/2], leastSpread*median)
		from := sort.SearchFloat64s(kept, median-limit)
		to := sort.SearchFloat64s(kept, math.Nextafter(median+limit, math.Inf(1)))
		if from == 0 && to == len(kept) {
			break
		}
		kept = kept[from:to]
	}
	sum := 0.0
	for _, v := range kept {
		sum += v
	}
	mean = sum / float64(len(kept))
	squares := 0.0
	for _, v := range kept {
		squares += float64((v - mean) * (v - mean))
	}
	return mean, unsure * squareRoot(squares) / float64(len(kept)) / mean
}

// zones are the parts, along each axis, whose light is compared to tell whether it has changed evenly.
const zones = 3

// unevenness is the span of the zones' light, in stops, less what their own spread explains.
func unevenness(squares []square, width, height int) float64 {
	var ratios [zones * zones][]float64
	for _, s := range squares {
		zone := s.y*zones/height*zones + s.x*zones/width
		ratios[zone] = append(ratios[zone], s.ratio(3))
	}
	least, most := math.Inf(1), math.Inf(-1)
	for _, zone := range ratios {
		if len(zone) < leastBlocks {
			continue
		}
		sort.Float64s(zone)
		n := len(zone)
		// The middle's own uncertainty: the quartiles' span over the root of the count.
		doubt := 3 * (zone[3*n/4] - zone[n/4]) / math.Sqrt(float64(n))
		least, most = min(least, zone[n/2]+doubt), max(most, zone[n/2]-doubt)
	}
	if !(most > least) {
		return 0
	}
	return rounded(stops(most/least), 1000)
}

// stops is a ratio of light in stops, rounded to a thousandth of what is asked of it.
func stops(ratio float64) float64 { return rounded(math.Log2(ratio), 100_000) }

// rounded is v in whole parts of 1/per, so that every processor goes on with the same.
func rounded(v, per float64) float64 { return math.Round(v*per) / per }

func squareRoot(v float64) float64 { return math.Sqrt(max(v, 0)) }
