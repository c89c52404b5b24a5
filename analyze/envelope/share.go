package envelope

import (
	"math"

	"github.com/mjibson/go-dsp/fft"
)

// share is what a band takes of a spectrum of size bins: mean power is the sum of weights times |X|^2 over the bins from
// first on, divided by size and by the sum of the squares of the window. Bin k counts for bin size-k too, so a
// weight within the band is 2.
type share struct {
	band    int
	first   int // bin of weights[0]
	weights []float64
}

// newShare gives the share of the band from low to high, as fractions of the rate, in the transform of a window
// of samples.
func newShare(band int, low, high float64, samples, size int) share {
	const half = 0.5 // half the rate: there is nothing above it
	high = math.Min(high, half)
	if low >= high {
		return share{band: band}
	}
	if size >= 2*samples {
		return exactShare(band, low, high, samples, size)
	}
	return splitShare(band, low, high, size)
}

// splitShare takes bin k to reach from k-1/2 to k+1/2, and gives the band the part of it that lies within.
func splitShare(band int, low, high float64, size int) share {
	s := share{band: band}
	low, high = low*float64(size), high*float64(size)
	for k := 1; k <= size/2; k++ {
		weight := math.Min(high, float64(k)+0.5) - math.Max(low, float64(k)-0.5)
		if weight <= 0 {
			continue
		}
		if s.weights == nil {
			s.first = k
		}
		s.weights = append(s.weights, roundCoefficient(2*weight))
	}
	return s
}

// exactShare is the integral of the window's power spectrum from low to high. |X(f)|^2 is a sum of cosines of the lags
// m, |m| < samples, whose factors are the autocorrelation of the windowed samples, and a transform of twice the
// length holds that whole. So the integral is a sum over its bins: each weight is the transform of the
// integrals of the cosines, 2 * (sin(2 pi high m) - sin(2 pi low m)) / (2 pi m).
func exactShare(band int, low, high float64, samples, size int) share {
	integrals := make([]float64, size)
	integrals[0] = 2 * (high - low)
	for m := 1; m < samples; m++ {
		turn := 2 * math.Pi * float64(m)
		integrals[m] = 2 * (math.Sin(high*turn) - math.Sin(low*turn)) / turn
		integrals[size-m] = integrals[m]
	}
	s := share{band: band, weights: make([]float64, size/2+1)}
	for k, z := range fft.FFTReal(integrals)[:size/2+1] {
		s.weights[k] = roundCoefficient(2 * real(z))
	}
	s.weights[0] /= 2 // these two have no twin
	s.weights[size/2] /= 2
	return s
}
