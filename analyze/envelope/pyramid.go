package envelope

import "math"

const (
	// passband is the highest frequency, as a share of a stage's rate, that the stage holds unchanged.
	// What folds back from beyond half the rate falls between it and 1 - passband.
	passband = 0.4
	// attenuation in dB of all that would fold back below the passband.
	attenuation = 96
	// halfTaps is the number of different coefficients beside the middle one, and reach the samples that the filter
	// looks to either side. Kaiser's estimate asks for (attenuation - 7.95) / (14.36 * transition) + 1 coefficients, the
	// transition being (1 - 2*passband)/2 of the rate before halving: 62, of which every other one is 0.
	halfTaps = 16
	reach    = 2*halfTaps - 1
)

// halfBand gives the coefficients at the offsets 1, 3, 5 ... of a half-band low-pass filter that looks as far ahead as
// it looks back. The one at offset 0 is 1/2, those at the other even offsets are 0. It is a sinc under a Kaiser
// window (Kaiser 1974; the formulas as in Oppenheim and Schafer, "Discrete-Time Signal Processing", 7.5.3, from memory).
func halfBand() [halfTaps]float64 {
	const beta = 0.1102 * (attenuation - 8.7)
	var taps [halfTaps]float64
	sum := 0.0
	for i := range taps {
		offset := float64(2*i + 1)
		sinc := 1 / (math.Pi * offset)
		if i%2 == 1 {
			sinc = -sinc
		}
		x := offset / (reach + 1)
		taps[i] = sinc * bessel0(beta*math.Sqrt(1-float64(x*x)))
		sum += taps[i]
	}
	for i := range taps { // both sides and the middle sum to 1: a steady level stays
		taps[i] = roundCoefficient(taps[i] / (4 * sum))
	}
	return taps
}

// bessel0 is the modified Bessel function of the first kind and order 0, by its power series.
func bessel0(x float64) float64 {
	sum, term := 1.0, 1.0
	for k := 1.0; term > sum*1e-17; k++ {
		term *= x / (2 * k)
		term *= x / (2 * k)
		sum += term
	}
	return sum
}

// roundCoefficient drops the bits in which processors differ over sines and roots.
func roundCoefficient(v float64) float64 { return math.Round(v*(1<<40)) / (1 << 40) }

// pyramid holds the last part of one channel at the full rate, at half of it, a quarter and so on. Sample m of stage s
// stands at the time of sample m * 2^s of the song: the filters look to both sides, so there is no lag.
type pyramid struct {
	taps   [halfTaps]float64
	stages []stage
}

// stage is a stretch of a signal.
type stage struct {
	first   int64 // number of samples[0]
	samples []float64
}

func (s *stage) end() int64 { return s.first + int64(len(s.samples)) }

// newPyramid expects its first sample to be number first.
func newPyramid(stages int, first int64) *pyramid {
	p := &pyramid{taps: halfBand(), stages: make([]stage, stages)}
	p.stages[0].first = first
	for s := 1; s < stages; s++ {
		p.stages[s].first = ceilHalf(p.stages[s-1].first + reach)
	}
	return p
}

func ceilHalf(n int64) int64 { return (n + 1) >> 1 }

// push appends samples and all that follows from them in the slower stages.
func (p *pyramid) push(samples []float32) {
	full := &p.stages[0]
	for _, v := range samples {
		full.samples = append(full.samples, float64(v))
	}
	for s := 1; s < len(p.stages); s++ {
		from, to := &p.stages[s-1], &p.stages[s]
		count := (from.end()-1-reach)>>1 - to.end() + 1
		if count <= 0 {
			break
		}
		at := 2*to.end() - from.first // of the middle coefficient
		for range count {
			to.samples = append(to.samples, p.filter(from.samples[at-reach:at+reach+1]))
			at += 2
		}
	}
}

// filter weighs the 2*reach+1 samples of x. Two sums side by side keep the processor busier than one.
func (p *pyramid) filter(samples []float64) float64 {
	x, taps := (*[2*reach + 1]float64)(samples), &p.taps
	near, far := 0.0, 0.0
	for i := 0; i < halfTaps/2; i++ {
		near += float64(taps[i] * (x[reach-1-2*i] + x[reach+1+2*i]))
		far += float64(taps[halfTaps/2+i] * (x[reach-1-halfTaps-2*i] + x[reach+1+halfTaps+2*i]))
	}
	return x[reach]/2 + (near + far)
}

// forget drops what neither the slower stages nor anyone else needs: keep[s] is the first sample of stage s that
// someone does.
func (p *pyramid) forget(keep []int64) {
	for s := range p.stages {
		first := keep[s]
		if s+1 < len(p.stages) {
			first = min(first, 2*p.stages[s+1].end()-reach)
		}
		here := &p.stages[s]
		drop := min(first-here.first, int64(len(here.samples)))
		if drop <= 0 {
			continue
		}
		here.samples = here.samples[:copy(here.samples, here.samples[drop:])]
		here.first += drop
	}
}
