package song

import (
	"fmt"
	"path/filepath"
	"strings"
	"testing"
)

func TestOpusIsWhatItsReferenceMakesOfIt(t *testing.T) {
	opusenc, wanted := outside(t, "opusenc")
	if !wanted {
		return
	}
	opusdec, _ := outside(t, "opusdec")
	ffmpeg, _ := outside(t, "ffmpeg")
	folder := t.TempDir()
	path, wav := filepath.Join(folder, "song.opus"), filepath.Join(folder, "song.wav")
	const frames = 3*48000 + 321
	raw := map[int][]byte{1: rawPCM(music(48000, frames, 1, 16, false), 16), 2: rawPCM(music(48000, frames, 2, 16, false), 16)}
	byFFmpeg := func(options ...string) func(channels int) {
		return func(channels int) {
			given := []string{"-v", "error", "-y", "-f", "s16le", "-ar", "48000", "-ac", fmt.Sprint(channels), "-i", "-", "-c:a", "libopus"}
			ffmpeg(raw[channels], append(append(given, options...), path)...)
		}
	}
	byOpusenc := func(options ...string) func(channels int) {
		return func(channels int) {
			given := []string{"--quiet", "--raw", "--raw-rate", "48000", "--raw-bits", "16", "--raw-chan", fmt.Sprint(channels)}
			opusenc(raw[channels], append(append(given, options...), "-", path)...)
		}
	}
	for name, make := range map[string]func(channels int){
		"CELT of 20 ms":              byFFmpeg("-b:a", "128k"),
		"CELT of 60 ms":              byFFmpeg("-b:a", "96k", "-frame_duration", "60"),
		"CELT of 2.5 ms":             byFFmpeg("-b:a", "160k", "-frame_duration", "2.5", "-application", "lowdelay"),
		"CELT of constant rate":      byOpusenc("--bitrate", "256", "--hard-cbr"),
		"SILK of 20 ms":              byFFmpeg("-b:a", "12k", "-application", "voip"),
		"SILK of 60 ms":              byFFmpeg("-b:a", "10k", "-application", "voip", "-frame_duration", "60"),
		"SILK of narrow band":        byFFmpeg("-b:a", "12k", "-application", "voip", "-cutoff", "4000"),
		"SILK of medium band":        byFFmpeg("-b:a", "16k", "-application", "voip", "-cutoff", "6000"),
		"hybrid of 20 ms":            byFFmpeg("-b:a", "28k", "-application", "voip"),
		"hybrid of 60 ms":            byOpusenc("--bitrate", "32", "--speech", "--framesize", "60"),
		"hybrid, super wide":         byFFmpeg("-b:a", "24k", "-application", "voip", "-cutoff", "12000"),
		"modes that change":          byFFmpeg("-b:a", "20k"),
		"SILK with gaps":             byOpusenc("--bitrate", "14", "--speech", "--set-ctl-int", "4016=1"),
		"SILK with error correction": byOpusenc("--bitrate", "16", "--speech", "--set-ctl-int", "4012=1", "--set-ctl-int", "4014=20"),
		"two channels made one":      byOpusenc("--bitrate", "24", "--set-ctl-int", "4022=1"),
	} {
		for channels := range raw {
			t.Run(fmt.Sprintf("%s, %d channels", name, channels), func(t *testing.T) {
				make(channels)
				opusdec(nil, "--quiet", "--float", "--rate", "48000", path, wav)
				want := decoded(ffmpeg(nil, "-v", "error", "-i", wav, "-f", "f32le", "-"), channels)
				s, err := Open(path)
				if err != nil {
					t.Fatal(err)
				}
				defer s.Close()
				info := s.Info()
				got, err := readAll(s, 4096)
				if err != nil {
					t.Fatal(err)
				}
				if info.Channels != channels || info.Frames != frames || len(got[0]) != frames || len(want[0]) != frames || len(s.Info().Notes) > 0 {
					t.Errorf("%d samples of %+v, the reference has %d, want %d", len(got[0]), s.Info(), len(want[0]), frames)
				}
				// The reference computes SILK in 16 bits, the library in floats: their songs differ, by less than a
				// hundredth. CELT is the same but for rounding.
				least := 40.0
				if strings.HasPrefix(name, "CELT") {
					least = 90
				}
				if ratio := above(got, want); !(ratio > least) {
					t.Errorf("the song is %.1f dB above what differs from the reference, want %v", ratio, least)
				}
			})
		}
	}
}
