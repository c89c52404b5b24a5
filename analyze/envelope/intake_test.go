package envelope

import (
	"errors"
	"io"
	"math"
	"strings"
	"testing"

	"colonnade/analyze/timing"
)

// sourceFunc is a source made of its Read.
type sourceFunc func(dst [][]float32) (int, error)

func (f sourceFunc) Read(dst [][]float32) (int, error) { return f(dst) }

func TestWhatCannotBeHeardIsRefused(t *testing.T) {
	broken := errors.New("song.flac: frame 12 is damaged")
	ones := func(n int, err error) Source {
		return sourceFunc(func(dst [][]float32) (int, error) { return n, err })
	}
	short := func(v float32) Source {
		return &heldSource{channels: [][]float32{{0, 0, v}}}
	}
	good := []Band{{16, 60}}
	for _, c := range []struct {
		name                 string
		source               Source
		sampleRate, channels int
		bands                []Band
		rate                 timing.Rate
		want                 string
	}{
		{"a damaged song", ones(3, broken), 8000, 1, good, pal, broken.Error()},
		{"a song cut short", ones(0, io.ErrUnexpectedEOF), 8000, 1, good, pal, "unexpected EOF"},
		{"a source that is stuck", ones(0, nil), 8000, 1, good, pal, "no data"},
		{"a source that counts wrong", ones(1<<20, nil), 8000, 1, good, pal, "1048576 samples were read"},
		{"a sample that is not a number", short(float32(math.NaN())), 8000, 1, good, pal, "song: sample 2 of channel 1, at 0.000 s, is NaN; export"},
		{"an infinite sample", short(float32(math.Inf(-1))), 8000, 1, good, pal, "is -Inf"},
		{"no sample rate", short(0), 0, 1, good, pal, "0 samples a second"},
		{"no channels", short(0), 8000, 0, good, pal, "0 channels"},
		{"too many channels", short(0), 8000, 65535, good, pal, "65535 channels; 1 to 256"},
		{"no frame rate", short(0), 8000, 1, good, timing.Rate{}, "frame rate 0/0"},
		{"a band upside down", short(0), 8000, 1, []Band{{16, 60}, {60, 16}}, pal, "band 2 is 60 to 16 Hz"},
		{"an empty band", short(0), 8000, 1, []Band{{60, 60}}, pal, "band 1 is 60 to 60 Hz"},
		{"a band that is not a number", short(0), 8000, 1, []Band{{math.NaN(), 60}}, pal, "band 1 is NaN to 60 Hz"},
		{"a band without an end", short(0), 8000, 1, []Band{{16, math.Inf(1)}}, pal, "band 1 is 16 to +Inf Hz"},
		{"too many bands", short(0), 8000, 1, make([]Band, 1001), pal, "1001 bands; at most 1000"},
	} {
		_, err := Measure(c.source, c.sampleRate, c.channels, c.bands, c.rate)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, not one that says %q", c.name, err, c.want)
		}
	}
}

func TestSourceMayEndWithItsLastSamplesOrAfterThem(t *testing.T) {
	for _, end := range []error{io.EOF, nil} {
		left := 3000
		source := sourceFunc(func(dst [][]float32) (int, error) {
			if left == 0 {
				return 0, io.EOF
			}
			n := min(left, len(dst[0]), 1000)
			if left -= n; left == 0 {
				return n, end
			}
			return n, nil
		})
		e, err := Measure(source, 8000, 1, usualBands, pal)
		if err != nil || e.Samples != 3000 || len(e.Values[0]) != 10 { // 9.4 frames
			t.Errorf("ending with %v: %d samples, %v", end, e.Samples, err)
		}
	}
}

// TestMirrorGoesOnForEver: the song, itself backwards, the song, and so on, in both directions.
func TestMirrorGoesOnForEver(t *testing.T) {
	for i, want := range []int64{1, 2, 2, 1, 0, 0, 1, 2, 2, 1, 0, 0, 1} {
		if got := mirrored(int64(i)-5, 3); got != want {
			t.Errorf("sample %d of a song of three is heard as %d, not %d", i-5, got, want)
		}
	}
	if got := mirrored(-4, unknown); got != 3 {
		t.Errorf("four before a long song is sample %d, not 3", got)
	}
}
