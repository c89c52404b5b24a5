// Package light relates the 8-bit codes of a photo to amounts of light, in whole numbers, so that every
// processor mixes pictures alike.
package light

import "math"

// One is the amount of light of code 255. It is 255 x 65536, so that the encoded curve is exact.
const One = 255 << 16

// Curve maps codes to light and back.
type Curve struct {
	// Linear is the light of each code, 0 to One.
	Linear [256]uint32
	// threshold[c] is the least light that is nearer to code c+1 than to c, as measured in codes.
	threshold [256]uint32
	// nearest[l>>bucketBits] is the code of the least light in that bucket; a bucket is narrower than a code.
	nearest [One>>bucketBits + 1]uint8
}

const bucketBits = 10

// SRGB is the curve of IEC 61966-2-1, DecodeSRGB.
func SRGB() *Curve { return NewCurve(DecodeSRGB) }

// DecodeSRGB takes a code, 0..1, to light by IEC 61966-2-1: linear below 0.04045, a power of 2.4 above.
func DecodeSRGB(v float64) float64 {
	if v <= 0.04045 {
		return v / 12.92
	}
	return math.Pow((v+0.055)/1.055, 2.4)
}

// Encoded is the straight curve, for mixing codes as they are.
func Encoded() *Curve { return NewCurve(func(v float64) float64 { return v }) }

// NewCurve tabulates decode, which takes a code divided by 255, 0..1, to light, 0..1, and rises strictly.
func NewCurve(decode func(float64) float64) *Curve {
	c := new(Curve)
	for i := range 256 {
		c.Linear[i] = uint32(math.Round(decode(float64(i)/255) * One))
		c.threshold[i] = uint32(math.Ceil(decode((float64(i)+0.5)/255) * One))
	}
	c.threshold[255] = math.MaxUint32
	code := 0
	for i := range c.nearest {
		for uint32(i)<<bucketBits >= c.threshold[code] {
			code++
		}
		c.nearest[i] = uint8(code)
	}
	return c
}

// Code is the code nearest to an amount of light from 0 to One.
func (c *Curve) Code(linear uint32) uint8 {
	code := c.nearest[linear>>bucketBits]
	for linear >= c.threshold[code] {
		code++
	}
	return code
}

// Mix is from with mask/65535 of the way to to: exactly from at mask 0 and exactly to at mask 65535.
func Mix(from, to uint32, mask uint16) uint32 {
	share := int64(mask) + int64(mask>>15) // 0..65536
	return uint32(int64(from) + ((int64(to)-int64(from))*share+1<<15)>>16)
}
