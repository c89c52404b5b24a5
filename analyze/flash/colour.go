package flash

import (
	"math"

	"colonnade/compose/light"
)

// Colour tells what the photos' codes look like.
type Colour struct {
	// channel[to][from][code] is what a code of the photos' channel from adds to channel to of sRGB, light.One for full.
	channel [3][3][256]int64
	// luminance[from][code] is what it adds to the relative luminance, fullLuminance for white.
	luminance [3][256]int64
}

// Relative luminance as WCAG 2.2 defines it, in ten-thousandths.
var luminanceWeights = [3]int64{2126, 7152, 722}

// Bounds of the general flash, in the unit of luminance.
const (
	fullLuminance = 10000 * light.One
	leastStep     = fullLuminance / 10     // of luminance, to be a change
	brightest     = fullLuminance / 10 * 8 // that the darker end must stay below
)

// NewColour takes the light of each code (see light.Curve) and the way from the photos' channels to those of sRGB, row i
// making channel i.
func NewColour(linear *[256]uint32, toSRGB [3][3]float64) *Colour {
	c := new(Colour)
	for to := range 3 {
		for from := range 3 {
			for code, v := range linear {
				part := int64(math.Round(toSRGB[to][from] * float64(v)))
				c.channel[to][from][code] = part
				c.luminance[from][code] += luminanceWeights[to] * part
			}
		}
	}
	return c
}

// luminanceOf is a pixel's relative luminance.
func (c *Colour) luminanceOf(pixel []uint8) int64 {
	return c.luminance[0][pixel[0]] + c.luminance[1][pixel[1]] + c.luminance[2][pixel[2]]
}

// isBrighter tells whether the step from a luminance to another is a change upwards.
func isBrighter(from, to int64) bool { return to-from >= leastStep && from < brightest }

// hue is a pixel's place in the CIE 1976 UCS diagram, u' and v' in units of 1/hueUnit.
type hue struct {
	u, v int32
	red  bool // saturated: R/(R+G+B) is 0.8 or more
}

const (
	hueUnit = 1 << 20
	// leastLight is the R+G+B, a hundredth of white's, below which a colour is black.
	leastLight = 3 * light.One / 100
)

// farHue is the square of 0.2 in units of the diagram, rounded down: what is farther is a change.
const farHue = hueUnit * hueUnit / 25

// CIE XYZ of sRGB's channels (IEC 61966-2-1, as WCAG 2.2 refers to), in ten-millionths.
var xyz = [3][3]int64{
	{4124564, 3575761, 1804375},
	{2126729, 7151522, 721750},
	{193339, 1191920, 9503041},
}

// hueOf is where a pixel's colour lies.
func (c *Colour) hueOf(pixel []uint8) hue {
	var rgb [3]int64
	for to := range rgb {
		for from, code := range pixel[:3] {
			rgb[to] += c.channel[to][from][code]
		}
	}
	if rgb[0]+rgb[1]+rgb[2] < leastLight {
		rgb = [3]int64{light.One, light.One, light.One}
	}
	var tri [3]int64
	for i, row := range xyz {
		tri[i] = row[0]*rgb[0] + row[1]*rgb[1] + row[2]*rgb[2]
	}
	// Below 2^53, so that the quotients are rounded once and alike everywhere.
	sum := float64(tri[0] + 15*tri[1] + 3*tri[2])
	return hue{
		u:   int32(math.Round(float64(4*tri[0]) / sum * hueUnit)),
		v:   int32(math.Round(float64(9*tri[1]) / sum * hueUnit)),
		red: rgb[0] >= 4*(rgb[1]+rgb[2]),
	}
}

// isFar tells whether two hues are more than 0.2 apart.
func isFar(a, b hue) bool {
	u, v := int64(a.u)-int64(b.u), int64(a.v)-int64(b.v)
	return u*u+v*v > farHue
}

// isRedder tells whether the step from a hue to another is a change to red.
func isRedder(from, to hue) bool { return to.red && isFar(from, to) }

// bounds is the range of codes that a pixel can show, by channel.
type bounds struct{ low, high [3]uint8 }

// mayFlash tells whether a pixel that shows no code beyond the bounds can make a change at all.
func (c *Colour) mayFlash(b bounds) (bright, red bool) {
	var least, most int64
	var leastOf, mostOf [3]int64
	for from := range 3 {
		low, high := b.low[from], b.high[from]
		part := &c.luminance[from]
		least += min(part[low], part[high])
		most += max(part[low], part[high])
		for to := range 3 {
			part := &c.channel[to][from]
			leastOf[to] += min(part[low], part[high])
			mostOf[to] += max(part[low], part[high])
		}
	}
	return isBrighter(least, most), mostOf[0] >= 4*(leastOf[1]+leastOf[2]) && mostOf[0]+mostOf[1]+mostOf[2] >= leastLight
}
