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
// The window is as short as telling a band from its neighbours an octave away by 40 dB allows, and no shorter than two
// frames, so that a sound that sets in is half risen no more than 40 ms early in a band down to 16 Hz. A low band is
// read from a slower copy of the song (see pyramid), because a long window at the full rate would cost most of the
// time and tell nothing more. Values are rounded to 2^-20, about -120 dB, so that what
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

// Everything is the band of all there is. Its envelope is the RMS of the samples themselves, less their steady part.
func Everything() Band { return Band{0, math.Inf(1)} }

// IsEverything tells that band from all others.
func (b Band) IsEverything() bool { return b.LowHz == 0 && math.IsInf(b.HighHz, 1) }

// String is "16-60 Hz" or "all".
func (b Band) String() string {
	if b.IsEverything() {
		return "all"
	}
	return fmt.Sprintf("%g-%g Hz", b.LowHz, b.HighHz)
}

// Channel says which of a song's channels are heard.
type Channel int

// The channels. Of a song that has but one, left and right are that one.
const (
	Both  Channel = iota // all there are, their powers averaged
	Left                 // the first
	Right                // the second
)

// Part is what an envelope is of.
type Part struct {
	Band    Band
	Channel Channel
	// Onset asks for what sets in in the band in place of what sounds there: the spectral flux, see onset.go.
	Onset bool
}

// Source is a song as a stream.
type Source interface {
	// Read fills dst[channel][0:n] with samples, full scale being -1 to 1, and gives n. It gives io.EOF at the end,
	// with the last samples or after them.
	Read(dst [][]float32) (n int, err error)
}

// Envelopes hold a song's loudness.
type Envelopes struct {
	Samples int64       // length of the song in samples of one channel
	Values  [][]float64 // Values[part][n-1] is the RMS amplitude in frame n: a full-scale sine reads 0.7071
	Windows []Window    // how each part was read
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

// Measure is MeasureParts for bands of both channels.
func Measure(source Source, sampleRate, channels int, bands []Band, rate timing.Rate) (*Envelopes, error) {
	return MeasureParts(source, sampleRate, channels, wholeBands(bands), rate)
}

func wholeBands(bands []Band) []Part {
	parts := make([]Part, len(bands))
	for i, band := range bands {
		parts[i].Band = band
	}
	return parts
}

// MeasureParts reads source to its end and gives the envelope of each part in each frame of rate.
//
// There are rate.FrameCount frames. Before its first and behind its last sample the song is heard mirrored, so that
// its first and last frames read neither less nor more than their sound. A band whose lower edge is at or above half
// of sampleRate reads 0. The errors are those of source, impossible arguments, and samples that are not numbers.
func MeasureParts(source Source, sampleRate, channels int, parts []Part, rate timing.Rate) (*Envelopes, error) {
	if err := validate(sampleRate, channels, parts, rate); err != nil {
		return nil, err
	}
	// An onset is told from the levels of strips of its band.
	var read []Part
	for _, part := range parts {
		if !part.Onset {
			read = append(read, part)
			continue
		}
		for _, strip := range strips(part.Band, sampleRate, rate) {
			read = append(read, Part{Band: strip, Channel: part.Channel})
		}
	}
	all, err := measure(source, sampleRate, channels, read, rate, runtime.GOMAXPROCS(0), blockSamples)
	if err != nil {
		return nil, err
	}
	e := &Envelopes{Samples: all.Samples}
	for _, part := range parts {
		count := 1
		values, window := all.Values[0], all.Windows[0]
		if part.Onset {
			count = len(strips(part.Band, sampleRate, rate))
			values = onsets(all.Values[:count])
			for _, w := range all.Windows[:count] {
				if w.Seconds > window.Seconds {
					window = w
				}
			}
		}
		e.Values, e.Windows = append(e.Values, values), append(e.Windows, window)
		all.Values, all.Windows = all.Values[count:], all.Windows[count:]
	}
	return e, nil
}

// measure measures levels on a number of workers and by blocks of a length, neither of which changes the result.
func measure(source Source, sampleRate, channels int, parts []Part, rate timing.Rate, workers, block int) (*Envelopes, error) {
	plan := newPlan(sampleRate, parts, rate)
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

func validate(sampleRate, channels int, parts []Part, rate timing.Rate) error {
	switch {
	case sampleRate < 1:
		return fmt.Errorf("song: %d samples a second; a song has at least 1", sampleRate)
	case channels < 1 || channels > maxChannels:
		return fmt.Errorf("song: %d channels; 1 to %d can be heard", channels, maxChannels)
	case rate.Num < 1 || rate.Den < 1:
		return fmt.Errorf("frame rate %d/%d is not positive; 25 is a common choice", rate.Num, rate.Den)
	case len(parts) > maxBands:
		return fmt.Errorf("%d bands; at most %d can be heard", len(parts), maxBands)
	}
	for i, part := range parts {
		band := part.Band
		if band.IsEverything() {
			continue
		}
		if !(band.LowHz >= 0 && band.LowHz < band.HighHz) || math.IsInf(band.HighHz, 1) {
			return fmt.Errorf("band %d is %v to %v Hz; give a lower edge of 0 or more and an upper edge above it",
				i+1, band.LowHz, band.HighHz)
		}
	}
	return nil
}

// quantise rounds to the precision of a value.
func quantise(v float64) float64 { return math.Round(v*steps) / steps }
