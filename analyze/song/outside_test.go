package song

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// The checks of this file hold the package against files that other programs write. They run where
// COLONNADE_OUTSIDE is 1, and then the programs must be there.
func outside(t *testing.T, program string) (run func(in []byte, arguments ...string) []byte, wanted bool) {
	t.Helper()
	if os.Getenv("COLONNADE_OUTSIDE") != "1" {
		return nil, false
	}
	path, err := exec.LookPath(program)
	if err != nil {
		pack := program
		if strings.HasPrefix(program, "opus") {
			pack = "opus-tools"
		}
		t.Fatalf("%s is not installed, and COLONNADE_OUTSIDE=1 asks for checks with it; install the Debian package %s", program, pack)
	}
	return func(in []byte, arguments ...string) []byte {
		t.Helper()
		var out, told bytes.Buffer
		command := exec.Command(path, arguments...)
		command.Stdin, command.Stdout, command.Stderr = bytes.NewReader(in), &out, &told
		if err := command.Run(); err != nil {
			t.Fatalf("%s: %v\n%s", command, err, told.String())
		}
		return out.Bytes()
	}, true
}

// written is a coding and how each program is asked for it.
type written struct {
	bits     int // the samples are whole multiples of 2^(1-bits), so that the file can hold them exactly
	encoding string
	ffmpeg   string
	sox      []string
}

var writtenCodings = []written{
	{8, "8-bit integer", "pcm_u8", []string{"-b", "8", "-e", "unsigned"}},
	{16, "16-bit integer", "pcm_s16le", []string{"-b", "16", "-e", "signed"}},
	{24, "24-bit integer", "pcm_s24le", []string{"-b", "24", "-e", "signed"}},
	{32, "32-bit integer", "pcm_s32le", []string{"-b", "32", "-e", "signed"}},
	{24, "32-bit float", "pcm_f32le", []string{"-b", "32", "-e", "float"}},
	{32, "64-bit float", "pcm_f64le", []string{"-b", "64", "-e", "float"}},
}

// noise is frames sample frames of bits each, with both ends of full scale among them, channel after channel
// and as the 64-bit floats that the programs are given.
func noise(frames, channels, bits int) ([][]float64, []byte) {
	random := rand.New(rand.NewPCG(uint64(bits), uint64(channels)))
	unit := math.Ldexp(1, 1-bits)
	pcm := make([][]float64, channels)
	var raw []byte
	for k := range frames {
		for i := range channels {
			v := float64(random.Int64N(1<<bits)-1<<(bits-1)) * unit
			switch k {
			case 0:
				v = -1
			case 1:
				v = 1 - unit
			}
			pcm[i] = append(pcm[i], v)
			raw = append(raw, float64s(v)...)
		}
	}
	return pcm, raw
}

// holdAgainst opens the file at path and compares it with what was given to the program that wrote it. Half of
// the least step of the coding is allowed, and where the coding is finer than a float32, half of that one's.
func holdAgainst(t *testing.T, path string, pcm [][]float64, bits int, encoding string) {
	t.Helper()
	s, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if info := s.Info(); info.Rate != 44100 || info.Channels != len(pcm) || info.Frames != int64(len(pcm[0])) || info.Encoding != encoding {
		t.Fatalf("read as %+v, want 44100 Hz, %d channels, %d frames, %s", info, len(pcm), len(pcm[0]), encoding)
	}
	got, err := readAll(s, 999)
	if err != nil {
		t.Fatal(err)
	}
	most := math.Ldexp(0.5, 1-min(bits, 25))
	for i := range pcm {
		for k := range pcm[i] {
			if off := math.Abs(float64(got[i][k]) - pcm[i][k]); !(off <= most) {
				t.Fatalf("channel %d, sample %d is %v, the program was given %v: off by %v, %v is allowed", i, k, got[i][k], pcm[i][k], off, most)
			}
		}
	}
}

func TestFilesOfFFmpegGiveWhatItWasGiven(t *testing.T) {
	run, wanted := outside(t, "ffmpeg")
	if !wanted {
		return
	}
	const frames = 5001 // odd, so that mono chunks of 8 and 24 bits need padding
	for _, w := range writtenCodings {
		for _, channels := range []int{1, 6} {
			pcm, raw := noise(frames, channels, w.bits)
			given := []string{"-v", "error", "-f", "f64le", "-ar", "44100", "-ac", fmt.Sprint(channels), "-i", "-", "-c:a", w.ffmpeg}
			for name, options := range map[string][]string{
				"plain": {"-bitexact"},
				"RF64":  {"-rf64", "always", "-metadata", "title=Stones"},
				"bext":  {"-write_bext", "1", "-metadata", "description=Stones on a windowsill"},
				"pipe":  {"-f", "wav"},
			} {
				t.Run(fmt.Sprintf("%s, %d channels, %s", w.encoding, channels, name), func(t *testing.T) {
					path := filepath.Join(t.TempDir(), "song.wav")
					if name == "pipe" {
						write(t, path, run(raw, append(append(given, options...), "-")...))
					} else {
						run(raw, append(append(given, options...), path)...)
					}
					holdAgainst(t, path, pcm, w.bits, w.encoding)
				})
			}
		}
	}
}

func TestFilesOfSoXGiveWhatItWasGiven(t *testing.T) {
	run, wanted := outside(t, "sox")
	if !wanted {
		return
	}
	// Even, since SoX pads odd chunks in a pipe too, where nothing tells the padding from 8-bit sound. The
	// padding of files is held against the other program.
	const frames = 5002
	for _, w := range writtenCodings {
		for _, channels := range []int{1, 2, 6} {
			pcm, raw := noise(frames, channels, w.bits)
			// -D adds no dither, -R makes what is random the same each time.
			given := []string{"-D", "-R", "-t", "raw", "-e", "float", "-b", "64", "-r", "44100", "-c", fmt.Sprint(channels), "-"}
			given = append(given, w.sox...)
			for name, kind := range map[string]string{"plain": "wavpcm", "EXTENSIBLE": "wav", "pipe": "wav"} {
				if kind == "wavpcm" && strings.Contains(w.encoding, "float") {
					continue // that kind is for integers
				}
				t.Run(fmt.Sprintf("%s, %d channels, %s", w.encoding, channels, name), func(t *testing.T) {
					path := filepath.Join(t.TempDir(), "song.wav")
					if name == "pipe" {
						write(t, path, run(raw, append(given, "-t", kind, "-")...))
					} else {
						run(raw, append(given, "-t", kind, path)...)
					}
					holdAgainst(t, path, pcm, w.bits, w.encoding)
				})
			}
		}
	}
}

func TestFilesOfFFmpegThatAreNotReadAreNamed(t *testing.T) {
	run, wanted := outside(t, "ffmpeg")
	if !wanted {
		return
	}
	_, raw := noise(44100, 1, 16)
	for _, c := range []struct{ file, codec, want string }{
		{"song.wav", "pcm_mulaw", "holds mu-law sound"},
		{"song.wav", "pcm_alaw", "holds A-law sound"},
		{"song.wav", "adpcm_ms", "holds Microsoft ADPCM sound"},
		{"song.wav", "adpcm_ima_wav", "holds IMA ADPCM sound"},
		{"song.wav", "g726", "holds G.726 ADPCM sound"},
		{"song.wav", "libmp3lame", "holds MP3 sound"},
		{"song.wav", "mp2", "holds MPEG layer I or II sound"},
		{"song.wav", "aac", "holds AAC sound"},
		{"song.wav", "ac3", "holds AC-3 sound"},
		{"song.wav", "wmav2", "holds Windows Media Audio 2 sound"},
		{"song.wav", "flac", "holds FLAC sound"},
		{"song.mp2", "mp2", "is an MP2 file"},
		{"song.ogg", "libvorbis", "is an Ogg Vorbis file"},
		{"song.oga", "flac", "is an Ogg FLAC file"},
		{"song.wv", "wavpack", "is a WavPack file"},
		{"song.m4a", "aac", "is an M4A file"},
		{"song.mp4", "aac", "is an MP4 file"},
		{"song.aac", "aac", "is an AAC file"},
		{"song.aiff", "pcm_s16be", "is an AIFF file"},
		{"song.caf", "pcm_s16le", "is a CAF file"},
		{"song.au", "pcm_s16be", "is an AU file"},
		{"song.w64", "pcm_s16le", "is a Sony Wave64 file"},
		{"song.wma", "wmav2", "is a WMA file"},
		{"song.mka", "flac", "is a Matroska or WebM file"},
		{"song.avi", "pcm_s16le", "is an AVI film"},
	} {
		t.Run(c.file+" of "+c.codec, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), c.file)
			rate := "44100"
			switch c.codec {
			case "g726":
				rate = "8000"
			case "libopus":
				rate = "48000"
			}
			run(raw, "-v", "error", "-f", "f64le", "-ar", "44100", "-ac", "1", "-i", "-", "-ar", rate, "-c:a", c.codec, path)
			s, err := Open(path)
			if err == nil {
				s.Close()
				t.Fatalf("read as %+v", s.Info())
			}
			if !strings.HasPrefix(err.Error(), path+": "+c.want) {
				t.Errorf("\n got %v\nwant %s: %s...", err, path, c.want)
			}
		})
	}
}
