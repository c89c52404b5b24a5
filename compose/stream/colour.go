package stream

import "colonnade/compose/picture"

// ITU-R BT.709-6, section 3, with R', G', B' from 0 to 1:
//
//	Y'  = 0.2126 R' + 0.7152 G' + 0.0722 B'      coded as INT(219 Y' + 16)
//	C'b = (B' - Y') / 1.8556                     coded as INT(224 C'b + 128)
//	C'r = (R' - Y') / 1.5748                     coded as INT(224 C'r + 128)
//
// INT is the nearest whole number, the upper one from the exact middle. Here all is in ten-thousandths and in
// whole numbers, so that the codes are exact: the coefficients below, over 255 for the code of white.
const (
	kr, kg, kb = 2126, 7152, 722
	one        = kr + kg + kb
	white      = 255
	toBlue     = 18556
	toRed      = 15748
)

// luma is the Y' code of a pixel.
func luma(red, green, blue uint32) uint8 {
	const unit = one * white
	return uint8((219*(kr*red+kg*green+kb*blue) + 16*unit + unit/2) / unit)
}

// chromaWeight is the sum of the weights of the pixels that a chroma sample is made from.
const chromaWeight = 8

// weighted is the sum of the pixels that the chroma sample at pixel (x, y) is made from. At step 1 that is the
// pixel itself. At step 2 it is [1 2 1] around the pixel in two rows, which halves the bandwidth and keeps the
// sample where the header says that it is; left of the picture its edge goes on.
func weighted(p *picture.Picture, step, x, y int) (red, green, blue int64) {
	add := func(pixels []uint8, weight int64) {
		red += weight * int64(pixels[0])
		green += weight * int64(pixels[1])
		blue += weight * int64(pixels[2])
	}
	if step == 1 {
		add(p.Row(y)[3*x:], chromaWeight)
		return
	}
	for _, row := range [][]uint8{p.Row(y), p.Row(y + 1)} {
		add(row[3*max(x-1, 0):], 1)
		add(row[3*x:], 2)
		add(row[3*x+3:], 1)
	}
	return
}

// blueDifference is the Cb code of a weighted sum of pixels.
func blueDifference(red, green, blue int64) uint8 {
	const unit = toBlue * white * chromaWeight
	return uint8((224*((one-kb)*blue-kr*red-kg*green) + 128*unit + unit/2) / unit)
}

// redDifference is the Cr code of a weighted sum of pixels.
func redDifference(red, green, blue int64) uint8 {
	const unit = toRed * white * chromaWeight
	return uint8((224*((one-kr)*red-kg*green-kb*blue) + 128*unit + unit/2) / unit)
}
