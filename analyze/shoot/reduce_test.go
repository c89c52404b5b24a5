package shoot

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"colonnade/compose/picture"
)

func noisePicture(width, height int, seed uint64) *picture.Picture {
	random := rand.New(rand.NewPCG(seed, 4))
	p := picture.New(width, height)
	for i := range p.Pix {
		p.Pix[i] = uint8(random.IntN(256))
	}
	return p
}

// The slow twin: the mean of the light, one pixel after the other.
func TestReducedPixelIsTheMeanOfItsLight(t *testing.T) {
	photo := noisePicture(23, 17, 1)
	for _, factor := range []int{1, 2, 5, 7} {
		r := reduce(photo, 0, 0, factor, curve)
		if r.width != 23/factor || r.height != 17/factor {
			t.Fatalf("factor %d: %d x %d", factor, r.width, r.height)
		}
		for y := range r.height {
			for x := range r.width {
				burnt := uint16(0)
				var sum [3]float64
				for j := range factor {
					for i := range factor {
						p := photo.Row(y*factor + j)[3*(x*factor+i):][:3]
						for c := range 3 {
							sum[c] += float64(curve.Linear[p[c]])
						}
						if p[0] == 255 || p[1] == 255 || p[2] == 255 {
							burnt++
						}
					}
				}
				for c := range 3 {
					want := sum[c] / float64(factor*factor) / 256
					if got := float64(r.light[c][y*r.width+x]); math.Abs(got-want) > 1 {
						t.Fatalf("factor %d: (%d, %d) channel %d is %g, want %.1f", factor, x, y, c, got, want)
					}
				}
				if r.burnt[y*r.width+x] != burnt {
					t.Fatalf("factor %d: (%d, %d) has %d burnt pixels, want %d", factor, x, y, r.burnt[y*r.width+x], burnt)
				}
			}
		}
	}
}

func TestReducedPhotoIsBroughtBackByWholePixels(t *testing.T) {
	photo := noisePicture(40, 30, 2)
	moved := picture.New(40, 30)
	for y := range 30 {
		for x := range 40 {
			copy(moved.Row(y)[3*x:3*x+3], photo.Row(clamp(y+3, 30))[3*clamp(x-2, 40):])
		}
	}
	got, want := reduce(photo, -2, 3, 3, curve), reduce(moved, 0, 0, 3, curve)
	for c := range 3 {
		if !slices.Equal(got.light[c], want.light[c]) {
			t.Errorf("channel %d differs", c)
		}
	}
}

func TestCodesComeBackFromLight(t *testing.T) {
	p := picture.New(256, 1)
	for i := range 256 {
		for c := range 3 {
			p.Pix[3*i+c] = uint8(i)
		}
	}
	c := reduce(p, 0, 0, 1, curve).codes(codeTable(curve), evenGains)
	for i := range 256 {
		// In the dark a 16-bit amount of light is a twentieth of a code.
		if got := float64(c[0][i]) / codeUnit; math.Abs(got-float64(i)) > 0.04 {
			t.Errorf("code %d came back as %.3f", i, got)
		}
	}
}

// The weights of the cubic sum to one, reproduce a straight line, and are one pixel's alone for a whole shift.
func TestMovedPictureIsTheOldOneElsewhere(t *testing.T) {
	r := newReduced(40, 30)
	for y := range 30 {
		for x := range 40 {
			for c := range 3 {
				r.light[c][y*40+x] = uint16(1000 + 500*x + 300*y)
			}
		}
	}
	for _, d := range [][2]int64{{0, 0}, {1024, -2048}, {512, 0}, {-300, 700}, {2500, 1}} {
		m := r.moved(d[0], d[1])
		for y := 5; y < 25; y++ {
			for x := 5; x < 35; x++ {
				want := 1000 + 500*(float64(x)+float64(d[0])/moveUnit) + 300*(float64(y)+float64(d[1])/moveUnit)
				if got := float64(m.light[1][y*40+x]); math.Abs(got-want) > 2 {
					t.Fatalf("moved by %v: (%d, %d) is %g, want %.1f", d, x, y, got, want)
				}
			}
		}
	}
}

func TestLargePhotosAreReducedToFitMemory(t *testing.T) {
	for _, c := range []struct{ width, height, want int }{{640, 480, 1}, {1920, 1080, 2}, {6000, 4000, 7}, {14204, 10652, 16}} {
		if got := reductionFactor(c.width, c.height); got != c.want {
			t.Errorf("%d x %d: factor %d, want %d", c.width, c.height, got, c.want)
		}
	}
}
