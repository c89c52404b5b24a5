package shoot

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
)

// The slow twin: rows and columns by gonum's transform of any length.
func TestTransformIsRowsThenColumns(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 1))
	for _, n := range []int{16, 32, 64} {
		data := make([]complex128, n*n)
		for i := range data {
			data[i] = complex(random.Float64(), random.Float64())
		}
		want := append([]complex128(nil), data...)
		fft := fourier.NewCmplxFFT(n)
		for y := range n {
			copy(want[y*n:], fft.Coefficients(nil, want[y*n:][:n]))
		}
		column := make([]complex128, n)
		for x := range n {
			for y := range n {
				column[y] = want[y*n+x]
			}
			for y, v := range fft.Coefficients(nil, column) {
				want[y*n+x] = v
			}
		}
		got := append([]complex128(nil), data...)
		transform{n}.forward(got)
		for y := range n {
			for x := range n {
				if cmplx.Abs(got[x*n+y]-want[y*n+x]) > 1e-9 { // transposed
					t.Fatalf("n %d: frequency (%d, %d) is %v, want %v", n, x, y, got[x*n+y], want[y*n+x])
				}
			}
		}
		transform{n}.inverse(got)
		for i := range data {
			if cmplx.Abs(got[i]/complex(float64(n*n), 0)-data[i]) > 1e-12 {
				t.Fatalf("n %d: %v came back as %v", n, data[i], got[i])
			}
		}
	}
}

// Kuglin and Hines: a picture against itself peaks at 1, moved round by whole pixels at 1 where it has moved to.
func TestCorrelationPeaksAtTheShift(t *testing.T) {
	const n = 64
	random := rand.New(rand.NewPCG(2, 2))
	picture := make([]complex128, n*n)
	for i := range picture {
		picture[i] = complex(random.NormFloat64(), 0)
	}
	tr := transform{n}
	base := spectrum{values: append([]complex128(nil), picture...)}
	tr.forward(base.values)
	for _, shift := range [][2]int{{0, 0}, {3, 0}, {-7, 5}, {15, -15}} {
		moved := spectrum{values: make([]complex128, n*n)}
		for y := range n {
			for x := range n {
				moved.values[(y+shift[1]+n)%n*n+(x+shift[0]+n)%n] = picture[y*n+x]
			}
		}
		tr.forward(moved.values)
		if p := tr.correlate(base, moved, 0, n/4); p.x != shift[0] || p.y != shift[1] || math.Abs(p.height-1) > 1e-6 {
			t.Errorf("moved by %v: %+v", shift, p)
		}
	}
	for i := range picture {
		picture[i] = complex(random.NormFloat64(), 0)
	}
	other := spectrum{values: picture}
	tr.forward(other.values)
	if p := tr.correlate(base, other, 0, n/4); p.height >= minConfidence {
		t.Errorf("another picture: peak %.2f, trusted from %.2f", p.height, minConfidence)
	}
}

// Frequencies that hold nothing but noise are not counted; where no others are left there is no peak.
func TestNoiseAloneHasNoPeak(t *testing.T) {
	const n = 64
	random := rand.New(rand.NewPCG(3, 3))
	use := make([]uint8, n*n)
	for i := range use {
		use[i] = 1
	}
	noise := func() []int32 {
		out := make([]int32, n*n)
		for i := range out {
			out[i] = 400 + int32(math.Round(10*random.NormFloat64()))
		}
		return out
	}
	tr := transform{n}
	if p := tr.correlate(tr.look(noise(), use), tr.look(noise(), use), 100, n/4); p != (peak{}) {
		t.Errorf("two pictures of noise: %+v", p)
	}
}

func TestBoxSumsAreSumsOverBoxes(t *testing.T) {
	random := rand.New(rand.NewPCG(4, 4))
	for _, size := range [][3]int{{1, 1, 0}, {7, 5, 1}, {7, 5, 3}, {4, 9, 12}} {
		w, h, radius := size[0], size[1], size[2]
		values := make([]int32, w*h)
		for i := range values {
			values[i] = int32(random.IntN(1000) - 300)
		}
		got := boxSums(values, w, h, radius)
		for y := range h {
			for x := range w {
				var want int64
				for v := max(y-radius, 0); v <= min(y+radius, h-1); v++ {
					for u := max(x-radius, 0); u <= min(x+radius, w-1); u++ {
						want += int64(values[v*w+u])
					}
				}
				if got[y*w+x] != want {
					t.Fatalf("%d x %d, radius %d: (%d, %d) is %d, want %d", w, h, radius, x, y, got[y*w+x], want)
				}
			}
		}
	}
}
