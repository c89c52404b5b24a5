package sound

import (
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"colonnade/analyze/envelope"
	"colonnade/analyze/song"
	"colonnade/analyze/timing"
)

// memory is a song at hand.
type memory struct {
	channels [][]float32
	at       int
}

func (m *memory) Read(dst [][]float32) (int, error) {
	n := 0
	for c := range dst {
		n = copy(dst[c], m.channels[c][m.at:])
	}
	if m.at += n; n == 0 {
		return 0, io.EOF
	}
	return n, nil
}

// band is the envelope of a band as the page reads it: bank.js in Go.
func (b *Bank) band(band envelope.Band) []float64 {
	length := math.Max(b.Readings[0].Seconds, math.Max(3/(band.HighHz-band.LowHz), periodsPerWindow/band.LowHz))
	lower := 0
	for lower+1 < len(b.Readings) && b.Readings[lower+1].Seconds <= length {
		lower++
	}
	upper, part := lower, 0.0
	if lower+1 < len(b.Readings) {
		upper = lower + 1
		part = math.Log(length/b.Readings[lower].Seconds) / math.Log(b.Readings[upper].Seconds/b.Readings[lower].Seconds)
	}
	out := make([]float64, len(b.Readings[0].Codes[0]))
	for i := range len(b.Edges) - 1 {
		if b.Edges[i] < band.LowHz || b.Edges[i+1] > band.HighHz {
			continue
		}
		power := func(reading, n int) float64 {
			r := b.Readings[reading]
			if i < r.First || i >= r.First+len(r.Codes) {
				r = b.Readings[0]
			}
			if r.Codes[i-r.First][n] == 0 {
				return 0
			}
			return math.Pow(10, (b.Loudest-b.Step*float64(255-int(r.Codes[i-r.First][n])))/10)
		}
		for n := range out {
			out[n] += (1-part)*power(lower, n) + part*power(upper, n)
		}
	}
	for n := range out {
		out[n] = math.Sqrt(out[n])
	}
	return out
}

// example is the stereo song of the example, its first seconds.
func example(t *testing.T) ([][]float32, int) {
	t.Helper()
	source, err := song.Open("../../../examples/cairns/song.wav")
	if err != nil {
		t.Fatal(err)
	}
	defer source.Close()
	rate := source.Info().Rate
	channels := [][]float32{make([]float32, 12*rate), make([]float32, 12*rate)}
	n, err := source.Read(channels)
	if err != nil || n != 12*rate {
		t.Fatalf("%d samples: %v", n, err)
	}
	return channels, rate
}

// bursts is noise that comes and goes within a fifth of a second, on one channel.
func bursts(rate int) [][]float32 {
	random := rand.New(rand.NewPCG(8, 9))
	x := make([]float32, 4*rate)
	for i := range x {
		t := float64(i) / float64(rate)
		x[i] = float32(0.5 * math.Exp(-20*math.Mod(t, 0.31)) * (2*random.Float64() - 1))
	}
	return [][]float32{x}
}

// TestCellsReadABandWithinHalfADecibel holds sums of cells against package envelope, for bands whose edges are anywhere on the
// grid, in every frame less than 30 dB below the band's loudest. Three frames in a hundred may be off by more: there a stroke
// begins or ends within a window of another length.
func TestCellsReadABandWithinHalfADecibel(t *testing.T) {
	music, musicRate := example(t)
	for _, c := range []struct {
		name     string
		channels [][]float32
		sampling int
		rate     timing.Rate
	}{
		{"music", music, musicRate, timing.Rate{Num: 25, Den: 1}},
		{"bursts of noise", bursts(22050), 22050, timing.Rate{Num: 30, Den: 1}},
	} {
		edges := Edges(c.sampling, []envelope.Band{{LowHz: 47, HighHz: 333}})
		bank, err := Measure(&memory{channels: c.channels}, c.sampling, len(c.channels), edges, c.rate)
		if err != nil {
			t.Fatal(err)
		}
		random := rand.New(rand.NewPCG(5, 6))
		var bands []envelope.Band
		for range 16 {
			low := random.IntN(len(edges) - 6)
			high := min(low+3+random.IntN(18), len(edges)-1)
			bands = append(bands, envelope.Band{LowHz: edges[low], HighHz: edges[high]})
		}
		exact, err := envelope.Measure(&memory{channels: c.channels}, c.sampling, len(c.channels), bands, c.rate)
		if err != nil {
			t.Fatal(err)
		}
		off, frames := 0, 0
		for i, band := range bands {
			got := bank.band(band)
			loudest := slices.Max(exact.Values[i])
			for n, want := range exact.Values[i] {
				if want < loudest*math.Pow(10, -30./20) {
					continue
				}
				frames++
				if math.Abs(20*math.Log10(got[n]/want)) > 0.5 {
					off++
				}
			}
		}
		t.Logf("%s: %d of %d frames are more than 0.5 dB off", c.name, off, frames)
		if frames < 1000 || off*33 > frames {
			t.Errorf("%s: %d of %d frames are more than 0.5 dB off", c.name, off, frames)
		}
	}
}

// TestEdgesHoldTheBandsOwn, rise, and end with the song.
func TestEdgesHoldTheBandsOwn(t *testing.T) {
	edges := Edges(22050, []envelope.Band{{LowHz: 31.7, HighHz: 9999}})
	if !slices.IsSorted(edges) || !slices.Contains(edges, 31.7) || !slices.Contains(edges, 9999) || edges[len(edges)-1] > 11025 {
		t.Errorf("%v", edges)
	}
	for i, edge := range edges[1:] {
		if edge < edges[i]*1.02 {
			t.Errorf("%g and %g Hz are one cell apart", edges[i], edge)
		}
	}
}
