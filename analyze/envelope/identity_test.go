package envelope

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"github.com/mjibson/go-dsp/fft"

	"colonnade/analyze/timing"
)

// TestWindowIsThePeriodicHann: its eight values for a length of 8 as in Harris 1978 (DFT-even form), its noise bandwidth
// of exactly 1.5 bins (ibid., table I), and copies half a length apart that add up to 1. The symmetric form, which most
// libraries give, fails each of these.
func TestWindowIsThePeriodicHann(t *testing.T) {
	const within = 1e-11
	for i, want := range []float64{0, .1464466094067, .5, .8535533905933, 1, .8535533905933, .5, .1464466094067} {
		if got := newGroup(0, 8, 8).hann[0][i]; math.Abs(got-want) > within {
			t.Errorf("value %d of 8 is %.12f, not %.12f", i, got, want)
		}
	}
	g := newGroup(0, 110, 128)
	for r, hann := range g.hann {
		sum, squares := 0.0, 0.0
		for i, w := range hann {
			sum += w
			squares += w * w
			if pair := w + hann[(i+55)%110]; math.Abs(pair-1) > within {
				t.Errorf("shift %d: values %d and half a window on add up to %.12f", r, i, pair)
			}
		}
		if bandwidth := 110 * squares / (sum * sum); math.Abs(bandwidth-1.5) > within {
			t.Errorf("shift %d has a noise bandwidth of %.12f bins", r, bandwidth)
		}
		if math.Abs(sum-g.sum) > 110*within || math.Abs(1/(128*squares)-g.scale) > within {
			t.Errorf("shift %d: sum %.12f and sum of squares %.12f are not those that are reckoned with", r, sum, squares)
		}
	}
}

// TestSineOnABinReadsExactly: of a sine on a bin of the window the three bins of the main lobe hold 1/4, 1 and 1/4
// times (A*N/4)^2, which the formula makes A^2/2 (arithmetic of the Hann window, Harris 1978).
func TestSineOnABinReadsExactly(t *testing.T) {
	const length, amplitude = 64, 0.8
	g := newGroup(0, length, length)
	x := make([]complex128, length)
	for i, w := range g.hann[0] {
		x[i] = complex(w*amplitude*math.Sin(2*math.Pi*10*float64(i)/length+0.7), 0)
	}
	spectrum := fft.FFT(x)
	for k, want := range map[int]float64{8: 0, 9: amplitude * length / 8, 10: amplitude * length / 4, 11: amplitude * length / 8, 12: 0} {
		if got := cmplx.Abs(spectrum[k]); math.Abs(got-want) > 1e-9 {
			t.Errorf("bin %d holds %.10f, not %.10f", k, got, want)
		}
	}
	s := splitShare(0, 8.5/length, 11.5/length, length)
	sum := 0.0
	for i, weight := range s.weights {
		sum += weight * power(spectrum[s.first+i])
	}
	if got := sum * g.scale; math.Abs(got-amplitude*amplitude/2) > 1e-9 {
		t.Errorf("mean power %.10f, not %.10f", got, amplitude*amplitude/2)
	}
}

// TestWholeSpectrumHoldsTheWindowedPower is Parseval's theorem: over all frequencies the envelope is that of
// the windowed samples themselves, less their mean.
func TestWholeSpectrumHoldsTheWindowedPower(t *testing.T) {
	const sampleRate, n, length = 64, 160, 32 // a window of half a second, and frames whose middles fall on samples
	random := rand.New(rand.NewPCG(3, 4))
	x := make([]float32, n)
	for i := range x {
		x[i] = float32(random.Float64()*2 - 0.7)
	}
	e := hear(t, sampleRate, []Band{{0, sampleRate / 2}}, timing.Rate{Num: 16, Den: 1}, x)
	if e.Windows[0].Samples != length {
		t.Fatalf("the window has %d samples, not %d", e.Windows[0].Samples, length)
	}
	for frame, got := range e.Values[0] {
		var weights, first, squares, energy float64
		for pass := range 2 {
			for i := range length {
				w := 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/length)
				v := float64(x[mirrored(int64(4*frame+2-length/2+i), n)])
				if pass == 0 {
					weights, first = weights+w, first+w*v
				} else {
					v -= first / weights
					squares, energy = squares+w*w*v*v, energy+w*w
				}
			}
		}
		if want := math.Sqrt(squares / energy); math.Abs(got-want) > 2./steps {
			t.Errorf("frame %d reads %.7f, its samples %.7f", frame+1, got, want)
		}
	}
}

// TestBandsThatMeetShareEveryBinBetweenThem: no bin is lost or counted twice, exact or split.
func TestBandsThatMeetShareEveryBinBetweenThem(t *testing.T) {
	const length = 100
	edges := []float64{0, 0.0133, 0.07, 0.2, 0.2011, 0.5}
	for _, size := range []int{128, 256} {
		sum := make([]float64, size/2+1)
		for i := range edges[1:] {
			s := newShare(i, edges[i], edges[i+1], length, size)
			for k, weight := range s.weights {
				sum[s.first+k] += weight
			}
		}
		for k, got := range sum {
			want := 2.0
			if k == size/2 {
				want = 1 // the last bin has no twin
			}
			if k > 0 && math.Abs(got-want) > 1e-9 {
				t.Errorf("size %d: bin %d counts %.10f times, not %v", size, k, got, want)
			}
		}
	}
}

// TestExactShareIsTheIntegralOfTheSpectrum sums a spectrum of a thousand times as many bins.
func TestExactShareIsTheIntegralOfTheSpectrum(t *testing.T) {
	const length, size, fine = 40, 128, 1 << 16
	g := newGroup(0, length, size)
	random := rand.New(rand.NewPCG(5, 6))
	coarse, long := make([]complex128, size), make([]complex128, fine)
	for i, w := range g.hann[0] {
		v := complex(w*(random.Float64()-0.5+math.Sin(0.9*float64(i))), 0)
		coarse[i], long[i] = v, v
	}
	coarse, long = fft.FFT(coarse), fft.FFT(long)
	for _, band := range [][2]float64{{0.01, 0.1}, {0.1431, 0.1437}, {0.16, 0.5}} {
		want, got := 0.0, 0.0
		for k := range fine / 2 {
			if hz := (float64(k) + 0.5) / fine; hz >= band[0] && hz < band[1] {
				want += (power(long[k]) + power(long[k+1])) / fine
			}
		}
		s := newShare(0, band[0], band[1], length, size)
		for k, weight := range s.weights {
			got += weight * power(coarse[s.first+k]) / size
		}
		if math.Abs(got/want-1) > 0.03 || (band[1] > 0.2 && math.Abs(got/want-1) > 1e-3) {
			t.Errorf("from %g to %g of the rate: %.7f, the integral is %.7f", band[0], band[1], got, want)
		}
	}
}
