package song

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"slices"
	"testing"
)

// formats that an offset is tried on, each a second of 1000 samples or so.
func movable() map[string][]byte {
	wav := riffFile("RIFF", fmtChunk(1, 2, 1000, 16), chunkOf("data", countedSound(2*1000)))
	song := ramp(1000, 16, 2, 1000)
	unknown := song
	unknown.promised = 0
	return map[string][]byte{"WAV": wav, "FLAC": flacFile(song), "FLAC without a length": append(flacFile(unknown), "APETAGEX"...)}
}

// countedSound is 16-bit samples that count up.
func countedSound(samples int) (b []byte) {
	for i := range samples {
		b = le.AppendUint16(b, uint16(i+1))
	}
	return b
}

func TestOffsetDropsWhatComesBeforeAndPutsSilenceInFront(t *testing.T) {
	for name, file := range movable() {
		whole, err := readAll(mustOpen(t, file), 1000)
		if err != nil {
			t.Fatal(err)
		}
		for milliseconds, frames := range map[float64]int{0: 0, 1: 1, 250: 250, 0.6: 1, 0.4: 0, -0.6: -1, 999: 999, -1: -1, -250: -250, -12_345: -12_345} {
			for _, at := range []int{7, 100, 5000} {
				s := mustOpen(t, file)
				if err := s.Offset(milliseconds); err != nil {
					t.Fatal(err)
				}
				if told := s.Info().Frames; told != 0 && told != int64(1000-frames) {
					t.Errorf("%s: %d sample frames are told with an offset of %v ms", name, told, milliseconds)
				}
				got, err := readAll(s, at)
				if err != nil {
					t.Fatal(err)
				}
				if s.Info().Frames != int64(1000-frames) {
					t.Errorf("%s: %d sample frames are told at the end with an offset of %v ms", name, s.Info().Frames, milliseconds)
				}
				for i := range got {
					want := whole[i][max(0, frames):]
					want = append(make([]float32, max(0, -frames)), want...)
					if !slices.Equal(got[i], want) {
						t.Fatalf("%s: an offset of %v ms, %d at a time: %d samples that begin %v, want %d that begin %v",
							name, milliseconds, at, len(got[i]), got[i][:min(3, len(got[i]))], len(want), want[:3])
					}
				}
			}
		}
	}
}

func TestReadFillsWhatItIsGivenBehindSilence(t *testing.T) {
	s := mustOpen(t, movable()["FLAC"])
	if err := s.Offset(-30); err != nil {
		t.Fatal(err)
	}
	dst := [][]float32{make([]float32, 100), make([]float32, 100)}
	dst[0][0], dst[1][29] = 1, 1 // what was there before
	for range 10 {
		if n, err := s.Read(dst); n != 100 || err != nil {
			t.Fatalf("read gives %d, %v, want 100, <nil>", n, err)
		}
	}
	for _, want := range []struct {
		n   int
		err error
	}{{30, nil}, {0, io.EOF}} {
		if n, err := s.Read(dst); n != want.n || err != want.err {
			t.Fatalf("read gives %d, %v, want %d, %v", n, err, want.n, want.err)
		}
	}
}

func TestOffsetsThatMakeNoSenseAreRefused(t *testing.T) {
	for name, file := range movable() {
		for milliseconds, want := range map[float64]string{
			math.NaN():   "song: an offset of NaN ms was given, -3600000 to 3600000 are taken; give a smaller one",
			math.Inf(-1): "song: an offset of -Inf ms was given, -3600000 to 3600000 are taken; give a smaller one",
			4e6:          "song: an offset of 4e+06 ms was given, -3600000 to 3600000 are taken; give a smaller one",
			1000:         "song: an offset of 1000 ms was given, the song ends after 1000 ms; give a smaller one",
			2000:         "song: an offset of 2000 ms was given, the song ends after 1000 ms; give a smaller one",
		} {
			s := mustOpen(t, file)
			err := s.Offset(milliseconds)
			if err == nil { // the length is known only when the song was read
				_, err = s.Read([][]float32{make([]float32, 9), make([]float32, 9)})
			}
			if fmt.Sprint(err) != want {
				t.Errorf("%s\n got %v\nwant %s", name, err, want)
			}
		}
	}
	s := mustOpen(t, movable()["WAV"])
	s.Read([][]float32{make([]float32, 9), make([]float32, 9)})
	if err := s.Offset(1); err == nil {
		t.Error("a song that was begun to be read is moved")
	}
}

func TestOffsetPassesErrorsOn(t *testing.T) {
	whole, heads := ramp(1000, 16, 1, 1000).file()
	file := slices.Clone(whole)
	file[heads[10]+20] ^= 1
	s, err := open("song", bytes.NewReader(file), int64(len(file)))
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Offset(500); err != nil {
		t.Fatal(err)
	}
	if n, err := s.Read([][]float32{make([]float32, 9)}); n != 0 || err == nil || err == io.EOF {
		t.Errorf("read gives %d, %v, want an error", n, err)
	}
}
