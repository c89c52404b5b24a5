package shoot

import (
	"math"

	"colonnade/compose/light"
	"colonnade/compose/picture"
)

// maxReduced is the most pixels of a reduced photo. A stone of a hundredth of the picture still has 6000 of
// them, and a hundred photos fit into memory.
const maxReduced = 600_000

// lightUnit is the light of code 255 in a reduced photo, which has 16 bits a channel.
const lightUnit = light.One >> 8

// codeUnit is the steps to a code in a reduced photo's codes: averages of many pixels know more than whole codes.
const codeUnit = 64

// reduced is a photo shrunk by a whole factor: each pixel is the mean light of factor x factor pixels.
type reduced struct {
	width, height int
	light         [3][]uint16 // 0 to lightUnit
	burnt, black  []uint16    // how many of the pixels have a channel at 255; all channels at 0
}

func reductionFactor(width, height int) int {
	factor := 1
	for (width/factor)*(height/factor) > maxReduced {
		factor++
	}
	return factor
}

// reduce shrinks a photo of which what lies dx and dy pixels right and down is brought back; past its border the nearest pixel
// counts. Pixels that do not fill a whole pixel of the result, at the right and the bottom, are left out.
func reduce(photo *picture.Picture, dx, dy, factor int, curve *light.Curve) *reduced {
	r := newReduced(photo.Width/factor, photo.Height/factor)
	line := make([]uint8, 3*photo.Width)
	sums := make([]uint64, 3*r.width)
	n := uint64(factor * factor)
	for y := range r.height {
		clear(sums)
		burnt, black := r.burnt[y*r.width:][:r.width], r.black[y*r.width:][:r.width]
		for row := y * factor; row < (y+1)*factor; row++ {
			source := photo.Row(clamp(row+dy, photo.Height))
			if dx != 0 {
				for x := range photo.Width {
					copy(line[3*x:3*x+3], source[3*clamp(x+dx, photo.Width):])
				}
				source = line
			}
			for x := range r.width {
				var red, green, blue uint64
				for range factor {
					p := source[:3:3]
					source = source[3:]
					red += uint64(curve.Linear[p[0]])
					green += uint64(curve.Linear[p[1]])
					blue += uint64(curve.Linear[p[2]])
					if p[0] == 255 || p[1] == 255 || p[2] == 255 {
						burnt[x]++
					} else if p[0]|p[1]|p[2] == 0 {
						black[x]++
					}
				}
				sums[3*x] += red
				sums[3*x+1] += green
				sums[3*x+2] += blue
			}
		}
		for x := range r.width {
			for c := range 3 {
				r.light[c][y*r.width+x] = uint16((sums[3*x+c]/n + 128) >> 8)
			}
		}
	}
	return r
}

func newReduced(width, height int) *reduced {
	r := &reduced{width: width, height: height, burnt: make([]uint16, width*height), black: make([]uint16, width*height)}
	for c := range r.light {
		r.light[c] = make([]uint16, width*height)
	}
	return r
}

// codeTable gives the code of a light from 0 to lightUnit, in codeUnit steps a code.
func codeTable(curve *light.Curve) []uint16 {
	table := make([]uint16, lightUnit+1)
	code := 0
	for i := range table {
		linear := int64(i) << 8
		for code < 254 && int64(curve.Linear[code+1]) <= linear {
			code++
		}
		low, high := int64(curve.Linear[code]), int64(curve.Linear[code+1])
		part := (max(linear-low, 0)*codeUnit + (high-low)/2) / max(high-low, 1)
		table[i] = uint16(int64(code)*codeUnit + min(part, codeUnit))
	}
	return table
}

// codes is a photo as codes, in codeUnit steps.
type codes [3][]uint16

// codes gives the photo's codes, its light divided by gains first.
func (r *reduced) codes(table []uint16, gains [3]int64) codes {
	var out codes
	for c := range out {
		out[c] = make([]uint16, len(r.light[c]))
		for i, v := range r.light[c] {
			out[c][i] = table[min((int64(v)*GainUnit+gains[c]/2)/gains[c], lightUnit)]
		}
	}
	return out
}

// smoothed is the picture under a binomial kernel (1 2 1 along both axes), which takes away more than half of the noise.
func (c codes) smoothed(width, height int) codes {
	var out codes
	across := make([]uint32, width*height)
	for channel, values := range c {
		for y := range height {
			row, line := values[y*width:][:width], across[y*width:][:width]
			for x, v := range row {
				line[x] = uint32(row[max(x-1, 0)]) + 2*uint32(v) + uint32(row[min(x+1, width-1)])
			}
		}
		out[channel] = make([]uint16, width*height)
		for y := range height {
			up, here, down := across[max(y-1, 0)*width:], across[y*width:], across[min(y+1, height-1)*width:]
			for x := range width {
				out[channel][y*width+x] = uint16((up[x] + 2*here[x] + down[x] + 8) / 16)
			}
		}
	}
	return out
}

// luma is the brightness of pixel i, in codeUnit steps a code: a quarter red and blue each and half green, near
// enough to what the eye weighs and a whole number.
func (c codes) luma(i int) int32 {
	return (int32(c[0][i]) + 2*int32(c[1][i]) + int32(c[2][i]) + 2) / 4
}

// moved is the reduced photo with what lies at (x+dx, y+dy) brought to (x, y); dx and dy are in moveUnit steps a
// pixel. Past the border the nearest pixel counts.
func (r *reduced) moved(dx, dy int64) *reduced {
	if dx == 0 && dy == 0 {
		return r
	}
	out := newReduced(r.width, r.height)
	atX, wx := cubic(dx)
	atY, wy := cubic(dy)
	line := make([]int64, r.width)
	for y := range r.height {
		for c := range 3 {
			clear(line)
			for j, w := range wy {
				if w == 0 {
					continue
				}
				row := r.light[c][clamp(y+atY+j, r.height)*r.width:][:r.width]
				for x, v := range row {
					line[x] += w * int64(v)
				}
			}
			dst := out.light[c][y*r.width:][:r.width]
			for x := range dst {
				var sum int64
				for i, w := range wx {
					sum += w * line[clamp(x+atX+i, r.width)]
				}
				dst[x] = uint16(min(max((sum+moveUnit*moveUnit/2)/(moveUnit*moveUnit), 0), lightUnit))
			}
		}
		for x := range r.width {
			from := clamp(y+atY+1, r.height)*r.width + clamp(x+atX+1, r.width)
			out.burnt[y*r.width+x], out.black[y*r.width+x] = r.burnt[from], r.black[from]
		}
	}
	return out
}

// moveUnit is the steps of a pixel in which pictures are moved to be compared.
const moveUnit = 1024

// cubic is the place of the first of four pixels, and their weights, that give the value d/moveUnit pixels to
// the right: the kernel of R. Keys, IEEE Trans. ASSP 29 (1981), with a = -1/2. The weights sum to moveUnit.
func cubic(d int64) (first int, weights [4]int64) {
	whole := d >> 10
	t := float64(d-whole<<10) / moveUnit
	t2 := float64(t * t)
	t3 := float64(t2 * t)
	weights[0] = int64(math.Round(float64((float64(-0.5*t3) + t2 - float64(0.5*t)) * moveUnit)))
	weights[2] = int64(math.Round(float64((float64(-1.5*t3) + float64(2*t2) + float64(0.5*t)) * moveUnit)))
	weights[3] = int64(math.Round(float64((float64(0.5*t3) - float64(0.5*t2)) * moveUnit)))
	weights[1] = moveUnit - weights[0] - weights[2] - weights[3]
	return int(whole) - 1, weights
}

func clamp(i, n int) int { return min(max(i, 0), n-1) }
