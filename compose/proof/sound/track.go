package sound

import (
	"bytes"
	"fmt"
	"io"
	"math"

	"github.com/mewkiz/flac"
	"github.com/mewkiz/flac/frame"
	"github.com/mewkiz/flac/meta"
)

// Source is a song as a stream; see envelope.Source.
type Source interface {
	Read(dst [][]float32) (int, error)
}

// Track is a song, or a part of it, in a form that browsers play: FLAC with 16 bits a sample (RFC 9639).
type Track struct {
	Rate     int // samples a second
	Channels int // 1 or 2
	Samples  int // of one channel
	FLAC     []byte
}

const (
	fastest     = 48000 // samples a second: ears ask for no more
	slowest     = 8000  // below it browsers need not play a sound
	fullScale   = 1 << 15
	blockLength = 4096 // samples in a FLAC block, the usual length at these rates
)

// Recorder keeps a part of a song as it is read: a Source that passes another one on.
type Recorder struct {
	source      Source
	rate        int   // of the source
	from, to    int64 // the part kept, in samples of the source
	position    int64
	factor      int // by which the rate goes down
	mono        bool
	decimators  []*decimator
	channels    [][]float32
	mixed, part [][]float32
}

// expected is the share of its plain size that a song takes as FLAC when it may lose a bit or two of each sample, roughly
// (common practice, no source).
const expected = 0.6

// Record keeps the samples from to to, the end not among them, of a song, at the highest rate and the number of channels
// that are expected to fit into so many bytes.
func Record(source Source, sampleRate, channels int, from, to int64, budget int) *Recorder {
	r := &Recorder{source: source, rate: sampleRate, from: from, to: to}
	r.factor, r.mono = 1, channels == 1
	fits := func() bool {
		kept := 2
		if r.mono {
			kept = 1
		}
		plain := float64(to-from) / float64(r.factor) * float64(kept) * 2
		return sampleRate/r.factor <= fastest && plain*expected <= float64(budget)
	}
	for !fits() {
		// From half of a disc's rate on, one channel at a higher rate tells more than two at a lower one.
		if lower := lowerFactor(sampleRate, r.factor); !r.mono && (lower == r.factor || sampleRate/lower < fastest/3) {
			r.mono = true
		} else if lower == r.factor {
			break
		} else {
			r.factor = lower
		}
	}
	if r.mono {
		channels = 1
	}
	for range min(channels, 2) {
		r.decimators = append(r.decimators, newDecimator(r.factor))
		r.channels = append(r.channels, nil)
		r.mixed = append(r.mixed, nil)
	}
	return r
}

// lowerFactor is the next larger factor that divides the rate and leaves enough of it, or the same one.
func lowerFactor(rate, factor int) int {
	for next := factor + 1; rate/next >= slowest; next++ {
		if rate%next == 0 {
			return next
		}
	}
	return factor
}

// Read reads on.
func (r *Recorder) Read(dst [][]float32) (int, error) {
	n, err := r.source.Read(dst)
	first, last := max(r.from-r.position, 0), min(r.to-r.position, int64(n))
	r.position += int64(n)
	if first >= last {
		return n, err
	}
	r.part = r.part[:0]
	for _, channel := range dst {
		r.part = append(r.part, channel[first:last])
	}
	for i, samples := range r.mix(r.part) {
		r.channels[i] = r.decimators[i].push(r.channels[i], samples)
	}
	return n, err
}

// mix makes one or two channels of any number: the even ones go left, the odd ones right.
func (r *Recorder) mix(channels [][]float32) [][]float32 {
	if len(channels) == len(r.mixed) {
		return channels
	}
	for i := range r.mixed {
		if len(r.mixed[i]) < len(channels[0]) {
			r.mixed[i] = make([]float32, len(channels[0]))
		}
		r.mixed[i] = r.mixed[i][:len(channels[0])]
		clear(r.mixed[i])
		count := 0
		for c := i; c < len(channels); c += len(r.mixed) {
			count++
			for s, v := range channels[c] {
				r.mixed[i][s] += v
			}
		}
		for s := range r.mixed[i] {
			r.mixed[i][s] /= float32(count)
		}
	}
	return r.mixed
}

// most bits that are left out of a sample: what is left is still finer than most recordings' own noise.
const coarsest = 5

// Track codes what was kept. Where it does not fit into so many bytes, samples are kept less finely, then its rate goes down
// further, as far as a browser plays it.
func (r *Recorder) Track(budget int) (*Track, error) {
	for i, d := range r.decimators {
		r.channels[i] = d.finish(r.channels[i])
	}
	t := &Track{Rate: r.rate / r.factor}
	kept := r.channels
	if len(kept[0]) == 0 {
		return nil, fmt.Errorf("song: no sample lies in the part that is asked for")
	}
	for {
		t.Channels, t.Samples = len(kept), len(kept[0])
		var err error
		if t.FLAC, err = encode(kept, t.Rate, 0); err != nil || len(t.FLAC) <= budget {
			return t, err
		}
		if over := float64(len(t.FLAC)-budget) * 8 / float64(t.Channels*t.Samples); over <= coarsest-1 {
			for bits := uint(math.Ceil(over)); bits <= coarsest; bits++ {
				if t.FLAC, err = encode(kept, t.Rate, bits); err != nil || len(t.FLAC) <= budget {
					return t, err
				}
			}
		}
		switch lower := lowerFactor(t.Rate, 1); {
		case len(kept) == 2:
			for i, v := range kept[1] {
				kept[0][i] = (kept[0][i] + v) / 2
			}
			kept = kept[:1]
		case lower == 1:
			return t, nil
		default:
			d := newDecimator(lower)
			kept = [][]float32{d.finish(d.push(nil, kept[0]))}
			t.Rate /= lower
		}
	}
}

// encode writes samples as a FLAC file, without so many of their lowest bits; beyond full scale they are held there.
func encode(channels [][]float32, rate int, without uint) ([]byte, error) {
	var out bytes.Buffer
	info := &meta.StreamInfo{BlockSizeMin: blockLength, BlockSizeMax: blockLength, SampleRate: uint32(rate),
		NChannels: uint8(len(channels)), BitsPerSample: 16, NSamples: uint64(len(channels[0]))}
	encoder, err := flac.NewEncoder(&out, info)
	if err != nil {
		return nil, err
	}
	for from := 0; from < len(channels[0]); from += blockLength {
		length := min(blockLength, len(channels[0])-from)
		block := &frame.Frame{Header: frame.Header{HasFixedBlockSize: true, BlockSize: uint16(length), BitsPerSample: 16,
			Channels: frame.ChannelsMono}}
		if len(channels) == 2 {
			block.Channels = frame.ChannelsLR
		}
		for _, samples := range channels {
			coded := make([]int32, length)
			for i, v := range samples[from:][:length] {
				most := float64(int(fullScale) >> without)
				coded[i] = int32(min(max(math.RoundToEven(float64(v)*most), -most), most-1))
			}
			subframe := predict(coded)
			subframe.Wasted = without
			for i := range coded {
				coded[i] <<= without
			}
			block.Subframes = append(block.Subframes, subframe)
		}
		if err := encoder.WriteFrame(block); err != nil {
			return nil, err
		}
	}
	return out.Bytes(), encoder.Close()
}

// Drain reads a source to its end.
func Drain(source Source, channels int) error {
	block := make([][]float32, channels)
	for c := range block {
		block[c] = make([]float32, blockSamples)
	}
	for {
		if _, err := source.Read(block); err == io.EOF {
			return nil
		} else if err != nil {
			return err
		}
	}
}
