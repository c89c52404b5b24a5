package envelope

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"colonnade/analyze/timing"
)

// hearParts measures parts of samples held in memory.
func hearParts(t testing.TB, sampleRate int, parts []Part, rate timing.Rate, channels ...[]float32) *Envelopes {
	t.Helper()
	e, err := MeasureParts(&heldSource{channels: channels}, sampleRate, len(channels), parts, rate)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// TestEverythingReadsTheRMSOfTheSamples: 1/sqrt 2 for a sine, 1 for a square wave (their integrals), the root of the sum of
// squares for two tones at once (Parseval), and nothing for a steady voltage.
func TestEverythingReadsTheRMSOfTheSamples(t *testing.T) {
	const sampleRate = 44100
	low, high := sine(0.3, 100, 0, 1.2, sampleRate), sine(0.4, 15000, 0, 1.2, sampleRate)
	both, square, voltage := make([]float32, len(low)), make([]float32, len(low)), make([]float32, len(low))
	for i := range low {
		both[i], square[i], voltage[i] = low[i]+high[i], float32(1-2*(i/100%2)), 0.5
	}
	for _, c := range []struct {
		name string
		x    []float32
		want float64
	}{{"a low tone", low, 0.3 * math.Sqrt(0.5)}, {"both tones", both, 0.5 * math.Sqrt(0.5)}, {"a square wave", square, 1}} {
		e := hear(t, sampleRate, []Band{Everything()}, pal, c.x)
		for _, v := range inner(e.Values[0]) {
			wantDecibels(t, c.name, v, c.want, 0.02)
		}
		if e.Windows[0].Seconds != 0.08 {
			t.Errorf("everything is read from %g s, not from two frames", e.Windows[0].Seconds)
		}
	}
	if e := hear(t, sampleRate, []Band{Everything()}, pal, voltage); slices.Max(e.Values[0]) != 0 {
		t.Errorf("a steady voltage reads %g", slices.Max(e.Values[0]))
	}
}

// TestEverythingIsTheBandFromNothingToTheTop, where both have a window of half a second.
func TestEverythingIsTheBandFromNothingToTheTop(t *testing.T) {
	const sampleRate = 22050
	left, right := music(sampleRate)
	e := hear(t, sampleRate, []Band{Everything(), {0, sampleRate / 2}}, timing.Rate{Num: 4, Den: 1}, left, right)
	for n, v := range e.Values[0] {
		if math.Abs(v-e.Values[1][n]) > 1.5/steps {
			t.Errorf("frame %d: %.7f, as a band %.7f", n+1, v, e.Values[1][n])
		}
	}
}

func TestChannelsAreHeardApart(t *testing.T) {
	const sampleRate = 44100
	quiet, loud, silent := sine(0.25, 1000, 0, 1.2, sampleRate), sine(0.5, 1500, 0.3, 1.2, sampleRate), make([]float32, sampleRate*12/10)
	for _, band := range []Band{{500, 2000}, Everything()} {
		parts := []Part{{Band: band}, {Band: band, Channel: Left}, {Band: band, Channel: Right}}
		for _, c := range []struct {
			name              string
			channels          [][]float32
			both, left, right float64 // amplitudes
		}{
			{"one channel", [][]float32{loud}, 0.5, 0.5, 0.5},
			{"two", [][]float32{quiet, loud}, math.Sqrt((0.0625 + 0.25) / 2), 0.25, 0.5},
			{"the second silent", [][]float32{loud, silent}, 0.5 / math.Sqrt2, 0.5, 0},
			{"the first silent", [][]float32{silent, loud}, 0.5 / math.Sqrt2, 0, 0.5},
			{"three", [][]float32{loud, quiet, silent}, math.Sqrt((0.0625 + 0.25) / 3), 0.5, 0.25},
		} {
			e := hearParts(t, sampleRate, parts, pal, c.channels...)
			for i, want := range []float64{c.both, c.left, c.right} {
				for _, v := range inner(e.Values[i]) {
					if want == 0 && v != 0 {
						t.Errorf("%s, %v: a silent channel reads %g", c.name, band, v)
					} else if want > 0 {
						wantDecibels(t, c.name, v, want*math.Sqrt(0.5), 0.02)
					}
				}
			}
		}
	}
}

// TestOnsetIsTheRootOfTheSquaresOfTheRises: by its definition, worked out by hand.
func TestOnsetIsTheRootOfTheSquaresOfTheRises(t *testing.T) {
	got := onsets([][]float64{{0.375, 0, 0.75, 0.75, 0.5}, {0.5, 0, 1, 1, 0.25}})
	for n, want := range []float64{0.625, 0, 0.625, 1.25, 0} { // sides 3, 4 and 5
		if math.Abs(got[n]-want) > 1./steps {
			t.Errorf("frame %d: %g, not %g", n+1, got[n], want)
		}
	}
	if got := onsets(nil); len(got) != 0 {
		t.Errorf("no strips give %v", got)
	}
}

func TestStripsMeetAndFillTheirBand(t *testing.T) {
	for _, band := range append([]Band{Everything(), {6000, 30000}, {60, 61}, {0, 100}}, usualBands...) {
		all := strips(band, 44100, pal)
		if band.IsEverything() {
			band = Band{lowestStrip, 22050}
		}
		if all[0].LowHz != band.LowHz || all[len(all)-1].HighHz != band.HighHz {
			t.Errorf("%v: the strips are %v", band, all)
		}
		for i, strip := range all {
			if i > 0 && strip.LowHz != all[i-1].HighHz || strip.HighHz <= strip.LowHz {
				t.Errorf("%v: strip %d of %v", band, i+1, all)
			}
			if wide := (strip.HighHz - strip.LowHz) * windowSeconds(strip, 0.04); len(all) > 1 && wide < 2.99 {
				t.Errorf("%v: strip %v holds only %.1f cells", band, strip, wide)
			}
		}
	}
}

// TestDrumsAreToldFromWhatGoesOn: strokes over a held chord and steady hiss. In the frame of each stroke, the one before or
// the one behind, the onset is above all that it is between strokes, where the level hardly moves.
func TestDrumsAreToldFromWhatGoesOn(t *testing.T) {
	const sampleRate, every = 44100, 0.48 // seconds from stroke to stroke, twelve frames
	n := sampleRate * 4
	x := make([]float32, n)
	random := rand.New(rand.NewPCG(1, 2))
	for i := range x {
		now := float64(i) / sampleRate
		chord := 0.1 * (math.Sin(2*math.Pi*110*now) + math.Sin(2*math.Pi*165*now) + math.Sin(2*math.Pi*880*now))
		since := math.Mod(now, every)
		stroke := math.Exp(-since*20) * (math.Sin(2*math.Pi*80*since) + 2*random.Float64() - 1)
		x[i] = float32(chord + 0.02*(2*random.Float64()-1) + 0.3*stroke)
	}
	for _, band := range []Band{{60, 250}, {500, 2000}, {6000, 16000}, Everything()} {
		e := hearParts(t, sampleRate, []Part{{Band: band, Onset: true}, {Band: band}}, pal, x)
		if len(e.Values) != 2 || len(e.Values[0]) != 100 || e.Windows[0].Seconds < 0.08 {
			t.Fatalf("%v: %d parts, %+v", band, len(e.Values), e.Windows)
		}
		weakest, between := math.Inf(1), 0.0
		for frame := 12; frame+12 < 100; frame += 12 {
			weakest = min(weakest, slices.Max(e.Values[0][frame-1:frame+2]))
			between = max(between, slices.Max(e.Values[0][frame+3:frame+10]))
		}
		if weakest < 4*between {
			t.Errorf("%v: strokes read %.4f at least, what is between them up to %.4f", band, weakest, between)
		}
	}
}

// TestSoundInSilenceSetsInWithItsLevel, and once it goes on nothing sets in.
func TestSoundInSilenceSetsInWithItsLevel(t *testing.T) {
	const sampleRate = 44100
	x := sine(0.5, 1000, 0, 2, sampleRate)
	clear(x[:sampleRate])
	e := hearParts(t, sampleRate, []Part{{Band: Band{500, 2000}, Onset: true}}, pal, x)
	wantDecibels(t, "the onset of a tone", slices.Max(e.Values[0][24:27]), 0.5*math.Sqrt(0.5), 0.5)
	if later := slices.Max(e.Values[0][29:47]); later > 1e-4 {
		t.Errorf("a tone that goes on sets in with %g", later)
	}
	whole := hearParts(t, sampleRate, []Part{{Band: Band{500, 2000}, Onset: true}}, pal, x[sampleRate:])
	wantDecibels(t, "a song that begins with a tone", whole.Values[0][0], 0.5*math.Sqrt(0.5), 0.5)
}
