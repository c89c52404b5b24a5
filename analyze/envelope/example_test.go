package envelope_test

import (
	"fmt"
	"io"
	"math"

	"colonnade/analyze/envelope"
	"colonnade/analyze/timing"
)

// A tone is one second of a steady sine in one channel. It is a Source.
type tone struct {
	hz, amplitude float64
	rate, at      int
}

func (t *tone) Read(dst [][]float32) (int, error) {
	n := min(len(dst[0]), t.rate-t.at)
	for i := range n {
		phase := 2 * math.Pi * t.hz * float64(t.at+i) / float64(t.rate)
		dst[0][i] = float32(t.amplitude * math.Sin(phase))
	}
	t.at += n
	if n == 0 {
		return 0, io.EOF
	}
	return n, nil
}

// A steady sine of amplitude 0.5 reads 0.5/sqrt(2) = 0.354 in its band, and next to nothing an octave above it.
func ExampleMeasure() {
	song := &tone{hz: 100, amplitude: 0.5, rate: 44100}
	bands := []envelope.Band{{LowHz: 60, HighHz: 250}, {LowHz: 250, HighHz: 500}}
	loudness, err := envelope.Measure(song, 44100, 1, bands, timing.Rate{Num: 25, Den: 1})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(len(loudness.Values[0]), "frames")
	for i, band := range bands {
		fmt.Printf("%v: %.3f in frame 12\n", band, loudness.Values[i][11])
	}
	// Output:
	// 25 frames
	// 60-250 Hz: 0.354 in frame 12
	// 250-500 Hz: 0.000 in frame 12
}
