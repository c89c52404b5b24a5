package envelope

import (
	"testing"

	"colonnade/analyze/timing"
)

// TestClickIsLoudestInTheFrameThatShowsIt: frame floor(t*fps), counted from 0, by the definition of a frame. Clicks
// fall on every part of a frame, to within a millisecond of its ends.
func TestClickIsLoudestInTheFrameThatShowsIt(t *testing.T) {
	const sampleRate, clicks = 44100, 8
	for _, rate := range []timing.Rate{{Num: 24000, Den: 1001}, pal, {Num: 30, Den: 1}, {Num: 60, Den: 1}} {
		x := make([]float32, sampleRate*(clicks+1))
		var at []int64
		perFrame := rate.Den * sampleRate / rate.Num // samples, rounded down
		for i := range int64(clicks) {
			start := rate.MiddleSample(int((i+1)*rate.Num/rate.Den), 2*sampleRate, 2) - perFrame/2
			sample := start + 45 + (perFrame-90)*i/(clicks-1)
			x[sample] = 1000 // far above full scale, so that rounding hides nothing in the lowest band
			at = append(at, sample)
		}
		bands := []Band{{16, 60}, {60, 250}, {500, 2000}, {6000, 16000}}
		e := hear(t, sampleRate, bands, rate, x)
		for b, band := range bands {
			for _, sample := range at {
				want := int(sample * rate.Num / (rate.Den * sampleRate)) // counted from 0
				loudest := want - 5
				for frame := want - 5; frame <= want+5; frame++ {
					if e.Values[b][frame] > e.Values[b][loudest] {
						loudest = frame
					}
				}
				if loudest != want {
					t.Errorf("%v frames a second, %v: the click at sample %d is loudest in frame %d, not %d", rate, band, sample, loudest+1, want+1)
				}
			}
		}
	}
}
