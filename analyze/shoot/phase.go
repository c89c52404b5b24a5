package shoot

import (
	"math"
	"math/bits"

	"gonum.org/v1/gonum/dsp/fourier"
)

// Phase correlation (Kuglin and Hines 1975; the outline is common practice): where a picture has moved, each
// frequency's phase turns in proportion. The turned phases alone, all at one height, transform back to a peak at
// the shift. Both pictures are windowed, and their local mean is removed first.
//
// Fine frequencies of a photo are noise, and would drown the peak. They are weighed down by a Gaussian, which
// makes the peak about two pixels wide, so that a shift by half a pixel lowers it little.

// passBand is the standard deviation of that Gaussian, in cycles a pixel: the peak's is 1/(2 pi passBand), just
// above a pixel.
const passBand = 0.15

// transform does Fourier transforms of n x n values, n a power of 2.
type transform struct{ n int }

// forward transforms data in place. The result is transposed: columns of frequencies lie in rows.
func (t transform) forward(data []complex128) {
	t.both(data, fourier.CoefficientsRadix2, fourier.CoefficientsRadix4)
}

// inverse undoes forward, times n*n.
func (t transform) inverse(data []complex128) {
	t.both(data, fourier.SequenceRadix2, fourier.SequenceRadix4)
}

func (t transform) both(data []complex128, two, four func([]complex128) []complex128) {
	along := two
	if bits.TrailingZeros(uint(t.n))%2 == 0 { // a power of 4
		along = four
	}
	for y := range t.n {
		along(data[y*t.n:][:t.n])
	}
	t.transpose(data)
	for y := range t.n {
		along(data[y*t.n:][:t.n])
	}
}

func (t transform) transpose(data []complex128) {
	const block = 16 // fits the cache
	for y0 := 0; y0 < t.n; y0 += block {
		for x0 := y0; x0 < t.n; x0 += block {
			for y := y0; y < min(y0+block, t.n); y++ {
				for x := max(x0, y+1); x < min(x0+block, t.n); x++ {
					data[y*t.n+x], data[x*t.n+y] = data[x*t.n+y], data[y*t.n+x]
				}
			}
		}
	}
}

// spectrum is the transform of a picture's detail.
type spectrum struct {
	values []complex128
	weight float64 // sum of the squares of the window: noise of variance v has power v*weight at each frequency
}

// aboveNoise is how many times the noise's power a frequency of the base plate must have to be counted: the power
// of noise alone passes it at one frequency in three thousand.
const aboveNoise = 8

// leastFrequencies is how many frequencies, as weighed, must be counted for a peak to mean anything.
const leastFrequencies = 10

// peak is where the correlation of two pictures is highest.
type peak struct {
	x, y   int     // shift in whole pixels
	height float64 // 1 for the same picture
}

// weigher gives each frequency of the base plate its weight: none where noise of the given variance may be all it holds.
func (t transform) weigher(base spectrum, variance float64) func(x, y int) float64 {
	weights := make([]float64, t.n)
	for i := range weights {
		f := float64(min(i, t.n-i)) / float64(t.n)
		weights[i] = math.Exp(-f * f / (2 * passBand * passBand))
	}
	noise := variance * base.weight
	return func(x, y int) float64 {
		power := squared(base.values[y*t.n+x])
		if power <= aboveNoise*noise || power == 0 {
			return 0
		}
		return float64(weights[x]*weights[y]) * (1 - noise/power)
	}
}

// counted is how many frequencies of the base plate are counted, as weighed.
func (t transform) counted(base spectrum, variance float64) float64 {
	weight, total := t.weigher(base, variance), 0.0
	for y := range t.n {
		for x := range t.n {
			total += weight(x, y)
		}
	}
	return total
}

// correlate finds by how much the picture with spectrum photo has moved right and down against the one with
// spectrum base, whose noise has the given variance, up to reach pixels. photo is overwritten.
func (t transform) correlate(base, photo spectrum, variance float64, reach int) peak {
	values, total := photo.values, 0.0
	weight := t.weigher(base, variance)
	for y := range t.n {
		for x := range t.n {
			i := y*t.n + x
			b := base.values[i]
			cross := values[i] * complex(real(b), -imag(b))
			size := math.Sqrt(squared(cross))
			w := weight(x, y)
			if w == 0 || size == 0 {
				values[i] = 0
				continue
			}
			total += w
			values[i] = cross * complex(w/size, 0)
		}
	}
	if total < leastFrequencies {
		return peak{}
	}
	t.inverse(values)
	best := peak{height: -1}
	reach = min(reach, t.n/2-1)
	for y := -reach; y <= reach; y++ {
		for x := -reach; x <= reach; x++ {
			// Rounded, so that of peaks of equal height every processor takes the first.
			height := math.Round(real(values[(y+t.n)%t.n*t.n+(x+t.n)%t.n])/total*1e6) / 1e6
			if height > best.height {
				best = peak{x, y, height}
			}
		}
	}
	return best
}

func squared(c complex128) float64 {
	return float64(real(c)*real(c)) + float64(imag(c)*imag(c))
}

// look gives the spectrum of a picture's detail: brightness less its mean over the neighbourhood, counted only
// where use is, fading out towards where it is not. use is 0 or 1 for each of n x n pixels.
func (t transform) look(luma []int32, use []uint8) spectrum {
	n := t.n
	weighted := make([]int32, n*n)
	counted := make([]int32, n*n)
	for i, u := range use {
		weighted[i], counted[i] = luma[i]*int32(u), int32(u)
	}
	radius := max(n/16, 2)
	sums, counts := boxSums(weighted, n, n, radius), boxSums(counted, n, n, radius)
	near := boxSums(counted, n, n, max(n/32, 1))
	side := float64(2*max(n/32, 1) + 1)
	window := make([]float64, n)
	for i := range window {
		window[i] = 0.5 - 0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/float64(n)) // Hann
	}
	out := spectrum{values: make([]complex128, n*n)}
	for y := range n {
		for x := range n {
			i := y*n + x
			if use[i] == 0 {
				continue
			}
			// Of a neighbourhood that is half outside, nothing counts; of one that is whole, all.
			fade := max(2*float64(near[i])/float64(side*side)-1, 0)
			mean := float64(sums[i]) / float64(counts[i])
			share := fade * window[x] * window[y]
			out.values[i] = complex((float64(luma[i])-mean)*share, 0)
			out.weight += float64(share * share)
		}
	}
	t.forward(out.values)
	return out
}

// boxSums is the sum over the square of 2*radius+1 pixels around each pixel; outside the picture lies nothing.
func boxSums(values []int32, width, height, radius int) []int64 {
	across := make([]int64, width*height)
	for y := range height {
		row, out := values[y*width:][:width], across[y*width:][:width]
		var sum int64
		for x := range min(radius, width) {
			sum += int64(row[x])
		}
		for x := range width {
			if x+radius < width {
				sum += int64(row[x+radius])
			}
			if x-radius-1 >= 0 {
				sum -= int64(row[x-radius-1])
			}
			out[x] = sum
		}
	}
	out := make([]int64, width*height)
	sums := make([]int64, width)
	add := func(y int, sign int64) {
		if y >= 0 && y < height {
			for x, v := range across[y*width:][:width] {
				sums[x] += sign * v
			}
		}
	}
	for y := range min(radius, height) {
		add(y, 1)
	}
	for y := range height {
		add(y+radius, 1)
		add(y-radius-1, -1)
		copy(out[y*width:], sums)
	}
	return out
}
