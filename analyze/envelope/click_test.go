package envelope

import (
	"math/big"
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

// TestWindowsStandOnTheirFramesHoursOn: the middle of a window lies within a sixteenth of its copy's sample of its frame's,
// in exact arithmetic, in the first hour as in the thousandth.
func TestWindowsStandOnTheirFramesHoursOn(t *testing.T) {
	for _, rate := range []timing.Rate{{Num: 24000, Den: 1001}, pal, {Num: 30000, Den: 1001}, {Num: 60000, Den: 1001}, {Num: 25, Den: 2}, {Num: 1000, Den: 7}} {
		plan := newPlan(44100, wholeBands(append([]Band{Everything()}, usualBands...)), rate)
		for _, g := range plan.groups {
			for _, hours := range []int64{0, 1, 10, 1000} {
				from := int(hours*3600*rate.Num/rate.Den) + 1
				for frame := from; frame < from+50; frame++ {
					first, shift := plan.place(g, frame, unknown)
					middle := new(big.Rat).SetInt64(first + int64(g.length/2))
					middle.Sub(middle, big.NewRat(int64(shift), parts))
					exact := big.NewRat((2*int64(frame)-1)*rate.Den, 2*rate.Num)
					exact.Mul(exact, big.NewRat(44100, 1<<g.stage))
					if off := middle.Sub(middle, exact); off.Abs(off).Cmp(big.NewRat(1, 2*parts)) > 0 {
						t.Fatalf("%v frames a second, copy %d: the window of frame %d is %s samples off", rate, g.stage, frame, off.FloatString(3))
					}
				}
			}
		}
	}
}

// TestClicksOfTheLastMinuteOfAnHourAreLoudestInTheirFrames: the whole hour is heard, at a thousand samples a second.
func TestClicksOfTheLastMinuteOfAnHourAreLoudestInTheirFrames(t *testing.T) {
	const sampleRate = 1000
	rate := timing.Rate{Num: 30000, Den: 1001}
	x := make([]float32, 3600*sampleRate)
	var at []int64
	for sample := int64(3540*sampleRate + 170); sample < 3600*sampleRate-500; sample += 1009 {
		x[sample] = 1000
		at = append(at, sample)
	}
	e := hear(t, sampleRate, []Band{{100, 400}}, rate, x)
	if got := len(e.Values[0]); got != 107893 { // 107892 labels of drop-frame time code last 3599.9964 s: SMPTE ST 12-1
		t.Errorf("an hour has %d frames", got)
	}
	for _, sample := range at {
		want := int(sample * rate.Num / (rate.Den * sampleRate))
		if off := sample * rate.Num % (rate.Den * sampleRate); off < rate.Den*sampleRate/12 || off > rate.Den*sampleRate*11/12 {
			continue // so near to an end that the next frame does as well
		}
		loudest := want - 5
		for frame := want - 5; frame <= want+5; frame++ {
			if e.Values[0][frame] > e.Values[0][loudest] {
				loudest = frame
			}
		}
		if loudest != want {
			t.Errorf("the click at %.3f s is loudest in frame %d, not %d", float64(sample)/sampleRate, loudest+1, want+1)
		}
	}
}
