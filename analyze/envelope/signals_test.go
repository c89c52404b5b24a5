package envelope

import (
	"io"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"

	"colonnade/analyze/timing"
)

// usualBands is a common division of music for display: common practice, no source.
var usualBands = []Band{{16, 60}, {60, 250}, {250, 500}, {500, 2000}, {2000, 4000}, {4000, 6000}, {6000, 16000}}

var pal = timing.Rate{Num: 25, Den: 1}

// heldSource gives samples held in memory, at most piece of them at a time; piece 0 gives what is asked for.
type heldSource struct {
	channels [][]float32
	piece    int
	position int
}

func (s *heldSource) Read(dst [][]float32) (int, error) {
	rest := len(s.channels[0]) - s.position
	if rest == 0 {
		return 0, io.EOF
	}
	n := min(rest, len(dst[0]))
	if s.piece > 0 {
		n = min(n, s.piece)
	}
	for c := range dst {
		copy(dst[c], s.channels[c][s.position:s.position+n])
	}
	s.position += n
	return n, nil
}

// hear measures samples held in memory.
func hear(t testing.TB, sampleRate int, bands []Band, rate timing.Rate, channels ...[]float32) *Envelopes {
	t.Helper()
	e, err := Measure(&heldSource{channels: channels}, sampleRate, len(channels), bands, rate)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// sine is a tone of an amplitude, a frequency and a phase in turns.
func sine(amplitude, hz, phase, seconds float64, sampleRate int) []float32 {
	x := make([]float32, int(seconds*float64(sampleRate)))
	for i := range x {
		x[i] = float32(amplitude * math.Sin(2*math.Pi*(hz*float64(i)/float64(sampleRate)+phase)))
	}
	return x
}

// coloured is noise of random phases whose power in each of the bins of its own length is exactly power(hz): what a
// band holds of it is known without chance. Its RMS is 1/8.
func coloured(n, sampleRate int, power func(hz float64) float64) []float32 {
	random := rand.New(rand.NewPCG(1, 2))
	spectrum := make([]complex128, n/2+1)
	for k := 1; k < n/2; k++ {
		sin, cos := math.Sincos(2 * math.Pi * random.Float64())
		size := math.Sqrt(power(float64(k) * float64(sampleRate) / float64(n)))
		spectrum[k] = complex(size*cos, size*sin)
	}
	sequence := fourier.NewFFT(n).Sequence(nil, spectrum)
	energy := 0.0
	for _, v := range sequence {
		energy += v * v
	}
	x := make([]float32, n)
	for i, v := range sequence {
		x[i] = float32(v / math.Sqrt(energy/float64(n)) / 8)
	}
	return x
}

// music is four seconds of what the bands meet in a song: a bass line, chords, a drum with a click at its head, hiss,
// and a rest.
func music(sampleRate int) (left, right []float32) {
	n := 4 * sampleRate
	left, right = make([]float32, n), make([]float32, n)
	random := rand.New(rand.NewPCG(7, 11))
	notes := []float64{41.2, 55, 36.7, 49, 220, 277.2, 329.6, 880, 1318.5, 3520}
	for i := range left {
		t := float64(i) / float64(sampleRate)
		if t > 2.9 && t < 3.3 {
			continue // the rest
		}
		beat := math.Mod(t, 0.47)
		l, r := 0.0, 0.0
		for k, hz := range notes {
			swell := 1 + math.Sin(2*math.Pi*t*(0.3+0.17*float64(k)))
			tone := swell / 2 * math.Sin(2*math.Pi*hz*t+float64(k))
			l += tone * 0.08
			r += tone * 0.08 * math.Cos(float64(k))
		}
		hit := math.Exp(-beat*25) * math.Sin(2*math.Pi*(50+120*math.Exp(-beat*40))*beat)
		hiss := math.Exp(-beat*12) * (random.Float64() - 0.5) * 0.4
		left[i], right[i] = float32(l+0.3*hit+hiss), float32(r+0.3*hit-hiss/2)
	}
	return left, right
}

func decibels(ratio float64) float64 { return 20 * math.Log10(ratio) }

func wantDecibels(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if off := decibels(got / want); !(math.Abs(off) <= within) {
		t.Errorf("%s reads %.6f, %+.3f dB off %.6f; at most %.2f dB is right", what, got, off, want, within)
	}
}

// rootMeanSquare of a band's values from frame first to last.
func rootMeanSquare(values []float64) float64 {
	sum := 0.0
	for _, v := range values {
		sum += v * v
	}
	return math.Sqrt(sum / float64(len(values)))
}
