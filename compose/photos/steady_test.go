package photos

import (
	"bytes"
	"math"
	"math/rand/v2"
	"runtime"
	"testing"

	"colonnade/compose/light"
	"colonnade/compose/picture"
)

func grained(width, height int, seed uint64) *picture.Picture {
	random := rand.New(rand.NewPCG(seed, 1))
	p := picture.New(width, height)
	for i := range p.Pix {
		p.Pix[i] = uint8(random.IntN(256))
	}
	return p
}

// The slow twin: the formula in floating point, pixel by pixel.
func slowCorrection(c Correction, photo, base *picture.Picture, curve *light.Curve) []float64 {
	kernel := func(x float64) float64 {
		if math.Abs(x) >= lobes {
			return 0
		}
		return sinc(x) * sinc(x/lobes)
	}
	dx, dy := float64(c.Shift[0])/ShiftUnit, float64(c.Shift[1])/ShiftUnit
	wholeX, wholeY := int(math.Floor(dx+0.5)), int(math.Floor(dy+0.5))
	even := func(channel, x, y int) float64 {
		code := photo.Row(y)[3*x+channel]
		linear := float64(curve.Linear[code])
		out := min(linear*GainUnit/float64(c.Gain[channel]), light.One)
		if code > burntFrom && out < linear {
			plate := float64(curve.Linear[base.Row(min(max(y-wholeY, 0), base.Height-1))[3*min(max(x-wholeX, 0), base.Width-1)+channel]])
			switch {
			case plate < out*(1-1.0/burntDoubt):
				out += (linear - out) * float64(int(code)-burntFrom) / (255 - burntFrom)
			case code == 255:
				out = max(out, plate)
			}
		}
		return out
	}
	out := make([]float64, 3*photo.Width*photo.Height)
	for y := range photo.Height {
		for x := range photo.Width {
			u, v := float64(x)+dx, float64(y)+dy
			for channel := range 3 {
				at := 3*(y*photo.Width+x) + channel
				if u < 0 || v < 0 || u > float64(photo.Width-1) || v > float64(photo.Height-1) {
					out[at] = float64(curve.Linear[base.Row(y)[3*x+channel]])
					continue
				}
				sum, weights := 0.0, 0.0
				for j := int(math.Floor(v)) - lobes + 1; j <= int(math.Floor(v))+lobes; j++ {
					for i := int(math.Floor(u)) - lobes + 1; i <= int(math.Floor(u))+lobes; i++ {
						w := kernel(float64(i)-u) * kernel(float64(j)-v)
						sum += w * even(channel, min(max(i, 0), photo.Width-1), min(max(j, 0), photo.Height-1))
						weights += w
					}
				}
				out[at] = min(max(sum/weights, 0), light.One)
			}
		}
	}
	return out
}

func TestCorrectionFollowsTheFormula(t *testing.T) {
	photo, base := grained(37, 29, 1), grained(37, 29, 2)
	for _, c := range []Correction{
		{Gain: [3]int64{GainUnit, GainUnit, GainUnit}, Shift: [2]int64{16, -24}},
		{Gain: [3]int64{70000, 60000, 65536}, Shift: [2]int64{0, 33}},
		{Gain: [3]int64{52000, 80000, 64000}},
		{Gain: [3]int64{65000, 66000, 67000}, Shift: [2]int64{-5*64 - 7, 3 * 64}},
	} {
		for _, curve := range []*light.Curve{light.SRGB(), light.Encoded()} {
			got, want := c.Apply(photo, base, curve), slowCorrection(c, photo, base, curve)
			for i, v := range want {
				// Weights of 14 bits move light by a few of their steps; that may tip a code's rounding over.
				low, high := curve.Code(uint32(max(v-light.One/4000.0, 0))), curve.Code(uint32(min(v+light.One/4000.0, light.One)))
				if got.Pix[i] < low || got.Pix[i] > high {
					t.Fatalf("%+v: sample %d is %d, want %d to %d", c, i, got.Pix[i], low, high)
				}
			}
		}
	}
}

func TestCorrectionByNothingIsThePhotoItself(t *testing.T) {
	photo, base := grained(20, 10, 3), grained(20, 10, 4)
	for _, c := range []Correction{{}, {Gain: [3]int64{GainUnit, GainUnit, GainUnit}}} {
		if got := c.Apply(photo, base, light.SRGB()); got != photo || !c.none() {
			t.Errorf("%+v made another picture", c)
		}
	}
}

// Whole pixels are copied as they are, and what the photo does not show is the base plate.
func TestWholePixelsComeBackExactly(t *testing.T) {
	photo, base := grained(30, 20, 5), grained(30, 20, 6)
	for _, shift := range [][2]int{{3, -2}, {-30, 0}, {0, 25}, {-29, 19}} {
		got := Correction{Shift: [2]int64{int64(shift[0]) * ShiftUnit, int64(shift[1]) * ShiftUnit}}.Apply(photo, base, light.SRGB())
		for y := range 20 {
			for x := range 30 {
				from, u, v := photo, x+shift[0], y+shift[1]
				if u < 0 || v < 0 || u >= 30 || v >= 20 {
					from, u, v = base, x, y
				}
				if !bytes.Equal(got.Row(y)[3*x:3*x+3], from.Row(v)[3*u:3*u+3]) {
					t.Fatalf("shift %v: pixel (%d, %d) is %v, want %v", shift, x, y, got.Row(y)[3*x:3*x+3], from.Row(v)[3*u:3*u+3])
				}
			}
		}
	}
}

// A flat picture stays flat to the code, wherever it is moved: the weights sum to one exactly.
func TestFlatPictureStaysFlat(t *testing.T) {
	photo := picture.New(20, 20)
	for i := range photo.Pix {
		photo.Pix[i] = 173
	}
	for shift := int64(-70); shift <= 70; shift += 7 {
		if got := (Correction{Shift: [2]int64{shift, 11 - shift}}).Apply(photo, photo, light.SRGB()); !bytes.Equal(got.Pix, photo.Pix) {
			t.Fatalf("shift %d/64: %v", shift, got.Pix[:9])
		}
	}
}

// What is burnt out in a photo that is too bright is as bright as the base plate where that is bright enough, and stays
// white where it is not.
func TestBurntOutIsTakenFromTheBasePlate(t *testing.T) {
	curve := light.SRGB()
	c := Correction{Gain: [3]int64{GainUnit * 5 / 4, GainUnit * 5 / 4, GainUnit * 5 / 4}, Shift: [2]int64{ShiftUnit, 0}}
	photo, base := picture.New(4, 1), picture.New(4, 1)
	copy(photo.Pix[6:], []uint8{255, 255, 255}) // pixel 2; in place 1 of the base plate
	copy(photo.Pix[9:], []uint8{188, 252, 252}) // pixel 3; in place 2
	copy(base.Pix[3:], []uint8{240, 255, 100})
	copy(base.Pix[6:], []uint8{100, 230, 100})
	got := c.Apply(photo, base, curve)
	if want := []uint8{240, 255, 255}; !bytes.Equal(got.Pix[3:6], want) {
		t.Errorf("burnt out: %v, want %v", got.Pix[3:6], want)
	}
	// 4/5 of the light of code 188 is code 170, of code 252 code 228 (IEC 61966-2-1).
	if got.Pix[6] != 170 || got.Pix[7] != 228 || got.Pix[8] <= 228 || got.Pix[8] >= 252 {
		t.Errorf("not burnt out: %v, want 170, 228 and between 228 and 252", got.Pix[6:9])
	}
	even, kept := c.table(0, curve)
	if kept[255] != light.One || kept[burntFrom] != even[burntFrom] {
		t.Errorf("white becomes %d, code %d %d", kept[255], burntFrom, kept[burntFrom])
	}
	for code := 1; code < 256; code++ {
		if kept[code] < kept[code-1] {
			t.Errorf("code %d becomes darker than code %d", code, code-1)
		}
	}
}

func TestCorrectionIsTheSameOnAnyNumberOfCores(t *testing.T) {
	photo, base := grained(50, 41, 7), grained(50, 41, 8)
	c := Correction{Gain: [3]int64{60000, 61000, 62000}, Shift: [2]int64{21, -87}}
	want := c.Apply(photo, base, light.SRGB())
	for _, cores := range []int{1, 3, 8} {
		before := runtime.GOMAXPROCS(cores)
		got := c.Apply(photo, base, light.SRGB())
		runtime.GOMAXPROCS(before)
		if !bytes.Equal(got.Pix, want.Pix) {
			t.Errorf("%d cores make another picture", cores)
		}
	}
}
