package stream

import (
	"math"
	"math/rand/v2"
	"testing"

	"colonnade/analyze/levels"
	"colonnade/compose/picture"
)

// standard is the formula of ITU-R BT.709-6, section 3, in floating point, for codes from 0 to 255: Y', Cb and
// Cr before they are rounded.
func standard(red, green, blue float64) [3]float64 {
	red, green, blue = red/255, green/255, blue/255
	y := 0.2126*red + 0.7152*green + 0.0722*blue
	return [3]float64{219*y + 16, 224*(blue-y)/1.8556 + 128, 224*(red-y)/1.5748 + 128}
}

// nearest rounds as the standard's INT does. An exact middle may come out a little low; no other value lies so
// near to one, for the formula's denominators are below 10^8.
func nearest(v float64) uint8 { return uint8(math.Floor(v + 0.5 + 1e-9)) }

// fromScratch is a frame as the formulas read: composed whole, then converted sample by sample.
func fromScratch(s *picture.Scene, tuple []levels.Level, chroma int) []byte {
	p := picture.New(s.Base.Width, s.Base.Height)
	s.Compose(p, tuple)
	at := func(x, y int) (red, green, blue float64) {
		c := p.Row(y)[3*max(x, 0):]
		return float64(c[0]), float64(c[1]), float64(c[2])
	}
	out := []byte("FRAME\n")
	for y := range p.Height {
		for x := range p.Width {
			out = append(out, nearest(standard(at(x, y))[0]))
		}
	}
	for which := 1; which <= 2; which++ {
		if chroma == 444 {
			for y := range p.Height {
				for x := range p.Width {
					out = append(out, nearest(standard(at(x, y))[which]))
				}
			}
			continue
		}
		for y := 0; y < p.Height; y += 2 {
			for x := 0; x < p.Width; x += 2 {
				// The formula is linear, so that the mean of the six pixels' values is that of their mean.
				v := 0.0
				for row := y; row <= y+1; row++ {
					v += standard(at(x-1, row))[which]/8 + standard(at(x, row))[which]/4 + standard(at(x+1, row))[which]/8
				}
				out = append(out, nearest(v))
			}
		}
	}
	return out
}

// The bars at 75 % are those of SMPTE RP 219-1 as FFmpeg's source smptehdbars holds them, here of R'G'B' code
// 191, which is nearest to 75 %. The others are from memory and agree with the formula of ITU-R BT.709-6.
func TestCheckValuesOfTheStandard(t *testing.T) {
	for _, c := range []struct {
		name             string
		red, green, blue int64
		want             [3]uint8
	}{
		{"white", 255, 255, 255, [3]uint8{235, 128, 128}},
		{"black", 0, 0, 0, [3]uint8{16, 128, 128}},
		{"red", 255, 0, 0, [3]uint8{63, 102, 240}},
		{"green", 0, 255, 0, [3]uint8{173, 42, 26}},
		{"blue", 0, 0, 255, [3]uint8{32, 240, 118}},
		{"yellow", 255, 255, 0, [3]uint8{219, 16, 138}},
		{"cyan", 0, 255, 255, [3]uint8{188, 154, 16}},
		{"magenta", 255, 0, 255, [3]uint8{78, 214, 230}},
		{"75 % white", 191, 191, 191, [3]uint8{180, 128, 128}},
		{"75 % yellow", 191, 191, 0, [3]uint8{168, 44, 136}},
		{"75 % cyan", 0, 191, 191, [3]uint8{145, 147, 44}},
		{"75 % green", 0, 191, 0, [3]uint8{133, 63, 52}},
		{"75 % magenta", 191, 0, 191, [3]uint8{63, 193, 204}},
		{"75 % red", 191, 0, 0, [3]uint8{51, 109, 212}},
		{"75 % blue", 0, 0, 191, [3]uint8{28, 212, 120}},
	} {
		if got := codes(c.red, c.green, c.blue); got != c.want {
			t.Errorf("%s is %v, want %v", c.name, got, c.want)
		}
	}
}

// codes is Y'CbCr of one pixel.
func codes(red, green, blue int64) [3]uint8 {
	const w = chromaWeight
	return [3]uint8{luma(uint32(red), uint32(green), uint32(blue)),
		blueDifference(w*red, w*green, w*blue), redDifference(w*red, w*green, w*blue)}
}

func TestEveryCodeIsTheNearestToTheFormula(t *testing.T) {
	random := rand.New(rand.NewPCG(6, 6))
	check := func(red, green, blue int64) {
		exact := standard(float64(red), float64(green), float64(blue))
		for i, code := range codes(red, green, blue) {
			if code != nearest(exact[i]) {
				t.Fatalf("%d of R'G'B' %d %d %d is %d, the formula says %.6f", i, red, green, blue, code, exact[i])
			}
		}
	}
	for red := int64(0); red < 256; red += 5 {
		for green := int64(0); green < 256; green += 5 {
			for blue := int64(0); blue < 256; blue += 5 {
				check(red, green, blue)
			}
		}
	}
	for range 200_000 {
		check(random.Int64N(256), random.Int64N(256), random.Int64N(256))
	}
}

// The formula is worked by hand: 219*(2126*10 + 7152*51 + 722*54)/2550000 + 16 = 52.5. Of Cb and Cr no exact
// middle exists: an odd number of half units has fewer factors of 2 than 224 does.
func TestAnExactMiddleIsRoundedUp(t *testing.T) {
	if got := luma(10, 51, 54); got != 53 {
		t.Errorf("52.5 is coded as %d, want 53", got)
	}
}

// A picture whose colour rises evenly across and down has, at each sample, the colour of the place that the
// header tells: the left pixel of a pair, midway between the rows. Only at the left edge it is a quarter pixel off.
func TestChromaIsSitedLeftAndMidway(t *testing.T) {
	p := picture.New(60, 40)
	for y := range p.Height {
		for x := range p.Width {
			c := p.Row(y)[3*x:]
			c[0], c[1], c[2] = uint8(3*x), 90, uint8(200-4*y)
		}
	}
	for y := 0; y < p.Height; y += 2 {
		for x := 2; x < p.Width; x += 2 {
			red, green, blue := weighted(p, 2, x, y)
			want := standard(float64(3*x), 90, 200-4*(float64(y)+0.5))
			if cb, cr := blueDifference(red, green, blue), redDifference(red, green, blue); cb != nearest(want[1]) || cr != nearest(want[2]) {
				t.Fatalf("the sample at (%d, %d) is %d %d, the place has %.2f %.2f", x, y, cb, cr, want[1], want[2])
			}
		}
	}
}
