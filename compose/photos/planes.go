package photos

import "image"

// planes is a JPEG photo's own samples, luma and colour. They take half as much memory as its pixels where four pixels share their
// colours (4:2:0), two thirds at 4:2:2, as much at 4:4:4. They become RGB where they are read.
type planes struct {
	samples *image.YCbCr // of a decoder, whose bounds begin at 0, 0
	shared  int          // the binary logarithm of how many pixels of a row share a colour sample
}

func newPlanes(samples *image.YCbCr) *planes {
	p := &planes{samples: samples}
	switch samples.SubsampleRatio {
	case image.YCbCrSubsampleRatio422, image.YCbCrSubsampleRatio420:
		p.shared = 1
	case image.YCbCrSubsampleRatio411, image.YCbCrSubsampleRatio410:
		p.shared = 2
	}
	return p
}

func (p *planes) Size() (width, height int) { return p.samples.Rect.Dx(), p.samples.Rect.Dy() }

// Read makes the pixels that image/color's YCbCrToRGB makes, by the same sums (JFIF, ITU-T T.871, section 7).
func (p *planes) Read(dst []uint8, x, y int) {
	luma, row := p.samples.Y[p.samples.YOffset(x, y):], p.samples.COffset(0, y)
	luma = luma[:len(dst)/3]
	blue, red := p.samples.Cb[row:], p.samples.Cr[row:]
	if p.shared != 1 {
		for i, l := range luma {
			at := (x + i) >> p.shared
			newTint(blue[at], red[at]).pixel(dst[3*i:], l)
		}
		return
	}
	blue, red = blue[x/2:], red[x/2:]
	if x%2 == 1 && len(luma) > 0 {
		newTint(blue[0], red[0]).pixel(dst, luma[0])
		dst, luma, blue, red = dst[3:], luma[1:], blue[1:], red[1:]
	}
	pairs := len(luma) / 2
	blue, red = blue[:(len(luma)+1)/2], red[:(len(luma)+1)/2]
	for i := range pairs {
		t := newTint(blue[i], red[i])
		t.pixel(dst[6*i:6*i+3], luma[2*i])
		t.pixel(dst[6*i+3:6*i+6], luma[2*i+1])
	}
	if len(luma)%2 == 1 {
		newTint(blue[pairs], red[pairs]).pixel(dst[6*pairs:], luma[2*pairs])
	}
}

// tint is what the colour samples add to the luma of a pixel, in 65536ths, and zero.
type tint struct{ red, green, blue int32 }

func newTint(blue, red uint8) tint {
	cb, cr := int32(blue)-128, int32(red)-128
	return tint{zero + 91881*cr, zero - 22554*cb - 46802*cr, zero + 116130*cb}
}

// pixel makes one of its luma.
func (t tint) pixel(dst []uint8, luma uint8) {
	l := int32(luma) * 0x10101
	dst = dst[:3]
	dst[0], dst[1], dst[2] = code(l+t.red), code(l+t.green), code(l+t.blue)
}

// zero is the sum that is code 0.
const zero = 256 << 16

// clamped is the code by the whole part of a sum: 0 below zero's, 255 from 255 above it on. Without a table it takes a tenth longer,
// with branches twice as long.
var clamped = func() (t [1024]uint8) {
	for i := range t {
		t[i] = uint8(min(max(i-zero>>16, 0), 255))
	}
	return t
}()

func code(sum int32) uint8 { return clamped[uint32(sum)>>16%uint32(len(clamped))] }
