package song

import (
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// rawPCM is samples as integers of whole bytes, little-endian, channel after channel within a sample frame.
func rawPCM(pcm [][]float64, bits int) (raw []byte) {
	full := math.Ldexp(1, bits-1)
	for k := range pcm[0] {
		for i := range pcm {
			v := int64(math.Round(pcm[i][k] * full))
			for n := range (bits + 7) / 8 {
				raw = append(raw, byte(v>>(8*n)))
			}
		}
	}
	return raw
}

// music is tones that swell, with a little noise, in whole steps of so many bits. It has no attacks. Both ends of full scale
// are among it where loud is set.
func music(rate, frames, channels, bits int, loud bool) [][]float64 {
	random := rand.New(rand.NewPCG(uint64(rate), uint64(bits)))
	full := math.Ldexp(1, bits-1)
	pcm := make([][]float64, channels)
	for i := range pcm {
		for k := range frames {
			at := float64(k) / float64(rate)
			v := 0.3 * math.Sin(2*math.Pi*float64(220*(i+1))*at) * (0.5 + 0.5*math.Sin(2*math.Pi*at))
			v += 0.1*math.Sin(2*math.Pi*1234*at) + 0.01*(random.Float64()-0.5)
			pcm[i] = append(pcm[i], math.Round(v*full)/full)
		}
		if loud {
			pcm[i][frames/2], pcm[i][frames/2+1] = -1, 1-1/full
		}
	}
	return pcm
}

func TestFLACOfOtherProgramsIsExact(t *testing.T) {
	flac, wanted := outside(t, "flac")
	if !wanted {
		return
	}
	ffmpeg, _ := outside(t, "ffmpeg")
	sox, _ := outside(t, "sox")
	folder := t.TempDir()
	path := filepath.Join(folder, "song.flac")
	for _, c := range []struct{ rate, bits, channels int }{
		{44100, 16, 2}, {44100, 16, 1}, {48000, 24, 2}, {8000, 8, 2}, {24000, 16, 2}, {176400, 24, 2}, {192000, 24, 1}, {22254, 16, 2}, {44100, 16, 6}, {96000, 24, 8},
	} {
		pcm := music(c.rate, 30_011, c.channels, c.bits, true)
		raw := rawPCM(pcm, c.bits)
		soxRaw := []string{"-D", "-t", "raw", "-e", "signed", "-b", fmt.Sprint(c.bits), "-r", fmt.Sprint(c.rate), "-c", fmt.Sprint(c.channels), "-"}
		format := fmt.Sprintf("s%dle", c.bits)
		if c.bits == 8 {
			format = "s8"
		}
		ffmpegRaw := []string{"-v", "error", "-y", "-f", format, "-ar", fmt.Sprint(c.rate), "-ac", fmt.Sprint(c.channels), "-i", "-", "-c:a", "flac"}
		if c.bits == 24 {
			ffmpegRaw = append(ffmpegRaw, "-sample_fmt", "s32", "-bits_per_raw_sample", "24")
		}
		told := int64(len(pcm[0]))
		for name, make := range map[string]func() (frames int64){
			"flac": func() int64 {
				flac(raw, "-s", "-f", "--lax", "-8", "--force-raw-format", "--endian=little", "--sign=signed", fmt.Sprintf("--bps=%d", c.bits),
					fmt.Sprintf("--sample-rate=%d", c.rate), fmt.Sprintf("--channels=%d", c.channels), "-o", path, "-")
				return told
			},
			"flac, fast, tagged, behind an ID3 tag": func() int64 {
				flac(raw, "-s", "-f", "--lax", "-0", "-T", "TITLE=Stones", "--force-raw-format", "--endian=little", "--sign=signed", fmt.Sprintf("--bps=%d", c.bits),
					fmt.Sprintf("--sample-rate=%d", c.rate), fmt.Sprintf("--channels=%d", c.channels), "-o", path, "-")
				write(t, path, append(id3Tag(4, 0, id3Frame(4, "TIT2", 3, "Other")), content(t, path)...))
				return told
			},
			"ffmpeg": func() int64 {
				if c.bits == 8 {
					return -1 // its encoder takes 16 bits and more
				}
				ffmpeg(raw, append(ffmpegRaw, path)...)
				return told
			},
			"ffmpeg through a pipe": func() int64 {
				if c.bits == 8 {
					return -1
				}
				write(t, path, ffmpeg(raw, append(ffmpegRaw, "-f", "flac", "-")...))
				return told
			},
			"sox": func() int64 {
				sox(raw, append(soxRaw, "-b", fmt.Sprint(c.bits), path)...)
				return told
			},
		} {
			t.Run(fmt.Sprintf("%s, %d Hz, %d bits, %d channels", name, c.rate, c.bits, c.channels), func(t *testing.T) {
				frames := make()
				if frames < 0 {
					return
				}
				s, err := Open(path)
				if err != nil {
					t.Fatal(err)
				}
				defer s.Close()
				want := Info{Rate: c.rate, Channels: c.channels, Frames: frames, Encoding: fmt.Sprintf("%d-bit FLAC", c.bits), Title: s.Info().Title}
				if fmt.Sprintf("%+v", s.Info()) != fmt.Sprintf("%+v", want) {
					t.Errorf("info\n got %+v\nwant %+v", s.Info(), want)
				}
				if strings.Contains(name, "tagged") && want.Title != "Stones" {
					t.Errorf("the title is %q", want.Title)
				}
				got, err := readAll(s, 4096)
				if err != nil {
					t.Fatal(err)
				}
				exact(t, got, pcm)
				want.Frames = told
				if fmt.Sprintf("%+v", s.Info()) != fmt.Sprintf("%+v", want) {
					t.Errorf("info at the end\n got %+v\nwant %+v", s.Info(), want)
				}
			})
		}
	}
}

func exact(t *testing.T, got [][]float32, want [][]float64) {
	t.Helper()
	if len(got) != len(want) || len(got[0]) != len(want[0]) {
		t.Fatalf("%d channels of %d samples, want %d of %d", len(got), len(got[0]), len(want), len(want[0]))
	}
	for i := range want {
		for k, v := range want[i] {
			if float64(got[i][k]) != v {
				t.Fatalf("channel %d, sample %d is %v, want %v", i, k, got[i][k], v)
			}
		}
	}
}

// moduleFiles are files of a module that the tests are built with, from the cache of modules. None where the
// module is not there as a whole.
func moduleFiles(t *testing.T, module, pattern string) []string {
	t.Helper()
	out, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", module).Output()
	if err != nil {
		t.Fatalf("go list -m %s: %v", module, err)
	}
	files, err := filepath.Glob(filepath.Join(strings.TrimSpace(string(out)), pattern))
	if err != nil {
		t.Fatal(err)
	}
	if len(files) == 0 {
		t.Logf("%s has no %s in the cache of modules", module, pattern)
	}
	return files
}

// The vectors are those of mewkiz/flac v1.0.14 (CC0, one CC BY 4.0): 8 to 192 kHz, 8 to 24 bits.
func TestFLACVectorsOfTheModuleAreExact(t *testing.T) {
	flac, wanted := outside(t, "flac")
	if !wanted {
		return
	}
	for _, path := range moduleFiles(t, "github.com/mewkiz/flac", "testdata/*.flac") {
		t.Run(filepath.Base(path), func(t *testing.T) {
			s, err := Open(path)
			if err != nil {
				t.Fatal(err)
			}
			defer s.Close()
			info := s.Info()
			// -F, since one of them is cut off.
			raw := flac(nil, "-s", "-F", "-d", "-c", "--force-raw-format", "--endian=little", "--sign=signed", path)
			var bits int
			fmt.Sscanf(info.Encoding, "%d-bit FLAC", &bits)
			size := (bits + 7) / 8
			got, err := readAll(s, 4096)
			if err != nil {
				t.Fatal(err)
			}
			want := int64(len(raw) / size / info.Channels)
			if int64(len(got[0])) != want || s.Info().Frames != want {
				t.Errorf("%d sample frames are read, %d told, want %d", len(got[0]), s.Info().Frames, want)
			}
			if filepath.Base(path) == "id3.flac" { // the first second of a song
				if notes := s.Info().Notes; len(notes) != 1 || !strings.HasPrefix(notes[0], "the file is cut off: ") || info.Title != "Title" {
					t.Errorf("title %q, notes %q", info.Title, notes)
				}
			} else if info.Frames != want || len(s.Info().Notes) > 0 {
				t.Errorf("%+v, want %d sample frames", s.Info(), want)
			}
			for i := range got {
				for k, v := range got[i] {
					coded := raw[(k*info.Channels+i)*size:][:size]
					if want := obvious(false, append([]byte{0, 0, 0}[:max(0, 2-size)], coded...)); v != want {
						t.Fatalf("channel %d, sample %d is %v, want %v", i, k, v, want)
					}
				}
			}
		})
	}
}

// decoded is a file as a program decodes it to 32-bit floats, by channel.
func decoded(raw []byte, channels int) [][]float64 {
	pcm := make([][]float64, channels)
	for k := 0; k+4*channels <= len(raw); k += 4 * channels {
		for i := range pcm {
			pcm[i] = append(pcm[i], float64(math.Float32frombits(binary.LittleEndian.Uint32(raw[k+4*i:]))))
		}
	}
	return pcm
}

// above is by how many dB a song is above what differs between it and another. What one has more counts as silence.
func above(got [][]float32, want [][]float64) float64 {
	var signal, off float64
	for i := range want {
		for k, v := range want[i] {
			g := 0.0
			if k < len(got[i]) {
				g = float64(got[i][k])
			}
			signal += v * v
			off += (g - v) * (g - v)
		}
	}
	return 10 * math.Log10(signal/off)
}

// clicks is silence of a length that is no round number with clicks at some places.
func clicks(rate int) (pcm [][]float64, places []int) {
	frames := rate + 123
	pcm = [][]float64{make([]float64, frames), make([]float64, frames)}
	for _, share := range []float64{0.05, 0.31, 0.5, 0.77, 0.99} {
		k := int(share * float64(frames))
		places = append(places, k)
		pcm[0][k], pcm[1][k] = 0.9, 0.9
	}
	return pcm, places
}

// mp3Way is a way to make an MP3 file of 16-bit stereo sound.
type mp3Way struct {
	name    string
	rate    int
	options []string
}

var lameWays = []mp3Way{
	{"128 kbit/s", 44100, []string{"-b", "128"}},
	{"320 kbit/s", 44100, []string{"-b", "320"}},
	{"best variable", 44100, []string{"-V", "0"}},
	{"low variable", 44100, []string{"-V", "8"}},
	{"average", 44100, []string{"--abr", "160"}},
	{"mono", 44100, []string{"-m", "m", "-b", "64"}},
	{"plain stereo", 48000, []string{"-m", "s", "-b", "192"}},
	{"with checksums", 48000, []string{"-p", "-b", "128"}},
	{"32 kHz", 32000, []string{"-b", "96"}},
	{"24 kHz", 24000, []string{"-b", "64"}},
	{"22.05 kHz", 22050, []string{"-b", "64"}},
	{"22.05 kHz with padding", 22050, []string{"-b", "80"}},
	{"22.05 kHz, as long as may be", 22050, []string{"-b", "128"}},
	{"22.05 kHz, variable", 22050, []string{"-V", "4"}},
	{"16 kHz", 16000, []string{"-b", "64"}},
	{"with titles", 44100, []string{"-b", "128", "--add-id3v2", "--tt", "Stones", "--ta", "Nobody"}},
}

// file has LAME make the file at path, which is not a pipe since LAME goes back to fill in the tag.
func (w mp3Way) file(t *testing.T, lame func([]byte, ...string) []byte, pcm [][]float64, path string) []byte {
	t.Helper()
	rate := fmt.Sprint(float64(w.rate) / 1000)
	given := []string{"--quiet", "-r", "-s", rate, "--resample", rate, "--bitwidth", "16", "--signed", "--little-endian"}
	if slices.Equal(w.options[:min(2, len(w.options))], []string{"-m", "m"}) {
		pcm = pcm[:1]
	}
	lame(rawPCM(pcm, 16), append(append(given, w.options...), "-", path)...)
	return content(t, path)
}

func content(t *testing.T, path string) []byte {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestClicksInTaggedMP3AreInSyncToTheSample(t *testing.T) {
	lame, wanted := outside(t, "lame")
	if !wanted {
		return
	}
	ffmpeg, _ := outside(t, "ffmpeg")
	path := filepath.Join(t.TempDir(), "song.mp3")
	// check hears a file, moved by an offset in sample frames, and tells how much longer it is than what was coded.
	check := func(name string, file []byte, rate, offset int) (longer int) {
		t.Helper()
		pcm, places := clicks(rate)
		s := mustOpen(t, file)
		if err := s.Offset(float64(offset) * 1000 / float64(rate)); err != nil {
			t.Fatal(err)
		}
		got, err := readAll(s, 4096)
		if err != nil {
			t.Fatal(name, err)
		}
		info := s.Info()
		if tagged := offset == 0; info.Frames != int64(len(got[0])) || tagged && len(info.Notes) > 0 {
			t.Errorf("%s: %d samples of %+v", name, len(got[0]), info)
		}
		for i := range got {
			for _, k := range places {
				if at := peakNear(got[i], k, 1200); at < k-1 || at > k+1 {
					t.Errorf("%s: the click at sample %d of channel %d is heard at %d", name, k, i, at)
				}
			}
		}
		return len(got[0]) - len(pcm[0])
	}
	for _, w := range lameWays {
		pcm, _ := clicks(w.rate)
		if longer := check("lame, "+w.name, w.file(t, lame, pcm, path), w.rate, 0); longer != 0 {
			t.Errorf("lame, %s: %d samples too many", w.name, longer)
		}
	}
	for _, rate := range []int{44100, 48000, 24000, 22050} {
		pcm, _ := clicks(rate)
		name := fmt.Sprintf("ffmpeg, %d Hz", rate)
		given := []string{"-v", "error", "-y", "-f", "s16le", "-ar", fmt.Sprint(rate), "-ac", "2", "-i", "-", "-c:a", "libmp3lame", "-b:a", "64k"}
		ffmpeg(rawPCM(pcm, 16), append(given, path)...)
		if longer := check(name, content(t, path), rate, 0); longer != 0 {
			t.Errorf("%s: %d samples too many", name, longer)
		}
		// What went through a pipe has no tag. LAME's delay is 576, so that such files are 1105 samples late: 23 to
		// 50 ms at these rates. An offset puts that right.
		check(name+", through a pipe", ffmpeg(rawPCM(pcm, 16), append(given, "-f", "mp3", "-")...), rate, 576+decoderDelay)
	}
}

func TestMP3IsWhatFFmpegMakesOfIt(t *testing.T) {
	lame, wanted := outside(t, "lame")
	if !wanted {
		return
	}
	ffmpeg, _ := outside(t, "ffmpeg")
	ways := append(slices.Clone(lameWays),
		mp3Way{"without a tag", 44100, []string{"-t", "-b", "128"}},
		mp3Way{"without a tag, mono, 22.05 kHz", 22050, []string{"-t", "-m", "m", "-b", "32"}},
		mp3Way{"lowest rate", 16000, []string{"-m", "m", "-b", "8"}})
	path := filepath.Join(t.TempDir(), "song.mp3")
	for _, w := range ways {
		file := w.file(t, lame, music(w.rate, 3*w.rate, 2, 16, false), path)
		s := mustOpen(t, file)
		info := s.Info()
		got, err := readAll(s, 4096)
		if err != nil {
			t.Fatal(w.name, err)
		}
		want := decoded(ffmpeg(nil, "-v", "error", "-i", path, "-f", "f32le", "-"), info.Channels) // in a pipe it looks for no tag
		if len(got[0]) != len(want[0]) || info.Frames != int64(len(want[0])) {
			t.Errorf("%s: %d samples are read, %d told, ffmpeg has %d", w.name, len(got[0]), info.Frames, len(want[0]))
		}
		// The library leaves mid and side of the highest part of short blocks as they are: some of those are among it.
		least := 50.0
		if w.rate == 24000 {
			// ffmpeg 5.1 has the border between two scale factor bands at line 330 of 576 there, and the library at 332:
			// all of what differs lies between 6.85 and 6.93 kHz.
			least = 30
		}
		if ratio := above(got, want); !(ratio > least) {
			t.Errorf("%s: the song is %.1f dB above what differs from ffmpeg, want %v", w.name, ratio, least)
		}
		if tagged := !strings.Contains(w.name, "without"); tagged && w.name != "lowest rate" && len(info.Notes) > 0 {
			t.Errorf("%s: notes %q", w.name, info.Notes)
		}
	}
}

// The files are those of hajimehoshi/go-mp3 v0.3.4: an orchestra (EFF OAL) and speech (public domain).
func TestMP3ExamplesOfTheModuleAreWhatFFmpegMakesOfThem(t *testing.T) {
	ffmpeg, wanted := outside(t, "ffmpeg")
	if !wanted {
		return
	}
	const seconds = 20 // of each are compared, unless there is time for all
	for _, path := range moduleFiles(t, "github.com/hajimehoshi/go-mp3", "example/*.mp3") {
		s, err := Open(path)
		if err != nil {
			t.Fatal(err)
		}
		defer s.Close()
		info := s.Info()
		want := decoded(ffmpeg(nil, "-v", "error", "-i", path, "-f", "f32le", "-"), info.Channels)
		if info.Frames != int64(len(want[0])) {
			t.Errorf("%s: %d sample frames, ffmpeg has %d", filepath.Base(path), info.Frames, len(want[0]))
		}
		var got [][]float32
		if os.Getenv("COLONNADE_LONG") == "1" {
			if got, err = readAll(s, 4096); err != nil {
				t.Fatal(err)
			}
		} else {
			for range info.Channels {
				got = append(got, make([]float32, seconds*info.Rate))
			}
			if _, err := s.Read(got); err != nil {
				t.Fatal(err)
			}
			for i := range want {
				want[i] = want[i][:seconds*info.Rate]
			}
		}
		ratio := above(got, want)
		t.Logf("%s: %s, %.1f s, %.1f dB above what differs from ffmpeg", filepath.Base(path), info.Encoding, info.Seconds(), ratio)
		if !(ratio > 30) {
			t.Errorf("%s is %.1f dB above what differs from ffmpeg, want 30", filepath.Base(path), ratio)
		}
	}
}

func TestFormatsOfFFmpegAreToldByContent(t *testing.T) {
	ffmpeg, wanted := outside(t, "ffmpeg")
	if !wanted {
		return
	}
	raw := rawPCM(music(48000, 48000, 2, 16, false), 16)
	for codec, container := range map[string]string{"flac": "flac", "libmp3lame": "mp3", "libopus": "ogg"} {
		path := filepath.Join(t.TempDir(), "song.wav")
		ffmpeg(raw, "-v", "error", "-f", "s16le", "-ar", "48000", "-ac", "2", "-i", "-", "-metadata", "title=Steine auf dem Sims – 石", "-c:a", codec, "-f", container, path)
		s, err := Open(path)
		if err != nil {
			t.Fatal(err)
		}
		defer s.Close()
		info := s.Info()
		if info.Rate != 48000 || info.Channels != 2 || info.Frames != 48000 || info.Title != "Steine auf dem Sims – 石" || len(info.Notes) > 0 {
			t.Errorf("%s: %+v", codec, info)
		}
	}
}
