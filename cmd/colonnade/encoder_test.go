package main

import (
	"image"
	"strings"
	"testing"

	"colonnade/analyze/timing"
)

// The encoder's words are its documentation's (ffmpeg's manual pages); that they do what is meant is checked with the
// encoder itself by the outside tests.
func TestEncoderCommandFitsFramesAndSong(t *testing.T) {
	film := timing.Rate{Num: 24000, Den: 1001}
	even := image.Pt(1920, 1080)
	for _, c := range []struct {
		what string
		e    encoding
		want string // what stands before -c:v
	}{
		{"a whole piece", encoding{folder: "frames", song: "song.wav", rate: timing.Rate{Num: 25, Den: 1}, frames: span{1, 300}, size: even},
			"ffmpeg -framerate 25 -i frames/frame_%06d.png -i song.wav -map 0:v -map 1:a -vf scale="},
		// 1498 frames of 1001/24000 s lie before frame 1499.
		{"a part", encoding{folder: "part", song: "song.wav", begin: 1498 * 1001. / 24000, rate: film, frames: span{1499, 1570}, part: true, size: even},
			"ffmpeg -framerate 24000/1001 -start_number 1499 -i part/frame_%06d.png -ss 62.479083 -i song.wav -t 3.003000 -map 0:v -map 1:a -vf scale="},
		{"the last part", encoding{folder: "part", song: "song.flac", begin: 4, rate: timing.Rate{Num: 25, Den: 1}, frames: span{101, 300}, size: even},
			"-start_number 101 -i part/frame_%06d.png -ss 4.000000 -i song.flac -map 0:v"},
		{"silence first", encoding{folder: "frames", song: "song.wav", begin: -0.2505, rate: film, frames: span{1, 24}, part: true, size: even},
			"-i song.wav -af adelay=250.500:all=1 -t 1.001000 -map 0:v -map 1:a"},
		{"a part of an MP3", encoding{folder: "frames", song: "Song.MP3", begin: 1, rate: timing.Rate{Num: 25, Den: 1}, frames: span{26, 50}, part: true, size: even},
			"-i Song.MP3 -af atrim=start=1.000000,asetpts=PTS-STARTPTS -t 1.000000 -map 0:v -map 1:a"},
		{"names that a shell or the encoder would read", encoding{folder: "it's 50% a:b", song: "take 2:1.wav", rate: film, frames: span{1, 9}, size: even},
			`-i 'file:it'\''s 50%% a:b/frame_%06d.png' -i 'file:take 2:1.wav' -map`},
		{"no song", encoding{folder: "frames", rate: film, frames: span{1, 9}, size: even}, "-i frames/frame_%06d.png -map 0:v -vf"},
		{"an odd size", encoding{folder: "frames", rate: film, frames: span{1, 9}, size: image.Pt(641, 480)}, "-map 0:v -vf crop=640:480:0:0,scale="},
		{"a stream", encoding{song: "song.wav", begin: 2, rate: film, frames: span{49, 96}, part: true, size: even},
			"ffmpeg -i - -ss 2.000000 -i song.wav -t 2.002000 -map 0:v -map 1:a -vf setparams="},
	} {
		if got := c.e.line(); !strings.Contains(got, c.want) {
			t.Errorf("%s: the command is\n%s\nit lacks\n%s", c.what, got, c.want)
		}
	}
}

// The rules are those of POSIX (XCU 2.2 Quoting) and of the C runtime of Windows (Parsing C command-line arguments), from memory.
func TestNamesAreQuotedForTheShellOfTheSystem(t *testing.T) {
	for _, row := range []struct{ system, name, want string }{
		{"linux", "frames/frame_%06d.png", "frames/frame_%06d.png"},
		{"linux", "my song's.wav", `'my song'\''s.wav'`},
		{"darwin", "my song.wav", "'my song.wav'"},
		{"linux", "höhe.wav", "'höhe.wav'"},
		{"linux", "it's\\\x1b[2J\n\u202e\xff.wav", `$'it\'s\\\033[2J\012\342\200\256\377.wav'`},
		{"windows", "song.wav", "song.wav"},
		{"windows", `frames\frame_%06d.png`, `"frames\frame_%06d.png"`},
		{"windows", "my song's.wav", `"my song's.wav"`},
	} {
		if got := shellQuote(row.system, row.name); got != row.want {
			t.Errorf("%s: %s is %s, want %s", row.system, row.name, got, row.want)
		}
	}
}
