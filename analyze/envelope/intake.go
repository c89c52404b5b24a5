package envelope

import (
	"errors"
	"fmt"
	"io"
)

// maxEmptyReads is how many times in a row a source may give nothing before it is taken to be stuck.
const maxEmptyReads = 100

// intake reads a source ahead of its user, so that decoding and measuring share the processor's cores.
type intake struct {
	full  chan part
	empty chan [][]float32 // buffers to fill
	last  [][]float32      // what the user has in hand
}

type part struct {
	samples [][]float32
	more    bool
	err     error
}

// startIntake begins to read. The reading ends with the source or an error; the user must call next until then.
func startIntake(source Source, sampleRate, channels, block int) *intake {
	const buffers = 3 // one in hand, one waiting, one being filled
	in := &intake{full: make(chan part, buffers), empty: make(chan [][]float32, buffers)}
	for range buffers {
		buffer := make([][]float32, channels)
		for c := range buffer {
			buffer[c] = make([]float32, block)
		}
		in.empty <- buffer
	}
	go func() {
		position := int64(0)
		for buffer := range in.empty {
			p := fill(source, buffer)
			if p.err == nil {
				p.err = checkFinite(p.samples, position, sampleRate)
			}
			position += int64(len(p.samples[0]))
			in.full <- p
			if !p.more || p.err != nil {
				return
			}
		}
	}()
	return in
}

// next gives samples, valid until the next call, and whether there are more to come.
func (in *intake) next() (samples [][]float32, more bool, err error) {
	if in.last != nil {
		buffer := make([][]float32, len(in.last))
		for c := range buffer {
			buffer[c] = in.last[c][:cap(in.last[c])]
		}
		in.empty <- buffer
	}
	p := <-in.full
	in.last = p.samples
	return p.samples, p.more, p.err
}

// fill reads until the buffer is full or the source ends, so that a source's own pieces do not matter.
func fill(source Source, buffer [][]float32) part {
	block, n, empty := len(buffer[0]), 0, 0
	rest := make([][]float32, len(buffer))
	for n < block {
		for c := range rest {
			rest[c] = buffer[c][n:]
		}
		got, err := source.Read(rest)
		if got < 0 || got > block-n {
			return part{samples: cut(buffer, n), err: fmt.Errorf("song: %d samples were read where %d were asked for", got, block-n)}
		}
		n += got
		if err != nil {
			if errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
				err = nil
			}
			return part{samples: cut(buffer, n), err: err}
		}
		if got > 0 {
			empty = 0
		} else if empty++; empty == maxEmptyReads {
			return part{samples: cut(buffer, n), err: fmt.Errorf("song: %w", io.ErrNoProgress)}
		}
	}
	return part{samples: buffer, more: true}
}

func cut(buffer [][]float32, n int) [][]float32 {
	short := make([][]float32, len(buffer))
	for c := range short {
		short[c] = buffer[c][:n]
	}
	return short
}

// checkFinite refuses samples that no loudness can be told of, as a song kept in floating point may hold them.
func checkFinite(samples [][]float32, position int64, sampleRate int) error {
	for c, channel := range samples {
		for i, v := range channel {
			if v-v != 0 { // 0 for every number, NaN for what is none
				at := position + int64(i)
				return fmt.Errorf("song: sample %d of channel %d, at %.3f s, is %v; export the song anew as 16- or 24-bit WAV",
					at, c+1, float64(at)/float64(sampleRate), v)
			}
		}
	}
	return nil
}

// mirrored is the sample that is heard at index i of a song of n samples: the song is followed by itself backwards,
// then forwards, and so on, in both directions.
func mirrored(i, n int64) int64 {
	if i %= 2 * n; i < 0 {
		i += 2 * n
	}
	if i >= n {
		return 2*n - 1 - i
	}
	return i
}

// reflectionBefore is what is heard in the count samples before a song of length samples that begins with head.
func reflectionBefore(head [][]float32, count, length int64) [][]float32 {
	before := make([][]float32, len(head))
	for c := range before {
		before[c] = make([]float32, count)
		for i := range before[c] {
			before[c][i] = head[c][mirrored(int64(i)-count, length)]
		}
	}
	return before
}
