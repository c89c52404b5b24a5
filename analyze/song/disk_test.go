package song

import (
	"bytes"
	"errors"
	"io"
	"os"
	"strings"
	"testing"
)

// worn is a file on a disk that gives up at one byte.
type worn struct {
	file  []byte
	bad   int64
	asked bool
}

var errWorn = errors.New("input/output error")

func (w *worn) ReadAt(p []byte, at int64) (int, error) {
	if at <= w.bad && w.bad < at+int64(len(p)) {
		w.asked = true
		n, _ := bytes.NewReader(w.file[:w.bad]).ReadAt(p, at)
		return n, errWorn
	}
	return bytes.NewReader(w.file).ReadAt(p, at)
}

// frames reads a song to its end and counts.
func frames(s *Song) (total int64, err error) {
	dst := make([][]float32, s.Info().Channels)
	for i := range dst {
		dst[i] = make([]float32, 1000)
	}
	for {
		n, err := s.Read(dst)
		total += int64(n)
		if err == io.EOF {
			return total, nil
		}
		if err != nil {
			return total, err
		}
	}
}

// A disk error must never pass for the end of a song, nor for a song of another kind.
func TestAByteThatTheDiskDoesNotGiveIsToldAndNeverShortensASong(t *testing.T) {
	files := map[string][]byte{
		"WAV":               riffFile("RIFF", mono16, chunkOf("LIST", append([]byte("INFO"), chunkOf("INAM", []byte("windowsill"))...)), chunkOf("data", countedSound(3000))),
		"WAV, title behind": riffFile("RIFF", mono16, chunkOf("data", countedSound(300)), chunkOf("LIST", append([]byte("INFO"), chunkOf("INAM", []byte("windowsill"))...))),
		"RF64":              wide("RF64", 4),
		"FLAC":              flacFile(ramp(44100, 16, 2, 4000)),
		"FLAC behind ID3":   append(id3Tag(4, 0, id3Frame(4, "TIT2", 3, "windowsill")), flacFile(ramp(44100, 16, 2, 200))...),
		"MP3":               bytes.Repeat(mp3Frames(1), 30),
	}
	for _, name := range []string{"clicks.mp3", "tones.opus"} {
		file, err := os.ReadFile("testdata/" + name)
		if err != nil {
			t.Fatal(err)
		}
		files[name] = file
	}
	for name, file := range files {
		size := int64(len(file))
		s, err := open("song", bytes.NewReader(file), size)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		whole, err := frames(s)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		told := 0
		// Every byte of the headers, and some in all other places.
		for bad := int64(0); bad < size; bad += 1 + max(0, bad-100)/7 {
			r := &worn{file: file, bad: bad}
			s, err := open("song", r, size)
			got := int64(0)
			if err == nil {
				got, err = frames(s)
			}
			switch {
			case err != nil && r.asked && errors.Is(err, errWorn) && strings.HasPrefix(err.Error(), "song: cannot be read at byte ") && strings.Contains(err.Error(), "; check the disk or copy the song again"):
				told++
			case err != nil:
				t.Fatalf("%s, byte %d of %d: %v", name, bad, size, err)
			case got != whole:
				t.Fatalf("%s, byte %d of %d: read as a song of %d sample frames, it has %d", name, bad, size, got, whole)
			}
		}
		if told < 20 {
			t.Errorf("%s: a byte that could not be read was told %d times", name, told)
		}
	}
}
