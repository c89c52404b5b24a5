// Package envelope measures how loud a song is in each band, once a frame.
//
// The envelope of frame n is the band's RMS amplitude in a Hann window centred on the frame's middle,
// (n-1/2)/fps, so that it neither lags nor leads. It is read from the spectrum of that window: with X the
// transform of the windowed samples, zero-padded to N, and w the window,
//
//	RMS^2 = 2 / (N * sum of w^2) * sum over the band's bins of |X|^2
//
// which is A^2/2 for a sine of amplitude A (Harris, "On the use of windows for harmonic analysis with the
// discrete Fourier transform", 1978: Parseval's theorem and the window's noise gain). Power is averaged over
// the channels, so what is out of phase between them still counts. The steady part of the signal, DC, never does.
//
// A low band is read from a slower copy of the song (see pyramid), because a long window at the full rate would
// cost most of the time and tell nothing more. Values are rounded to 2^-20, about -120 dB, so that what
// is decided from them does not depend on the last bits of a processor's arithmetic.
package envelope

import (
	"fmt"
	"math"
	"runtime"

	"colonnade/analyze/timing"
)

// Band is a range of frequencies in Hz.
type Band struct{ LowHz, HighHz float64 }

// Source is a song as a stream.
type Source interface {
	// Read fills dst[channel][0:n] with samples, full scale being -1 to 1, and gives n. It gives io.EOF at the end,
	// with the last samples or after them.
	Read(dst [][]float32) (n int, err error)
}

// Envelopes hold a song's loudness.
type Envelopes struct {
	Samples int64       // length of the song in samples of one channel
	Values  [][]float64 // Values[band][n-1] is the RMS amplitude in frame n: a full-scale sine reads 0.7071
	Windows []Window    // how each band was read
}

// Window tells how a band is read: the longer the window, the finer it tells frequencies apart and the more it
// blurs time.
type Window struct {
	Seconds float64 // length, from zero to zero; half of it is what a click is spread over, to half its height
	Samples int     // the same in samples at Rate
	Rate    float64 // samples a second of the copy of the song that the band is read from
}

const (
	// blockSamples is how much is read at a time: long enough that starting the workers costs nothing,
	// short enough that a song of any length takes a few megabytes.
	blockSamples = 1 << 16
	// unknown stands for the length of a song whose end has not been seen: longer than any, and small enough to be
	// multiplied by the parts of a sample.
	unknown = int64(math.MaxInt64 / 32)
	// steps is the reciprocal of the precision of a value.
	steps = 1 << 20
	// maxChannels and maxBands keep a mistaken header or list from filling the memory.
	maxChannels, maxBands = 256, 1000
)

// Measure reads source to its end and gives the envelope of each band in each frame of rate.
//
// There are rate.FrameCount frames. Before its first and behind its last sample the song is heard mirrored, so that
// its first and last frames read neither less nor more than their sound. A band whose lower edge is at or above half
// of sampleRate reads 0. The errors are those of source, impossible arguments, and samples that are not numbers.
func Measure(source Source, sampleRate, channels int, bands []Band, rate timing.Rate) (*Envelopes, error) {
	return measure(source, sampleRate, channels, bands, rate, runtime.GOMAXPROCS(0), blockSamples)
}

// measure is Measure on a number of workers and by blocks of a length, neither of which changes the result.
func measure(source Source, sampleRate, channels int, bands []Band, rate timing.Rate, workers, block int) (*Envelopes, error) {
	if err := validate(sampleRate, channels, bands, rate); err != nil {
		return nil, err
	}
	plan := newPlan(sampleRate, bands, rate)
	listener := newListener(plan, channels, workers)
	in := startIntake(source, sampleRate, channels, block)

	// The reflection before the first sample is made of the samples behind it, so those are gathered first.
	head := make([][]float32, channels)
	known := unknown // the song's length, once its end is seen
	for int64(len(head[0])) < plan.margin && known == unknown {
		samples, more, err := in.next()
		if err != nil {
			return nil, err
		}
		for c := range head {
			head[c] = append(head[c], samples[c]...)
		}
		if !more {
			known = int64(len(head[0]))
		}
	}
	if known == 0 {
		return listener.result(0), nil
	}
	listener.push(reflectionBefore(head, plan.margin, known))
	total := int64(0)
	for part, more := head, known == unknown; ; {
		listener.push(part)
		total += int64(len(part[0]))
		if !more {
			break
		}
		var err error
		if part, more, err = in.next(); err != nil {
			return nil, err
		}
	}
	listener.finish(total)
	return listener.result(total), nil
}

func validate(sampleRate, channels int, bands []Band, rate timing.Rate) error {
	switch {
	case sampleRate < 1:
		return fmt.Errorf("song: %d samples a second; a song has at least 1", sampleRate)
	case channels < 1 || channels > maxChannels:
		return fmt.Errorf("song: %d channels; 1 to %d can be heard", channels, maxChannels)
	case rate.Num < 1 || rate.Den < 1:
		return fmt.Errorf("frame rate %d/%d is not positive; 25 is a common choice", rate.Num, rate.Den)
	case len(bands) > maxBands:
		return fmt.Errorf("%d bands; at most %d can be heard", len(bands), maxBands)
	}
	for i, band := range bands {
		if !(band.LowHz >= 0 && band.LowHz < band.HighHz) || math.IsInf(band.HighHz, 1) {
			return fmt.Errorf("band %d is %v to %v Hz; give a lower edge of 0 or more and an upper edge above it",
				i+1, band.LowHz, band.HighHz)
		}
	}
	return nil
}

// quantise rounds to the precision of a value.
func quantise(v float64) float64 { return math.Round(v*steps) / steps }
