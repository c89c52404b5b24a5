package envelope

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"github.com/mjibson/go-dsp/fft"
	"gonum.org/v1/gonum/dsp/fourier"
)

// TestTransformIsTheSumOfItsDefinition, bin by bin, at every size up to 64.
func TestTransformIsTheSumOfItsDefinition(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	for size := 1; size <= 64; size *= 2 {
		x := noise(random, size)
		transform, z := newTransform(size), append([]complex128(nil), x...)
		transform.of(z)
		for k := range size {
			want := complex128(0)
			for i, v := range x {
				sin, cos := math.Sincos(-2 * math.Pi * float64(i*k%size) / float64(size))
				want += v * complex(cos, sin)
			}
			if got := z[transform.place[k]]; cmplx.Abs(got-want) > 1e-13*float64(size) {
				t.Errorf("size %d, bin %d: %v, by the definition %v", size, k, got, want)
			}
		}
	}
}

// TestTransformIsThatOfTheLibraries at the sizes in use.
func TestTransformIsThatOfTheLibraries(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 4))
	for size := 128; size <= 1<<15; size *= 2 {
		x := noise(random, size)
		one, other := fft.FFT(x), fourier.NewCmplxFFT(size).Coefficients(nil, x)
		transform := newTransform(size)
		transform.of(x)
		for k := range size {
			got := x[transform.place[k]]
			if cmplx.Abs(got-one[k]) > 1e-12*math.Sqrt(float64(size)) || cmplx.Abs(got-other[k]) > 1e-12*math.Sqrt(float64(size)) {
				t.Fatalf("size %d, bin %d: %v, the libraries say %v and %v", size, k, got, one[k], other[k])
			}
		}
	}
}

// TestRootsLieOnTheCircle: to within a few units of the last place of math.Sincos.
func TestRootsLieOnTheCircle(t *testing.T) {
	for _, size := range []int{1, 2, 4, 8, 1 << 15} {
		for k, w := range roots(size) {
			sin, cos := math.Sincos(-2 * math.Pi * float64(k) / float64(size))
			if cmplx.Abs(w-complex(cos, sin)) > 1e-15 {
				t.Fatalf("root %d of %d is %v, not %v", k, size, w, complex(cos, sin))
			}
		}
	}
}

func noise(random *rand.Rand, size int) []complex128 {
	x := make([]complex128, size)
	for i := range x {
		x[i] = complex(random.Float64()-0.5, random.Float64()-0.5)
	}
	return x
}

// BenchmarkTransform holds the transform against those of two libraries.
func BenchmarkTransform(b *testing.B) {
	for _, size := range []int{256, 4096} {
		x := noise(rand.New(rand.NewPCG(5, 6)), size)
		z := make([]complex128, size)
		own, other := newTransform(size), fourier.NewCmplxFFT(size)
		for name, transform := range map[string]func(){
			"own":    func() { copy(z, x); own.of(z) },
			"gonum":  func() { other.Coefficients(z, x) },
			"go-dsp": func() { fft.FFT(x) },
		} {
			b.Run(fmt.Sprint(name, " ", size), func(b *testing.B) {
				for b.Loop() {
					transform()
				}
			})
		}
	}
}
