package light

import (
	"math"
	"testing"
)

func TestSRGBPoints(t *testing.T) {
	curve := SRGB()
	// Decoded values of IEC 61966-2-1.
	for code, want := range map[int]float64{0: 0, 1: 0.00030353, 10: 0.00303527, 11: 0.00334654, 64: 0.05126946, 118: 0.18116424,
		127: 0.21223076, 128: 0.21586050, 160: 0.35153260, 188: 0.50288646, 192: 0.52711513, 230: 0.79129794, 254: 0.99110210, 255: 1} {
		if got := float64(curve.Linear[code]) / One; math.Abs(got-want) > 5e-8 {
			t.Errorf("code %d is %.8f, want %.8f", code, got, want)
		}
	}
	// Encoded values of the same standard, rounded to the nearest code.
	for _, c := range []struct {
		linear float64
		want   uint8
	}{{0.18, 118}, {0.2, 124}, {0.25, 137}, {0.5, 188}, {0.75, 225}, {0.8, 231}, {0.9, 243}, {0, 0}, {1, 255}} {
		if got := curve.Code(uint32(c.linear * One)); got != c.want {
			t.Errorf("light %g is code %d, want %d", c.linear, got, c.want)
		}
	}
}

func TestEveryCodeComesBack(t *testing.T) {
	for name, curve := range map[string]*Curve{"sRGB": SRGB(), "encoded": Encoded()} {
		for code := range 256 {
			if got := curve.Code(curve.Linear[code]); got != uint8(code) {
				t.Errorf("%s: code %d comes back as %d", name, code, got)
			}
		}
	}
}

// The table against the standard's own formula, at every step that the table can tell apart near a change of
// code and on a grid between.
func TestCodeIsTheNearestByTheFormula(t *testing.T) {
	curve := SRGB()
	encode := func(l float64) float64 {
		if l <= 0.0031308 {
			return 12.92 * l * 255
		}
		return (1.055*math.Pow(l, 1/2.4) - 0.055) * 255
	}
	for l := uint32(0); l <= One; l += 97 {
		exact := encode(float64(l) / One)
		if got := float64(curve.Code(l)); math.Abs(got-exact) > 0.5001 {
			t.Fatalf("light %d is code %g, the formula says %.4f", l, got, exact)
		}
	}
}

func TestMixEndsAreExact(t *testing.T) {
	for _, c := range [][2]uint32{{0, One}, {One, 0}, {12345, 12346}, {7, 7}, {One, One}} {
		if got := Mix(c[0], c[1], 0); got != c[0] {
			t.Errorf("mask 0 from %d to %d gives %d", c[0], c[1], got)
		}
		if got := Mix(c[0], c[1], 65535); got != c[1] {
			t.Errorf("mask 65535 from %d to %d gives %d", c[0], c[1], got)
		}
	}
}

// Half of white over black: 188 in light, 128 by the codes (IEC 61966-2-1: 0.5 is code 187.5160; 127.5 rounds up).
func TestHalfWhiteOverBlack(t *testing.T) {
	for _, c := range []struct {
		curve *Curve
		want  uint8
	}{{SRGB(), 188}, {Encoded(), 128}} {
		if got := c.curve.Code(Mix(c.curve.Linear[0], c.curve.Linear[255], 32768)); got != c.want {
			t.Errorf("got %d, want %d", got, c.want)
		}
	}
}

// The nearest amount to the exact one, in whole numbers: a mask's share is (mask + mask/32768)/65536, so that both ends are
// exact.
func TestMixIsTheNearestAmount(t *testing.T) {
	for _, from := range []uint32{0, 1, 2, 77, 65535, 65536, 1_000_003, One - 1, One} {
		for _, to := range []uint32{0, 1, 3, 5, 32769, 65537, 2_000_033, One - 2, One} {
			for _, mask := range []uint16{1, 2, 3, 255, 12345, 32767, 32768, 32769, 50000, 65533, 65534} {
				share := int64(mask)
				if mask >= 32768 {
					share++
				}
				exact := int64(from)<<16 + (int64(to)-int64(from))*share // in 65536ths
				if off := int64(Mix(from, to, mask))<<16 - exact; off > 1<<15 || off <= -1<<15 {
					t.Fatalf("%d to %d at mask %d is %d, off by %d/65536", from, to, mask, Mix(from, to, mask), off)
				}
			}
		}
	}
}

// The middle between two codes, by the formula of IEC 61966-2-1, is where the upper one becomes the nearest, to a step.
func TestCodesMeetInTheMiddle(t *testing.T) {
	curve, encoded := SRGB(), Encoded()
	for code := range 255 {
		middle := DecodeSRGB((float64(code)+0.5)/255) * One
		below, above := uint32(math.Floor(middle)), uint32(math.Floor(middle))+1
		if curve.Code(below) != uint8(code) || curve.Code(above) != uint8(code)+1 {
			t.Errorf("around %.3f, between codes %d and %d, stand %d and %d", middle, code, code+1, curve.Code(below), curve.Code(above))
		}
		// Here the middle is an amount of its own, and goes up.
		exact := uint32(code)<<16 + 1<<15
		if encoded.Code(exact-1) != uint8(code) || encoded.Code(exact) != uint8(code)+1 {
			t.Errorf("around %d stand the codes %d and %d, want %d and the next", exact, encoded.Code(exact-1), encoded.Code(exact), code)
		}
	}
}
