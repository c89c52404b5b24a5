package envelope

import (
	"fmt"
	"io"
	"testing"

	"colonnade/analyze/timing"
)

// noiseSource is a song of white noise: a block from a linear congruential generator, over and over, so that making it
// takes hardly any of the time measured.
type noiseSource struct {
	left  int
	block [8192]float32
}

func newNoiseSource(samples int) *noiseSource {
	s := &noiseSource{left: samples}
	state := uint32(1)
	for i := range s.block {
		state = state*1664525 + 1013904223
		s.block[i] = float32(int32(state)) / (1 << 31)
	}
	return s
}

func (s *noiseSource) Read(dst [][]float32) (int, error) {
	n := min(s.left, len(dst[0]), len(s.block)/2)
	for c := range dst {
		copy(dst[c][:n], s.block[c*1111:]) // a channel is not another's copy
	}
	if s.left -= n; s.left == 0 {
		return n, io.EOF
	}
	return n, nil
}

// BenchmarkMeasure hears four minutes at 44.1 kHz in six bands. Run it with -cpu 1 to have the processor's time.
func BenchmarkMeasure(b *testing.B) {
	six := []Band{{16, 60}, {60, 250}, {250, 500}, {500, 2000}, {2000, 6000}, {6000, 16000}}
	for _, c := range []struct {
		name     string
		channels int
		bands    []Band
		fps      int64
	}{{"stereo", 2, six, 25}, {"stereo", 2, six, 60}, {"mono", 1, six, 25}, {"usual bands", 2, usualBands, 25}} {
		b.Run(fmt.Sprintf("%s, %d frames a second", c.name, c.fps), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Measure(newNoiseSource(240*44100), 44100, c.channels, c.bands, timing.Rate{Num: c.fps, Den: 1}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
