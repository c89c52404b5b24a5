package shoot

import "sort"

// noiseBlock is the side of the squares among which the flattest are looked for.
const noiseBlock = 8

// flattest is which share of the squares is taken to hold nothing but noise. Of squares that all hold the same noise
// the flattest have, by chance, less than the mean: flattestHas of it, as simulated.
const (
	flattest    = 0.15
	flattestHas = 0.83
)

// roundingNoise is the standard deviation that rounding to whole steps leaves: one over the root of 12.
const roundingNoise = 0.2887

// noiseOf is the standard deviation of a tile's noise in 8-bit steps of one channel. J. Immerkaer, Fast Noise
// Variance Estimation, Computer Vision and Image Understanding 64 (1996): the difference of two Laplacians sees no
// edges; its mean magnitude times sqrt(pi/2)/6 is the standard deviation. It is taken from the flattest squares.
func noiseOf(luma []int32, use []uint8, n int) float64 {
	var found []float64
	for y := 1; y+noiseBlock < n; y += noiseBlock {
		for x := 1; x+noiseBlock < n; x += noiseBlock {
			var sum int32
			whole := true
			for j := y; j < y+noiseBlock && whole; j++ {
				for i := x; i < x+noiseBlock; i++ {
					at := j*n + i
					if use[at] == 0 {
						whole = false
						break
					}
					v := luma[at-n-1] + luma[at-n+1] + luma[at+n-1] + luma[at+n+1] - 2*(luma[at-n]+luma[at+n]+luma[at-1]+luma[at+1]) + 4*luma[at]
					sum += max(v, -v)
				}
			}
			if whole {
				found = append(found, float64(sum)/(noiseBlock*noiseBlock))
			}
		}
	}
	if len(found) == 0 {
		return 0
	}
	sort.Float64s(found)
	// luma is red + 2 green + blue: noise that is equal and independent in each grows by the root of 6.
	const scale = 1.2533141373155 / 6 / 2.449489742783178
	return found[int(float64(len(found))*flattest)] * scale / flattestHas
}

// lumaVariance is the variance of luma under noise of the given steps in each channel, which is independent in
// red, twice green and blue.
func lumaVariance(noise float64) float64 {
	return 6 * (float64(noise*noise) + float64(roundingNoise*roundingNoise))
}

// detailOf is the mean square of the slopes, in luma units, over pixels that are still in both pictures and have
// neighbours that are.
func detailOf(luma []int32, use []uint8, n int) float64 {
	var sum, count int64
	for y := 1; y < n-1; y++ {
		for x := 1; x < n-1; x++ {
			at := y*n + x
			if use[at]&use[at-1]&use[at+1]&use[at-n]&use[at+n] == 0 {
				continue
			}
			gx, gy := int64(luma[at+1]-luma[at-1]), int64(luma[at+n]-luma[at-n])
			sum += gx*gx + gy*gy
			count++
		}
	}
	if count == 0 {
		return 0
	}
	return float64(sum) / float64(count)
}

// leastSharpness is that of a photo that shows none of the detail.
const leastSharpness = 0.001

// sharpness compares the detail of tiles in a photo and in the base plate, noise taken off: 1 is as sharp, less
// is softer. It is 0 when there is no detail to compare.
func sharpness(matches []match) float64 {
	base, photo, noise := 0.0, 0.0, 0.0
	for _, m := range matches {
		n := m.tile.n
		// Four pixels make the slopes along both axes.
		b := detailOf(m.tile.luma, m.use, n) - 4*lumaVariance(m.tile.noise)
		grain := 4 * lumaVariance(noiseOf(m.luma, m.use, n))
		p := (detailOf(m.luma, m.use, n) - grain) / float64(m.gain*m.gain)
		base, photo, noise = base+max(b, 0), photo+max(p, 0), noise+grain/float64(m.gain*m.gain)
	}
	if base == 0 || base < noise/2 { // its detail drowns in the noise
		return 0
	}
	return max(rounded(squareRoot(photo/base), 1000), leastSharpness)
}
