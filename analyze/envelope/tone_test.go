package envelope

import (
	"math"
	"slices"
	"testing"

	"colonnade/analyze/timing"
)

// inner leaves out half a second at either end.
func inner(values []float64) []float64 { return values[13 : len(values)-13] }

func TestSteadySineReadsItsRMS(t *testing.T) {
	// 1/sqrt 2 of the amplitude: arithmetic of the sine. Full scale is 1, so a full-scale sine reads 0.7071.
	for _, sampleRate := range []int{44100, 48000} {
		for _, tone := range []struct{ amplitude, hz float64 }{
			{1, 30}, {0.25, 50}, {1, 75}, {1, 131}, {0.01, 372}, {1, 997}, {1, 1900}, {0.5, 3000}, {1, 5000}, {1, 10000}, {0.001, 15000},
		} {
			for _, band := range usualBands {
				if tone.hz < band.LowHz || tone.hz > band.HighHz {
					continue
				}
				e := hear(t, sampleRate, []Band{band}, pal, sine(tone.amplitude, tone.hz, 0.1, 2, sampleRate))
				for _, v := range inner(e.Values[0]) {
					wantDecibels(t, band.String(), v, tone.amplitude/math.Sqrt2, 0.1)
				}
			}
		}
	}
}

// TestNarrowBandReadsItsSine: third octaves about 10^(n/10) Hz, as those of IEC 61260-1, down to 32 Hz.
func TestNarrowBandReadsItsSine(t *testing.T) {
	const sampleRate = 44100
	for _, n := range []float64{15, 18, 22, 30, 37} {
		hz := math.Pow(10, n/10)
		band := Band{hz / math.Pow(10, 1./20), hz * math.Pow(10, 1./20)}
		e := hear(t, sampleRate, []Band{band}, timing.Rate{Num: 60, Den: 1}, sine(1, hz, 0.1, 2, sampleRate))
		for _, v := range e.Values[0][30 : len(e.Values[0])-30] {
			wantDecibels(t, band.String(), v, 1/math.Sqrt2, 0.1)
		}
	}
}

func TestSineAnOctaveOutsideReadsFortyDecibelsLess(t *testing.T) {
	bands := append([]Band{{14, 28}, {11220.2 / 16, 22387.2 / 16}, {100, 126}}, usualBands...)
	for _, sampleRate := range []int{44100, 48000} {
		for _, rate := range []timing.Rate{pal, {Num: 60, Den: 1}} {
			for _, band := range bands {
				for _, hz := range []float64{band.LowHz / 2, band.HighHz * 2} {
					if hz >= float64(sampleRate)/2 {
						continue
					}
					e := hear(t, sampleRate, []Band{band}, rate, sine(1, hz, 0.3, 2, sampleRate))
					values := e.Values[0][len(e.Values[0])/4 : len(e.Values[0])*3/4]
					if loudest := decibels(slices.Max(values) * math.Sqrt2); loudest > -40 {
						t.Errorf("%d Hz, %v frames a second: a sine of %g Hz reads %.1f dB in %v", sampleRate, rate, hz, loudest, band)
					}
				}
			}
		}
	}
}

// TestCentreTonesReadTrueInTheirOctaves: exact mid-band and edge frequencies of IEC 61260-1:2014, base 10,
// 1000*G^x and G^(+-1/2) of it with G = 10^(3/10).
func TestCentreTonesReadTrueInTheirOctaves(t *testing.T) {
	const sampleRate = 48000
	var bands []Band
	g := math.Pow(10, 0.3)
	for x := -6.0; x <= 4; x++ {
		middle := 1000 * math.Pow(g, x)
		bands = append(bands, Band{middle / math.Sqrt(g), middle * math.Sqrt(g)})
	}
	if low := bands[0].LowHz; math.Abs(low-11.2202) > 5e-5 { // as published for the nominal 16 Hz band
		t.Fatalf("the lowest octave begins at %.4f Hz, not 11.2202", low)
	}
	for own, band := range bands {
		e := hear(t, sampleRate, bands, pal, sine(0.5, band.LowHz*math.Sqrt(g), 0, 1.6, sampleRate))
		for b := range bands {
			values := inner(e.Values[b])
			if b == own {
				for _, v := range values {
					wantDecibels(t, band.String(), v, 0.5/math.Sqrt2, 0.1)
				}
			} else if loudest := slices.Max(values) / (0.5 / math.Sqrt2); (b-own > 1 || own-b > 1) && decibels(loudest) > -40 {
				t.Errorf("the centre of %v reads %.1f dB in %v", band, decibels(loudest), bands[b])
			}
		}
	}
}

// TestBandsOfAWaveAddUpToItsRMS: 1 for a full-scale square, 1/sqrt 3 for a triangle, 1/sqrt 2 for a sine (their
// integrals). The bands meet between the harmonics of 441 Hz.
func TestBandsOfAWaveAddUpToItsRMS(t *testing.T) {
	const sampleRate, period = 44100, 100
	bands := []Band{{200, 1000}, {1000, 5000}, {5000, 22050}}
	for _, wave := range []struct {
		name string
		at   func(phase float64) float64 // in turns
		rms  float64
	}{
		{"square", func(p float64) float64 { return math.Copysign(1, 0.5-p) }, 1},
		{"triangle", func(p float64) float64 { return 4*math.Abs(p-0.5) - 1 }, 1 / math.Sqrt(3)},
		{"sine", func(p float64) float64 { return math.Sin(2 * math.Pi * p) }, 1 / math.Sqrt2},
	} {
		x := make([]float32, sampleRate*2)
		for i := range x {
			x[i] = float32(wave.at((float64(i%period) + 0.5) / period))
		}
		e := hear(t, sampleRate, bands, pal, x)
		for frame := range inner(e.Values[0]) {
			sum := 0.0
			for b := range bands {
				sum += e.Values[b][frame+13] * e.Values[b][frame+13]
			}
			wantDecibels(t, wave.name, math.Sqrt(sum), wave.rms, 0.05)
		}
	}
}

func TestPowerIsAveragedOverChannels(t *testing.T) {
	const sampleRate = 44100
	x := sine(1, 1000, 0, 1.2, sampleRate)
	opposite, silent := make([]float32, len(x)), make([]float32, len(x))
	for i, v := range x {
		opposite[i] = -v
	}
	high, late := sine(1, 1500, 0.2, 1.2, sampleRate), sine(1, 1000, 0.25, 1.2, sampleRate)
	for _, c := range []struct {
		name     string
		channels [][]float32
		want     float64
	}{
		{"in phase", [][]float32{x, x}, math.Sqrt(1. / 2)},
		{"in opposite phase", [][]float32{x, opposite}, math.Sqrt(1. / 2)},
		{"a quarter turn apart", [][]float32{x, late}, math.Sqrt(1. / 2)},
		{"on the left alone", [][]float32{x, silent}, math.Sqrt(1. / 4)},
		{"on the right alone", [][]float32{silent, x}, math.Sqrt(1. / 4)},
		{"two pitches of one band", [][]float32{x, high}, math.Sqrt(1. / 2)},
		{"on the third of three", [][]float32{silent, silent, x}, math.Sqrt(1. / 6)},
		{"on five of six", [][]float32{x, x, opposite, silent, high, x}, math.Sqrt(5. / 12)},
	} {
		e := hear(t, sampleRate, []Band{{500, 2000}}, pal, c.channels...)
		for _, v := range inner(e.Values[0]) {
			wantDecibels(t, c.name, v, c.want, 0.02)
		}
	}
}

// TestFirstAndLastFramesOfASteadyToneReadLikeTheOthers: a tone cut at any phase has a kink where it is mirrored, which
// takes little from it; one cut at a crest has none, and reads the same throughout.
func TestFirstAndLastFramesOfASteadyToneReadLikeTheOthers(t *testing.T) {
	const sampleRate = 44100
	for _, c := range []struct {
		band Band
		hz   float64
	}{{Band{16, 60}, 35}, {Band{60, 250}, 130}, {Band{500, 2000}, 1000}, {Band{6000, 16000}, 9000}} {
		for phase := 0.0; phase < 1; phase += 0.125 {
			e := hear(t, sampleRate, []Band{c.band}, pal, sine(1, c.hz, phase, 1.003, sampleRate))
			values := e.Values[0]
			for _, v := range []float64{values[0], values[1], values[len(values)-2], values[len(values)-1]} {
				wantDecibels(t, c.band.String(), v, math.Sqrt(0.5), 0.5)
			}
		}
	}
}

func TestSongsShorterThanTheWindowAreHeardMirrored(t *testing.T) {
	const sampleRate = 44100
	for _, n := range []int{441, 4410, 882, 44100 / 5} { // whole half periods of 1 kHz, from crest to crest
		x := make([]float32, n)
		for i := range x {
			x[i] = float32(math.Cos(2 * math.Pi * 1000 * (float64(i) + 0.5) / sampleRate))
		}
		e := hear(t, sampleRate, []Band{{500, 2000}, {16, 60}}, pal, x)
		for frame, v := range e.Values[0] {
			wantDecibels(t, "a short tone", v, math.Sqrt(0.5), 0.01)
			if low := e.Values[1][frame]; low > 1e-4 {
				t.Errorf("%d samples of 1 kHz read %g at 16 to 60 Hz", n, low)
			}
		}
	}
	for _, n := range []int{0, 1, 2, 3, 5, 17, 39, 101} {
		for _, rate := range []timing.Rate{pal, {Num: 1, Den: 100}, {Num: 1000, Den: 1}} {
			e := hear(t, sampleRate, usualBands, rate, make([]float32, n))
			if got, want := len(e.Values[6]), rate.FrameCount(int64(n), sampleRate); got != want || e.Samples != int64(n) {
				t.Errorf("%d samples give %d frames of %d, counted as %d", n, got, want, e.Samples)
			}
		}
	}
}

// TestSongsOfEveryLengthEndWell: wherever the last frame and the last block happen to end.
func TestSongsOfEveryLengthEndWell(t *testing.T) {
	const sampleRate, whole = 8000, 7000
	x := sine(1, 200, 0.25, 1, sampleRate)
	for n := whole; n < whole+700; n++ {
		source := &heldSource{channels: [][]float32{x[:n]}}
		e, err := measure(source, sampleRate, 1, wholeBands([]Band{{60, 250}}), pal, 1, 500+n%7)
		if err != nil {
			t.Fatal(err)
		}
		if frames := (n + 319) / 320; len(e.Values[0]) != frames {
			t.Fatalf("%d samples give %d frames, not %d", n, len(e.Values[0]), frames)
		}
		wantDecibels(t, "the last frame", e.Values[0][len(e.Values[0])-1], math.Sqrt(0.5), 0.5)
	}
}

func TestSilenceAndSteadyVoltageReadZero(t *testing.T) {
	const sampleRate = 44100
	bands := append([]Band{{0, 40}}, usualBands...)
	x := make([]float32, 3*sampleRate)
	copy(x, sine(1, 440, 0, 1, sampleRate)) // a second of tone, then silence
	tone := hear(t, sampleRate, bands, pal, x)
	for i := range x {
		x[i] = 0.5
	}
	steady := hear(t, sampleRate, bands, pal, x)
	for b, band := range bands {
		for frame := range tone.Values[b] {
			if v := tone.Values[b][frame]; frame >= 32 && v != 0 {
				t.Errorf("%v, frame %d: silence reads %g", band, frame+1, v)
			}
			if v := steady.Values[b][frame]; v != 0 {
				t.Errorf("%v, frame %d: a steady 0.5 reads %g", band, frame+1, v)
			}
		}
	}
}

func TestBandsAboveHalfTheSampleRateReadWhatIsThere(t *testing.T) {
	const sampleRate = 22050
	e := hear(t, sampleRate, []Band{{6000, 16000}, {12000, 16000}}, pal, sine(1, 9000, 0, 1.2, sampleRate))
	for frame := range e.Values[0] {
		if frame > 2 && frame < 27 {
			wantDecibels(t, "6 to 16 kHz", e.Values[0][frame], math.Sqrt(0.5), 0.05)
		}
		if e.Values[1][frame] != 0 {
			t.Errorf("above half the sample rate %g is read", e.Values[1][frame])
		}
	}
}

// TestSlowFramesReadTheirMiddles: with one frame in four seconds the last one's middle may lie far behind the end.
func TestSlowFramesReadTheirMiddles(t *testing.T) {
	const sampleRate = 8000
	x := sine(1, 130, 0.25, 9, sampleRate)
	clear(x[:sampleRate])
	clear(x[3*sampleRate:])
	copy(x[8*sampleRate:], sine(0.5, 130, 0.25, 1, sampleRate))
	e, err := measure(&heldSource{channels: [][]float32{x}}, sampleRate, 1, wholeBands([]Band{{60, 250}}), timing.Rate{Num: 1, Den: 4}, 1, 1000)
	if err != nil {
		t.Fatal(err)
	}
	if len(e.Values[0]) != 3 {
		t.Fatalf("nine seconds are %d frames of four seconds", len(e.Values[0]))
	}
	wantDecibels(t, "frame 1", e.Values[0][0], math.Sqrt(0.5), 0.05)
	if e.Values[0][1] != 0 {
		t.Errorf("frame 2, silent at its middle, reads %g", e.Values[0][1])
	}
	wantDecibels(t, "frame 3, heard at the song's end", e.Values[0][2], math.Sqrt(0.125), 0.2)
}
