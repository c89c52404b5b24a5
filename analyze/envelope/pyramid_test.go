package envelope

import (
	"math"
	"testing"
)

// TestHalfBandFilterPassesAndStops: within 90 dB of 1 up to 0.4 of the rate it halves to, and 90 dB down from 0.6 of it,
// by the definition of a filter's response.
func TestHalfBandFilterPassesAndStops(t *testing.T) {
	taps := halfBand()
	limit := math.Pow(10, -90./20)
	for step := 0; step <= 1000; step++ {
		f := 0.5 * float64(step) / 1000 // of the rate before halving
		response := 0.5
		for i, tap := range taps {
			response += 2 * tap * math.Cos(2*math.Pi*f*float64(2*i+1))
		}
		if f <= passband/2 && math.Abs(response-1) > limit {
			t.Errorf("at %.4f of the rate the response is %.7f", f, response)
		}
		if f >= 0.5-passband/2 && math.Abs(response) > limit {
			t.Errorf("at %.4f of the rate the response is %.7f", f, response)
		}
	}
}

// TestStagesAreTheSongAtSlowerRatesWithoutLag: sample m of stage s is the tone's value at sample m*2^s.
func TestStagesAreTheSongAtSlowerRatesWithoutLag(t *testing.T) {
	const stages, first = 6, -4321
	p := newPyramid(stages, first)
	tone := func(i int64) float64 { return math.Sin(0.004*2*math.Pi*float64(i) + 0.5) } // 0.128 of the slowest rate
	next := int64(first)
	for _, block := range []int{1, 3, 1000, 77, 2048, 5, 6000} {
		x := make([]float32, block)
		for i := range x {
			x[i] = float32(tone(next))
			next++
		}
		p.push(x)
	}
	for s, stage := range p.stages {
		if expected := (next - first) >> s; int64(len(stage.samples)) < expected-2*reach {
			t.Errorf("stage %d holds %d samples, fewer than the filters account for", s, len(stage.samples))
		}
		for i, v := range stage.samples {
			if want := tone((stage.first + int64(i)) << s); math.Abs(v-want) > 2e-4 {
				t.Fatalf("stage %d, sample %d is %.6f, the tone is %.6f", s, stage.first+int64(i), v, want)
			}
		}
	}
}
