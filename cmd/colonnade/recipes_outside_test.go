package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"image"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"testing"
)

// The recipes are those of the README, read from it and run as they stand there, in folders that hold what they name.

const (
	palTags   = "tv bt709 bt709 bt709"
	rgbTags   = "pc gbr bt709 iec61966-2-1"
	shortSong = 3.13 // seconds: a third of a frame beyond 78 at 25 a second
)

var (
	shortClicks = []int{8, 30, 47, 71}
	// The part that a recipe renders begins with frame 1499, where a click is to be heard and seen at once.
	partClicks = []int{700, 1499, 1520, 1551, 1571}
)

// bench is where recipes are run: the program is found by its name, and no question is asked.
type bench struct {
	t       *testing.T
	program string
}

func newBench(t *testing.T) bench {
	t.Helper()
	tool(t, "ffmpeg", "ffmpeg")
	tool(t, "bash", "bash")
	program := filepath.Join(t.TempDir(), "colonnade")
	placeProgram(t, program)
	return bench{t, program}
}

// placeProgram makes the program startable by a path: the tests' own binary is the program when it is called by its name.
func placeProgram(t *testing.T, path string) {
	t.Helper()
	tests, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(tests, path); err != nil {
		t.Fatal(err)
	}
}

// shell runs lines in a folder and gives what they said on both outputs.
func (b bench) shell(folder, lines string, environment ...string) (string, error) {
	command := exec.Command("bash", "-o", "pipefail", "-c", lines)
	command.Dir = folder
	command.Env = append(append(os.Environ(), "PATH="+filepath.Dir(b.program)+string(os.PathListSeparator)+os.Getenv("PATH")), environment...)
	told, err := command.CombinedOutput()
	return string(told), err
}

// must runs lines that have to succeed.
func (b bench) must(folder, lines string) string {
	b.t.Helper()
	told, err := b.shell(folder, "set -e\n"+lines)
	if err != nil {
		b.t.Fatalf("%s\n%v\n%s", lines, err, told)
	}
	return told
}

// printed is the encoder's command within what render said.
func (b bench) printed(told string) string {
	b.t.Helper()
	for line := range strings.Lines(told) {
		if line = strings.TrimSpace(line); strings.HasPrefix(line, "ffmpeg ") {
			return line
		}
	}
	b.t.Fatalf("no encoder's command in\n%s", told)
	return ""
}

// pivot is where the part of a command that is right for the frames and the song ends, and the recipe goes on.
const pivot = " -map 0:v -map 1:a "

func TestOutsideRecipesMakeVideosInSyncAndColour(t *testing.T) {
	if !outside(t) {
		return
	}
	b := newBench(t)
	short, long := t.TempDir(), t.TempDir()
	clickPiece(t, short, "song.wav", pal, shortSong, shortClicks)
	clickPiece(t, long, "song.wav", film, 66.5, partClicks)
	b.must(short, "colonnade render -q -o frames columns.toml")
	var recipes []block
	for _, r := range blocksOf(t, "Frames and song to video") {
		if r.language != "sh" {
			continue
		}
		recipes = append(recipes, r)
		fields := strings.Fields(r.text)
		folder, want := short, expected{pal, 79, len(shortClicks)}
		if strings.Contains(r.text, "--from") {
			folder, want = long, expected{film, 73, len(partClicks) - 1}
		}
		b.must(folder, r.text)
		v := readVideo(t, filepath.Join(folder, fields[len(fields)-1]))
		v.holdTogether(t, want)
		switch v.picture.Pixels {
		case "bgr0":
			sameAsFrames(t, v, filepath.Join(short, "frames"))
			sameAsSong(t, v, filepath.Join(short, "song.wav"))
		case "yuv444p":
			v.showsFlats(t, 2)
			sameAsStream(t, v, b.must(short, "colonnade render -q --stream y4m --chroma 444 columns.toml"))
			sameAsSong(t, v, filepath.Join(short, "song.wav"))
		case "yuv422p10le":
			limit := 1.0
			if strings.Contains(r.text, "--stream") { // of 8 bits
				limit = 2
			}
			v.showsFlats(t, limit)
		default:
			v.showsFlats(t, 2)
		}
		tags := palTags
		if v.picture.Pixels == "bgr0" {
			tags = rgbTags
		}
		if v.picture.tags() != tags {
			t.Errorf("%s: the colours are tagged %q, want %q", v.path, v.picture.tags(), tags)
		}
		if strings.HasSuffix(v.path, ".mp4") {
			beginsAtOnce(t, v)
		}
	}
	if len(recipes) != 7 {
		t.Errorf("%d recipes were run", len(recipes))
	}

	// As the README says: the printed command up to the recipe, and the recipe from there on.
	told := b.must(long, "colonnade render --from 1:02.5 --to 1:05.5 -o part columns.toml")
	begin, _, _ := strings.Cut(b.printed(told), pivot)
	if want := fromRecord(t, filepath.Join(long, "part")); begin != want {
		t.Errorf("the printed command begins\n%s, by sequence.json it is\n%s", begin, want)
	}
	for _, r := range recipes {
		if strings.Contains(r.text, "colonnade") {
			continue
		}
		flat := strings.ReplaceAll(r.text, "\\\n", "")
		head, end, found := strings.Cut(strings.Join(strings.Fields(flat), " "), strings.TrimSpace(pivot))
		if !found || !strings.HasPrefix(head, "ffmpeg -framerate 25 -i frames/") {
			t.Fatalf("%s: the recipe does not turn on %q", r.heading, pivot)
		}
		b.must(long, begin+pivot+end)
		fields := strings.Fields(end)
		readVideo(t, filepath.Join(long, fields[len(fields)-1])).holdTogether(t, expected{film, 73, len(partClicks) - 1})
	}
}

// The command that render ends with is run as it is printed, for parts, offsets and names that are hard to write.
func TestOutsidePrintedEncoderCommandFits(t *testing.T) {
	if !outside(t) {
		return
	}
	b := newBench(t)
	tool(t, "lame", "lame")
	for _, c := range []struct {
		what, song, frames, flags string
		before                    string // a command before
		rate                      string
		want                      expected
	}{
		{"film from 1:02.5, hard names", `take 2: "it's" 100%.wav`, `it's 50% a:b`, "--from 1:02.5", "", "film", expected{film, 97, 4}},
		{"a part of an MP3", "song.mp3", "frames", "--from 1:02.5 --to 1:05.5", "lame --quiet -V 2 song.wav song.mp3", "film", expected{film, 73, 4}},
		// The click of frame 8 lies before what is shown, the others come eleven frames earlier.
		{"a song that begins late in its file", "song.wav", "frames", "--offset 440", "", "pal", expected{pal, 68, 3}},
		{"silence before the song", "song.wav", "frames", "--offset -280", "", "pal", expected{pal, 86, 4}},
		{"a part with silence before the song", "song.wav", "frames", "--offset -280 --to 1", "", "pal", expected{pal, 25, 1}},
		{"a shard in a folder of all", "song.wav", "frames", "--shard 2/3", "colonnade render -q -o frames columns.toml", "pal", expected{pal, 26, 2}},
		{"an odd size", "song.wav", "frames", "--size 301x181", "", "pal", expected{pal, 79, 4}},
	} {
		t.Run(c.what, func(t *testing.T) {
			b, folder := bench{t, b.program}, t.TempDir()
			wave := c.song
			if strings.HasSuffix(c.song, ".mp3") {
				wave = "song.wav"
			}
			if c.rate == "film" {
				clickPiece(t, folder, wave, film, 66.5, partClicks)
			} else {
				clickPiece(t, folder, wave, pal, shortSong, shortClicks)
			}
			told := b.must(folder, c.before+"\ncolonnade render --song "+shellQuote(runtime.GOOS, c.song)+" "+c.flags+" -o "+shellQuote(runtime.GOOS, c.frames)+" columns.toml")
			line := b.printed(told)
			dry := b.must(folder, "colonnade render --dry-run --song "+shellQuote(runtime.GOOS, c.song)+" "+c.flags+" -o "+shellQuote(runtime.GOOS, c.frames)+" columns.toml")
			if !strings.Contains(dry, "encoder   "+line+"\n") {
				t.Errorf("the dry run says\n%s, the render\n%s", dry, line)
			}
			b.must(folder, line)
			v := readVideo(t, filepath.Join(folder, "video.mp4"))
			v.holdTogether(t, c.want)
			if v.picture.tags() != palTags {
				t.Errorf("the colours are tagged %q", v.picture.tags())
			}
		})
	}
}

// fromRecord is the beginning of the command for a folder that holds a part, from sequence.json alone, as the README tells.
func fromRecord(t *testing.T, folder string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(folder, "sequence.json"))
	if err != nil {
		t.Fatal(err)
	}
	var record struct {
		Rate    string `json:"fps"`
		Pattern string
		Safe    []string
		Song    struct {
			File  string
			Start float64
		}
	}
	if err := json.Unmarshal(text, &record); err != nil {
		t.Fatal(err)
	}
	var num, den float64
	var first, last int
	if _, err := fmt.Sscanf(record.Rate, "%f/%f", &num, &den); err != nil || len(record.Safe) != 1 {
		t.Fatalf("fps %q, safe %q; %v", record.Rate, record.Safe, err)
	}
	if _, err := fmt.Sscanf(record.Safe[0], "%d-%d", &first, &last); err != nil {
		t.Fatal(err)
	}
	return fmt.Sprintf("ffmpeg -framerate %s -start_number %d -i %s -ss %.6f -i %s -t %.6f", record.Rate, first, filepath.Join(filepath.Base(folder), record.Pattern),
		record.Song.Start+float64(first-1)*den/num, record.Song.File, float64(last-first+1)*den/num)
}

// The dry run of a stream prints the encoder's side of the pipe.
func TestOutsidePrintedEncoderCommandTakesTheStream(t *testing.T) {
	if !outside(t) {
		return
	}
	b := newBench(t)
	folder := t.TempDir()
	clickPiece(t, folder, "song.wav", pal, shortSong, shortClicks)
	render := "colonnade render --stream y4m --offset 40 --from 1 --to 2.4 columns.toml"
	_, line, found := strings.Cut(b.must(folder, render+" --dry-run"), "encoder   ")
	if !found {
		t.Fatal("no encoder's command in what the dry run says")
	}
	b.must(folder, render+" | "+line)
	v := readVideo(t, filepath.Join(folder, "video.mp4"))
	v.holdTogether(t, expected{pal, 35, 2})
	v.showsFlats(t, 2)
	if v.picture.tags() != palTags {
		t.Errorf("the colours are tagged %q", v.picture.tags())
	}
}

// beginsAtOnce checks what a player of MP4 needs: the index before the data, and an edit list that hides the samples
// by which the sound's coder runs ahead (1024 in ffmpeg's coder: ISO/IEC 14496-3 has frames of 1024 that overlap by half).
func beginsAtOnce(t *testing.T, v *video) {
	t.Helper()
	data, err := os.ReadFile(v.path)
	if err != nil {
		t.Fatal(err)
	}
	if index, media := bytes.Index(data, []byte("moov")), bytes.Index(data, []byte("mdat")); index < 0 || media < index {
		t.Errorf("%s: the index is at byte %d, the data at %d", v.path, index, media)
	}
	raw := onsetsOf(hear16(t, v.path, "-ignore_editlist", "1"))
	heard := v.onsets()
	if len(raw) != len(heard) || len(raw) == 0 {
		t.Fatalf("%s: %d clicks with the edit list, %d without", v.path, len(heard), len(raw))
	}
	if late := (raw[0] - heard[0]) * clickRate; late < 1023 || late > 1025 {
		t.Errorf("%s: without the edit list the sound is %.0f samples late, want 1024", v.path, late)
	}
}

// sameAsFrames holds every pixel of every frame against the folder's.
func sameAsFrames(t *testing.T, v *video, folder string) {
	t.Helper()
	names, err := filepath.Glob(filepath.Join(folder, "frame_*.png"))
	if err != nil || len(names) != len(v.frames) {
		t.Fatalf("%d frames in %s, %d in %s; %v", len(names), folder, len(v.frames), v.path, err)
	}
	for n, name := range names {
		file, err := os.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		img, err := png.Decode(file)
		file.Close()
		if err != nil {
			t.Fatal(err)
		}
		for y := range chartHeight {
			for x := range chartWidth {
				r, g, b, _ := img.At(x, y).RGBA()
				i := 4 * (y*chartWidth + x)
				if got := v.frames[n][i : i+3]; got[0] != byte(b>>8) || got[1] != byte(g>>8) || got[2] != byte(r>>8) {
					t.Fatalf("%s: frame %d differs from %s at %v", v.path, n+1, name, image.Pt(x, y))
				}
			}
		}
	}
}

// sameAsStream holds every value of every frame against the stream that render sends.
func sameAsStream(t *testing.T, v *video, stream string) {
	t.Helper()
	_, rest, _ := strings.Cut(stream, "\n")
	for n, frame := range v.frames {
		mark := "FRAME\n"
		if len(rest) < len(mark)+len(frame) || rest[:len(mark)] != mark || rest[len(mark):len(mark)+len(frame)] != string(frame) {
			t.Fatalf("%s: frame %d differs from the stream's", v.path, n+1)
		}
		rest = rest[len(mark)+len(frame):]
	}
	if rest != "" {
		t.Errorf("%s: the stream goes on for %d bytes", v.path, len(rest))
	}
}

// sameAsSong holds every sample against the song's.
func sameAsSong(t *testing.T, v *video, song string) {
	t.Helper()
	want := hear16(t, song)
	if len(want) != len(v.heard) {
		t.Fatalf("%s: %d samples, the song has %d", v.path, len(v.heard), len(want))
	}
	for i := range want {
		if want[i] != v.heard[i] {
			t.Fatalf("%s: sample %d is %d, in the song %d", v.path, i, v.heard[i], want[i])
		}
	}
}

// An encoder that ends early is told in one line, with the status of work that failed.
func TestOutsideStreamTellsOfAnEncoderThatEnds(t *testing.T) {
	if !outside(t) {
		return
	}
	b := newBench(t)
	folder := t.TempDir()
	clickPiece(t, folder, "song.wav", pal, shortSong, shortClicks)
	if err := os.WriteFile(filepath.Join(folder, "there.mp4"), []byte("kept"), 0o644); err != nil {
		t.Fatal(err)
	}
	one := regexp.MustCompile(`^colonnade: stream: the program that reads it ended early; [^\n]*\n$`)
	for what, encoder := range map[string]string{
		"its output exists":       "ffmpeg -v error -i - -i song.wav -map 0:v -map 1:a there.mp4 2>/dev/null",
		"its song is missing":     "ffmpeg -v error -i - -i none.wav -map 0:v -map 1:a new.mp4 2>/dev/null",
		"it ends within a frame":  "head -c 100000 >/dev/null",
		"it ends after one frame": "ffmpeg -v error -i - -frames:v 1 -f null - 2>/dev/null",
	} {
		told, _ := b.shell(folder, "colonnade render -q --stream y4m columns.toml 2>words | "+encoder+"; echo ${PIPESTATUS[0]}; cat words")
		if status, words, _ := strings.Cut(told, "\n"); status != "1" || !one.MatchString(words) {
			t.Errorf("%s: status %q, words %q", what, status, words)
		}
	}
	if kept, err := os.ReadFile(filepath.Join(folder, "there.mp4")); err != nil || string(kept) != "kept" {
		t.Errorf("the encoder's output that was there is now %q, %v", kept, err)
	}
}
