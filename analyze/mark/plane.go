package mark

import (
	"math"

	"colonnade/compose/light"
	"colonnade/compose/picture"
)

// plane is a photo at working size, in linear light from 0 to fullLight, row by row.
type plane struct {
	width, height int
	channel       [3][]uint16
}

const fullLight = 65535

// reduce averages factor x factor pixels in linear light. Those at the right and lower edge may be fewer.
func reduce(p *picture.Picture, factor int, curve *light.Curve) *plane {
	out := &plane{width: (p.Width + factor - 1) / factor, height: (p.Height + factor - 1) / factor}
	for c := range out.channel {
		out.channel[c] = make([]uint16, out.width*out.height)
	}
	sums := make([]uint64, 3*out.width)
	for y := range out.height {
		clear(sums)
		rows := min(factor, p.Height-y*factor)
		for dy := range rows {
			row := p.Row(y*factor + dy)
			for x := range out.width {
				sum := sums[3*x : 3*x+3 : 3*x+3]
				for i := 3 * x * factor; i < min(3*(x+1)*factor, len(row)); i += 3 {
					sum[0] += uint64(curve.Linear[row[i]])
					sum[1] += uint64(curve.Linear[row[i+1]])
					sum[2] += uint64(curve.Linear[row[i+2]])
				}
			}
		}
		for x := range out.width {
			whole := uint64(rows*min(factor, p.Width-x*factor)) * light.One
			for c := range out.channel {
				out.channel[c][y*out.width+x] = uint16((sums[3*x+c]*fullLight + whole/2) / whole)
			}
		}
	}
	return out
}

// picture is the plane in 8-bit codes.
func (p *plane) picture(curve *light.Curve) *picture.Picture {
	out := picture.New(p.width, p.height)
	for i := range p.width * p.height {
		for c := range p.channel {
			out.Pix[3*i+c] = curve.Code(uint32(uint64(p.channel[c][i]) * light.One / fullLight))
		}
	}
	return out
}

// smoothed is the plane averaged by 1 2 1 along both axes, which takes three fifths off the noise.
func (p *plane) smoothed() *plane {
	out := &plane{width: p.width, height: p.height}
	across := make([]uint32, p.width*p.height)
	for c, from := range p.channel {
		for y := range p.height {
			row, to := from[y*p.width:][:p.width], across[y*p.width:][:p.width]
			for x := range row {
				to[x] = uint32(row[max(x-1, 0)]) + 2*uint32(row[x]) + uint32(row[min(x+1, p.width-1)])
			}
		}
		smooth := make([]uint16, len(from))
		for y := range p.height {
			above, here, below := across[max(y-1, 0)*p.width:], across[y*p.width:], across[min(y+1, p.height-1)*p.width:]
			for x := range p.width {
				smooth[y*p.width+x] = uint16((above[x] + 2*here[x] + below[x] + 8) / 16)
			}
		}
		out.channel[c] = smooth
	}
	return out
}

// around gives the least and the largest value of each pixel's neighbourhood of 3 x 3.
func (p *plane) around() (low, high *plane) {
	low, high = &plane{width: p.width, height: p.height}, &plane{width: p.width, height: p.height}
	rowLow, rowHigh := make([]uint16, p.width*p.height), make([]uint16, p.width*p.height)
	for c, from := range p.channel {
		for y := range p.height {
			row := from[y*p.width:][:p.width]
			for x := range row {
				a, b, d := row[max(x-1, 0)], row[x], row[min(x+1, p.width-1)]
				rowLow[y*p.width+x], rowHigh[y*p.width+x] = min(a, b, d), max(a, b, d)
			}
		}
		low.channel[c], high.channel[c] = make([]uint16, len(from)), make([]uint16, len(from))
		for y := range p.height {
			above, here, below := max(y-1, 0)*p.width, y*p.width, min(y+1, p.height-1)*p.width
			for x := range p.width {
				low.channel[c][here+x] = min(rowLow[above+x], rowLow[here+x], rowLow[below+x])
				high.channel[c][here+x] = max(rowHigh[above+x], rowHigh[here+x], rowHigh[below+x])
			}
		}
	}
	return low, high
}

// tones maps light to tones: the code of a photo in steps of 1/toneUnit, in which noise and what an eye can tell are
// about the same in dark and bright parts.
type tones [fullLight + 1]uint16

// toneUnit is one 8-bit code.
const toneUnit = 256

// newTones tabulates the inverse of the curve of IEC 61966-2-1.
func newTones() *tones {
	t := new(tones)
	for i := range t {
		v := float64(i) / fullLight
		if v <= 0.0031308 {
			v *= 12.92
		} else {
			v = float64(1.055*math.Pow(v, 1/2.4)) - 0.055
		}
		t[i] = uint16(math.Round(v * 255 * toneUnit))
	}
	return t
}
