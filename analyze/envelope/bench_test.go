package envelope

import (
	"io"
	"testing"

	"colonnade/analyze/timing"
)

// noiseSource is white noise from a linear congruential generator, made as it is read.
type noiseSource struct {
	left  int
	state uint32
}

func (s *noiseSource) Read(dst [][]float32) (int, error) {
	n := min(s.left, len(dst[0]))
	for i := range n {
		for c := range dst {
			s.state = s.state*1664525 + 1013904223
			dst[c][i] = float32(int32(s.state)) / (1 << 31)
		}
	}
	if s.left -= n; s.left == 0 {
		return n, io.EOF
	}
	return n, nil
}

// BenchmarkMeasure hears four minutes of stereo at 44.1 kHz and 25 frames a second.
func BenchmarkMeasure(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Measure(&noiseSource{left: 240 * 44100}, 44100, 2, usualBands, timing.Rate{Num: 25, Den: 1}); err != nil {
			b.Fatal(err)
		}
	}
}
