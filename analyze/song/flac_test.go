package song

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"log"
	"math"
	"slices"
	"strings"
	"testing"
)

// mustOpen opens a file of the tests.
func mustOpen(t *testing.T, file []byte) *Song {
	t.Helper()
	s, err := open("song", bytes.NewReader(file), int64(len(file)))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestFLACIsExactAtEveryDepthAndCountOfChannels(t *testing.T) {
	for _, bits := range []int{4, 8, 12, 13, 16, 17, 20, 23, 24} {
		for channels := 1; channels <= 8; channels++ {
			for _, inHeader := range []bool{false, true} {
				song := ramp(44100, bits, channels, 100)
				song.inHeader = inHeader
				file, _ := song.file()
				s := mustOpen(t, file)
				want := Info{Rate: 44100, Channels: channels, Frames: 100, Encoding: fmt.Sprintf("%d-bit FLAC", bits)}
				if info := s.Info(); fmt.Sprintf("%+v", info) != fmt.Sprintf("%+v", want) {
					t.Fatalf("info\n got %+v\nwant %+v", info, want)
				}
				got, err := readAll(s, 7)
				if err != nil {
					t.Fatal(err)
				}
				for i := range song.pcm {
					for k, v := range song.pcm[i] {
						if want := float64(v) / math.Pow(2, float64(bits-1)); float64(got[i][k]) != want {
							t.Fatalf("%d bits, %d channels: channel %d, sample %d is %v, want %v", bits, channels, i, k, got[i][k], want)
						}
					}
				}
				if info := s.Info(); fmt.Sprintf("%+v", info) != fmt.Sprintf("%+v", want) {
					t.Errorf("at the end\n got %+v\nwant %+v", info, want)
				}
			}
		}
	}
}

func TestNoRateOfFLACPrintsToTheLog(t *testing.T) {
	var printed bytes.Buffer
	before := log.Writer()
	log.SetOutput(&printed)
	defer log.SetOutput(before)
	for _, rate := range []int{1000, 8000, 22050, 24000, 44100, 96000, 176400, 192000, 655350} {
		for _, block := range []int{16, 4000} {
			song := ramp(rate, 16, 2, 10_000)
			song.inHeader, song.block = true, block
			file, _ := song.file()
			s := mustOpen(t, file)
			got, err := readAll(s, 1000)
			if err != nil {
				t.Fatalf("%d Hz: %v", rate, err)
			}
			if info := s.Info(); info.Rate != rate || len(got[0]) != 10_000 || len(info.Notes) > 0 {
				t.Errorf("%d samples of %+v", len(got[0]), info)
			}
			if v := got[1][9999]; v != float32(song.pcm[1][9999])/32768 {
				t.Errorf("%d Hz: the last sample is %v", rate, v)
			}
		}
	}
	if printed.Len() > 0 {
		t.Errorf("the standard log has: %s", printed.String())
	}
}

// The header that the library is shown for those rates has other sums. Those of the file must count all the same.
func TestADamagedFrameOfAReplacedHeaderIsFound(t *testing.T) {
	song := ramp(24000, 16, 1, 64)
	song.inHeader = true
	whole, heads := song.file()
	for at := heads[1]; at < heads[2]; at++ {
		file := slices.Clone(whole)
		file[at] ^= 0x10
		s := mustOpen(t, file)
		if got, err := readAll(s, 10); err == nil || len(got[0]) != 16 {
			t.Fatalf("byte %d of a frame: %d samples and %v, want 16 and an error", at-heads[1], len(got[0]), err)
		}
	}
}

func TestFLACLengthsAreHeldAgainstTheHeader(t *testing.T) {
	promising := func(promised int64, change func(*flacSong)) []byte {
		song := ramp(44100, 16, 2, 100)
		song.promised = promised
		if change != nil {
			change(&song)
		}
		file, _ := song.file()
		return file
	}
	whole, heads := ramp(44100, 16, 2, 100).file()
	// Two frames that begin at the samples 1000 and 1016.
	variable := slices.Concat(numbered(whole[heads[0]:heads[1]], 1000), numbered(whole[heads[1]:heads[2]], 1016))
	const wrongSum = "its sound does not have the MD5 sum that its header tells; compare it with where it came from"
	for _, c := range []struct {
		name  string
		file  []byte
		told  int64 // by the header
		is    int
		notes []string
	}{
		{"whole", whole, 100, 100, nil},
		{"no length in the header", promising(0, nil), 100, 100, nil},
		{"no length and no sum, as pipes have", promising(0, func(s *flacSong) { s.unsummed = true }), 100, 100, nil},
		{"no length, and a frame of another number first", slices.Concat(promising(0, func(s *flacSong) { s.unsummed = true })[:heads[0]], whole[heads[2]:]), 68, 68, nil},
		{"no length, and frames numbered by their samples", slices.Concat(promising(0, func(s *flacSong) { s.unsummed = true })[:heads[0]], variable), 32, 32, nil},
		{"cut off between frames", whole[:heads[3]], 100, 48, []string{"the file is cut off: its header promises 100 sample frames, 48 are there"}},
		{"cut off within a frame", whole[:heads[3]+30], 100, 48, []string{"the file is cut off: its header promises 100 sample frames, 48 are there"}},
		{"cut off within a frame header", whole[:heads[3]+3], 100, 48, []string{"the file is cut off: its header promises 100 sample frames, 48 are there"}},
		{"cut off without a length", append(promising(0, nil)[:heads[3]+9:heads[3]+9], nil...), 0, 48, []string{wrongSum}},
		{"more than promised", promising(40, nil), 40, 100, []string{"its header promises 40 sample frames, 100 are there; all are read"}},
		{"another sum", promising(100, func(s *flacSong) { s.pcm[1][50]++; s.unsummed = true }), 100, 100, nil},
		{"an ID3v1 tag behind", append(slices.Clip(whole), "TAGstones"...), 100, 100, nil},
		{"an APE tag behind a song without length", append(slices.Clip(promising(0, nil)), "APETAGEX"...), 0, 100, nil},
		{"zeros behind", append(slices.Clip(whole), make([]byte, 1000)...), 100, 100, nil},
		{"half a frame behind", append(slices.Clip(whole), whole[heads[0]:heads[0]+20]...), 100, 100, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := mustOpen(t, c.file)
			if got := s.Info().Frames; got != c.told {
				t.Errorf("%d sample frames are told after opening, want %d", got, c.told)
			}
			got, err := readAll(s, 33)
			if err != nil {
				t.Fatal(err)
			}
			if len(got[0]) != c.is || s.Info().Frames != int64(c.is) {
				t.Errorf("%d sample frames are read, %d told at the end, want %d", len(got[0]), s.Info().Frames, c.is)
			}
			if notes := s.Info().Notes; !slices.Equal(notes, c.notes) {
				t.Errorf("notes\n got %q\nwant %q", notes, c.notes)
			}
		})
	}
}

// numbered is a frame with the number of its first sample in its header.
func numbered(frame []byte, number rune) []byte {
	b := append([]byte{frame[0], frame[1] | 1, frame[2], frame[3]}, string(number)...)
	b = append(b, frame[5:7]...) // the block size
	b = append(b, crc8(b))
	b = append(b, frame[8:len(frame)-2]...)
	return binary.BigEndian.AppendUint16(b, newCRC16().add(0, b))
}

func TestAFLACWithAnotherSumIsNoted(t *testing.T) {
	file, heads := ramp(44100, 16, 1, 16).file()
	other := ramp(44100, 16, 1, 16)
	other.pcm[0][3] = 1
	changed, _ := other.file()
	s := mustOpen(t, append(file[:heads[0]:heads[0]], changed[heads[0]:]...))
	if _, err := readAll(s, 100); err != nil {
		t.Fatal(err)
	}
	if notes := s.Info().Notes; len(notes) != 1 || !strings.Contains(notes[0], "MD5") {
		t.Errorf("the notes are %q, want one on the MD5 sum", notes)
	}
}

// What is damaged is no longer than a frame, and the file goes on behind it: it was not cut off.
func TestDamageWithinAFLACTellsItsPlace(t *testing.T) {
	whole, heads := ramp(1000, 16, 2, 4000).file()
	file := slices.Clone(whole)
	file[heads[100]+20] ^= 1
	s := mustOpen(t, file)
	got, err := readAll(s, 99)
	const want = "song: is damaged at 1.600 s, byte "
	if err == nil || !strings.HasPrefix(err.Error(), want) || !strings.Contains(err.Error(), "; ") {
		t.Errorf("got %v\nwant %s...", err, want)
	}
	if len(got[0]) != 1600 {
		t.Errorf("%d good samples came before, want 1600", len(got[0]))
	}
	if n, again := s.Read([][]float32{make([]float32, 9), make([]float32, 9)}); n != 0 || fmt.Sprint(again) != fmt.Sprint(err) {
		t.Errorf("the next read gives %d, %v", n, again)
	}
	// Zeros in place of frames run to the end of the file without a bit that is set.
	clear(file[heads[100]+12:])
	if _, err := readAll(mustOpen(t, file), 99); err == nil || !strings.HasPrefix(err.Error(), want) {
		t.Errorf("zeros: got %v\nwant %s...", err, want)
	}
}

func TestFramesOfAnotherKindAreRefused(t *testing.T) {
	const frames = 32
	song := ramp(44100, 16, 2, frames)
	for what, change := range map[string]func(*flacSong){
		"48000 Hz in a song of 44100 Hz": func(s *flacSong) { s.rate, s.inHeader = 48000, true },
		"1 channel in a song of 2":       func(s *flacSong) { s.pcm = s.pcm[:1] },
		"8 bits in a song of 16 bits":    func(s *flacSong) { s.bits, s.inHeader = 8, true },
	} {
		file, heads := song.file()
		other := ramp(44100, 16, 2, frames)
		change(&other)
		file = append(file[:heads[1]], other.frame(1, 16, 32)...)
		if _, err := readAll(mustOpen(t, file), 10); err == nil || !strings.Contains(err.Error(), what) {
			t.Errorf("got %v, want %q in it", err, what)
		}
	}
}

func TestAFLACBehindAnID3TagIsRead(t *testing.T) {
	file, _ := ramp(44100, 16, 1, 20).file()
	for _, tag := range [][]byte{id3Tag(4, 0, id3Frame(4, "TIT2", 3, "Windowsill")), append(id3Tag(3, 0), id3Tag(3, 0)...)} {
		s := mustOpen(t, append(slices.Clip(tag), file...))
		if got, err := readAll(s, 100); err != nil || len(got[0]) != 20 {
			t.Errorf("%d samples, %v", len(got[0]), err)
		}
	}
}

func TestReadFillsFLACOverFrames(t *testing.T) {
	file, _ := ramp(44100, 16, 1, 40).file()
	s := mustOpen(t, file)
	for _, want := range []struct {
		n   int
		err error
	}{{39, nil}, {1, nil}, {0, io.EOF}, {0, io.EOF}} {
		if n, err := s.Read([][]float32{make([]float32, 39)}); n != want.n || err != want.err {
			t.Fatalf("read gives %d, %v, want %d, %v", n, err, want.n, want.err)
		}
	}
}
