package envelope

import (
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"

	"colonnade/analyze/timing"
)

// direct is the envelope by its definition alone: one Hann window of the band's length at the song's own rate, centred
// on the frame's middle to a fraction of a sample, a transform so long that its bins hardly need splitting at the
// band's edges, and no slower copies.
func direct(channels [][]float32, sampleRate int, band Band, seconds float64, rate timing.Rate, frame int) float64 {
	n := int64(len(channels[0]))
	middle := (float64(frame) - 0.5) * float64(rate.Den) / float64(rate.Num) * float64(sampleRate)
	half := seconds * float64(sampleRate) / 2
	first := int64(math.Ceil(middle - half))
	size := 1024
	for float64(size) < 16*half {
		size *= 2
	}
	transform, bin := fourier.NewFFT(size), float64(sampleRate)/float64(size)
	mean := 0.0
	for _, x := range channels {
		windowed, energy := make([]float64, size), 0.0
		for i := first; float64(i) < middle+half; i++ {
			w := 0.5 + 0.5*math.Cos(math.Pi*(float64(i)-middle)/half)
			at := i
			for at < 0 || at >= n { // the song's reflections
				if at < 0 {
					at = -1 - at
				} else {
					at = 2*n - 1 - at
				}
			}
			windowed[i-first] = w * float64(x[at])
			energy += w * w
		}
		sum := 0.0
		for k, z := range transform.Coefficients(nil, windowed) {
			hz := float64(k) * bin
			inside := math.Min(band.HighHz, hz+bin/2) - math.Max(band.LowHz, hz-bin/2)
			sum += math.Max(0, inside/bin) * (real(z)*real(z) + imag(z)*imag(z))
		}
		mean += 2 / (float64(size) * energy) * sum / float64(len(channels))
	}
	return math.Sqrt(mean)
}

// TestFastEnvelopeIsTheDirectOne: within 0.1 dB. Frames that hold hardly more than a window's foot, 74 dB below the
// loudest, may differ by as much as that: there a hundredth of a millisecond is a decibel.
func TestFastEnvelopeIsTheDirectOne(t *testing.T) {
	for _, c := range []struct {
		sampleRate int
		rate       timing.Rate
	}{
		{44100, pal},
		{48000, timing.Rate{Num: 24000, Den: 1001}},
		{22050, timing.Rate{Num: 60, Den: 1}},
	} {
		left, right := music(c.sampleRate)
		n := c.sampleRate * 397 / 100 // so that the last frame's middle lies behind the end
		left, right = left[:n], right[:n]
		e := hear(t, c.sampleRate, usualBands, c.rate, left, right)
		for b, band := range usualBands {
			faint := 2e-4 * slices.Max(e.Values[b])
			frames := len(e.Values[b])
			for frame := frames; frame >= 1; frame -= 16 + 3*b {
				want := direct([][]float32{left, right}, c.sampleRate, band, e.Windows[b].Seconds, c.rate, frame)
				got := e.Values[b][frame-1]
				if math.Abs(got-want) > want*(math.Pow(10, 0.1/20)-1)+faint {
					t.Errorf("%d Hz, %v frames a second, band %v, frame %d: %.7f, directly %.7f (%+.2f dB)",
						c.sampleRate, c.rate, band, frame, got, want, decibels(got/want))
				}
			}
		}
	}
}

// TestEnvelopeDoesNotDependOnPiecesBlocksOrWorkers compares bit by bit.
func TestEnvelopeDoesNotDependOnPiecesBlocksOrWorkers(t *testing.T) {
	const sampleRate = 22050
	left, right := music(sampleRate)
	rate := timing.Rate{Num: 30000, Den: 1001}
	for _, channels := range [][][]float32{{left, right}, {left}} {
		want := hear(t, sampleRate, usualBands, rate, channels...)
		for _, c := range []struct{ piece, block, workers int }{
			{1, blockSamples, 2}, {777, blockSamples, 1}, {0, 1 << 10, 3}, {4097, 1009, 2}, {0, 1 << 20, 5},
		} {
			source := &heldSource{channels: channels, piece: c.piece}
			got, err := measure(source, sampleRate, len(channels), wholeBands(usualBands), rate, c.workers, c.block)
			if err != nil {
				t.Fatal(err)
			}
			for b := range usualBands {
				if !slices.Equal(got.Values[b], want.Values[b]) {
					t.Errorf("%d channels in pieces of %d, blocks of %d, by %d workers: band %v differs", len(channels), c.piece, c.block, c.workers, usualBands[b])
				}
			}
		}
	}
}

// TestOneChannelIsHeardLikeTwoThatAreAlike: the frames of a mono song share their transforms in pairs, those of a stereo
// song do not.
func TestOneChannelIsHeardLikeTwoThatAreAlike(t *testing.T) {
	const sampleRate = 22050
	x, _ := music(sampleRate)
	x = x[:sampleRate*3-200] // an odd number of frames, 75
	one, two := hear(t, sampleRate, usualBands, pal, x), hear(t, sampleRate, usualBands, pal, x, x)
	for b, band := range usualBands {
		for n, got := range one.Values[b] {
			if math.Abs(got-two.Values[b][n]) > 1.5/steps {
				t.Errorf("%v, frame %d: %.7f as one channel, %.7f as two", band, n+1, got, two.Values[b][n])
			}
		}
	}
}

// TestSongOfAnyLengthTakesLittleMemory: a minute passes through, under a fifth of it is ever held.
func TestSongOfAnyLengthTakesLittleMemory(t *testing.T) {
	l := newListener(newPlan(44100, wholeBands(usualBands), timing.Rate{Num: 1, Den: 1}), 1, 2)
	block := [][]float32{make([]float32, blockSamples)}
	for range 60 * 44100 / blockSamples {
		l.push(block)
	}
	held := 0
	for _, s := range l.channels[0].stages {
		held += cap(s.samples)
	}
	if held > 8*blockSamples {
		t.Errorf("%d samples are held after a minute; at most %d are needed", held, 8*blockSamples)
	}
}
