package song

import (
	"bytes"
	"io"
	"math"
	"strings"
	"testing"
)

// listen opens any bytes and, where they make a song, reads it to its end.
func listen(t *testing.T, file []byte) {
	oneLine := func(err error) {
		if text := err.Error(); !strings.HasPrefix(text, "song.wav: ") || !strings.Contains(text, "; ") || strings.ContainsAny(text, "\n\r\x1b") {
			t.Fatalf("the error is not one line that names the file and says what to do: %q", text)
		}
	}
	s, err := open("song.wav", bytes.NewReader(file), int64(len(file)))
	if err != nil {
		oneLine(err)
		return
	}
	info := s.Info()
	if info.Rate < minRate || info.Rate > maxRate || info.Channels < 1 || info.Channels > maxChannels || info.Frames < 0 {
		t.Fatalf("taken for a song: %+v", info)
	}
	wav := strings.HasSuffix(info.Encoding, "integer") || strings.HasSuffix(info.Encoding, "float")
	if wav && (info.Frames < 1 || info.Frames*int64(info.Channels) > int64(len(file))) {
		t.Fatalf("%+v in %d bytes: no samples, or more than bytes", info, len(file))
	}
	if info.Title != cleanTitle(info.Title) {
		t.Fatalf("the title is %q", info.Title)
	}
	dst := make([][]float32, info.Channels)
	for i := range dst {
		dst[i] = make([]float32, 100)
	}
	var frames int64
	for {
		n, err := s.Read(dst)
		if err == io.EOF && n == 0 {
			break
		}
		if err != nil && !wav && err != io.EOF {
			oneLine(err)
			return
		}
		if err != nil || n == 0 {
			t.Fatalf("read gives %d, %v after %d sample frames of %d", n, err, frames, info.Frames)
		}
		frames += int64(n)
		for _, channel := range dst {
			for _, v := range channel[:n] {
				if !(math.Abs(float64(v)) <= math.MaxFloat32) {
					t.Fatalf("a sample is %v", v)
				}
				if !strings.Contains(info.Encoding, "float") && !strings.Contains(info.Encoding, "Opus") && (v < -1 || v > 1) {
					t.Fatalf("a sample of %s is %v", info.Encoding, v)
				}
			}
		}
	}
	if got := s.Info().Frames; frames != got || wav && frames != info.Frames {
		t.Fatalf("%d sample frames were read, %d were told and then %d", frames, info.Frames, got)
	}
}

// FuzzOpen opens any bytes.
func FuzzOpen(f *testing.F) {
	for _, c := range readables() {
		f.Add(c.file)
	}
	for _, c := range refusals() {
		if len(c.file) < 1<<12 { // long files make for slow fuzzing
			f.Add(c.file)
		}
	}
	f.Fuzz(func(t *testing.T, file []byte) {
		listen(t, file)
	})
}
