package song

import (
	"bytes"
	"io"
	"slices"
	"testing"
)

// repeating is a file that has the same part many times behind its head, and keeps none of it.
type repeating struct {
	head, part []byte
	times      int64
}

func (f *repeating) size() int64 { return int64(len(f.head)) + f.times*int64(len(f.part)) }

func (f *repeating) ReadAt(p []byte, at int64) (int, error) {
	n := 0
	for n < len(p) && at < f.size() {
		from := f.head
		if at >= int64(len(f.head)) {
			from = f.part[(at-int64(len(f.head)))%int64(len(f.part)):]
		} else {
			from = from[at:]
		}
		k := copy(p[n:], from)
		n += k
		at += int64(k)
	}
	if n < len(p) {
		return n, io.EOF
	}
	return n, nil
}

// longSongs are songs of the coded formats, each some times as long as the last argument says.
func longSongs(times int) map[string]struct {
	r      io.ReaderAt
	size   int64
	frames int64
} {
	song := ramp(44100, 16, 2, 4000)
	song.block, song.promised, song.unsummed = 4000, 0, true
	file, heads := song.file()
	flac := &repeating{file[:heads[0]], file[heads[0]:], int64(times)}
	mp3 := &repeating{mp3Info(10*times, 576, 1000), mp3Frames(10), int64(times)}
	opus := silentSong(312, 10*times)
	return map[string]struct {
		r      io.ReaderAt
		size   int64
		frames int64
	}{
		"FLAC": {flac, flac.size(), 4000 * int64(times)},
		"MP3":  {mp3, mp3.size(), 11520*int64(times) - 1576},
		"Opus": {bytes.NewReader(opus), int64(len(opus)), 9600*int64(times) - 312},
	}
}

// The window on the file, a FLAC frame and the state of the library are most of it.
func TestMemoryDoesNotGrowWithACodedSong(t *testing.T) {
	const most = 400 << 10
	for _, times := range []int{3, 60} {
		for name, song := range longSongs(times) {
			before := heap()
			s, err := open("song", song.r, song.size)
			if err != nil {
				t.Fatal(name, err)
			}
			dst := slices.Repeat([][]float32{make([]float32, 4096)}, s.Info().Channels)
			var frames int64
			for err == nil {
				var n int
				n, err = s.Read(dst)
				frames += int64(n)
			}
			took := heap() - before
			if err != io.EOF || frames != song.frames || s.Info().Frames != frames {
				t.Errorf("%s: %d sample frames and %v, want %d", name, frames, err, song.frames)
			}
			if took > most {
				t.Errorf("%s: %d sample frames held %d bytes, at most %d are expected", name, frames, took, most)
			}
		}
	}
}
