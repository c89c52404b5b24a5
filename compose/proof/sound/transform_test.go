package sound

import (
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
)

// TestTransformEqualsGonums for every size that is used, and the smallest.
func TestTransformEqualsGonums(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 8))
	for size := 1; size <= 1<<14; size *= 2 {
		x := make([]complex128, size)
		for i := range x {
			x[i] = complex(random.Float64()-0.5, random.Float64()-0.5)
		}
		want := fourier.NewCmplxFFT(size).Coefficients(nil, x)
		for k, got := range newTransform(size).of(x) {
			if cmplx.Abs(got-want[k]) > 1e-10 {
				t.Fatalf("size %d: bin %d is %v, not %v", size, k, got, want[k])
			}
		}
	}
}

func BenchmarkTransform(b *testing.B) {
	t, x := newTransform(4096), make([]complex128, 4096)
	for b.Loop() {
		t.of(x)
	}
}

func BenchmarkGonum(b *testing.B) {
	t, x, y := fourier.NewCmplxFFT(4096), make([]complex128, 4096), make([]complex128, 4096)
	for b.Loop() {
		t.Coefficients(y, x)
	}
}
