package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// overnight is the block of the README's section in a language.
func overnight(t *testing.T, language string) string {
	t.Helper()
	for _, b := range blocksOf(t, "Overnight") {
		if b.language == language {
			return b.text
		}
	}
	t.Fatalf("the README's section has no block of %s", language)
	return ""
}

// TestOutsideNightGoesOnAfterAPowerCut runs the README's command as it stands there, and the same again after some frames
// are gone and one is cut short, as a power cut may leave them on a disk that keeps no promises.
func TestOutsideNightGoesOnAfterAPowerCut(t *testing.T) {
	if !outside(t) {
		return
	}
	b := newBench(t)
	folder := t.TempDir()
	clickPiece(t, folder, "song.wav", pal, shortSong, shortClicks)
	command := overnight(t, "sh")
	for _, word := range []string{"nohup ", "nice ", "ionice ", " &\n"} {
		if !strings.Contains(command, word) {
			t.Errorf("the command lacks %q: %s", word, command)
		}
	}
	log := func() string {
		t.Helper()
		if told, err := b.shell(folder, command+"wait $!"); err != nil || told != "" {
			t.Fatalf("%s%v\n%s", command, err, told)
		}
		text, err := os.ReadFile(filepath.Join(folder, "render.log"))
		if err != nil {
			t.Fatal(err)
		}
		return string(text)
	}
	date := `\d{4}-\d\d-\d\d \d\d:\d\d:\d\d  `
	said := func(what string) string {
		return "^" + date + `frames 1 to 79, 320 x 192, 25 a second, into frames; colonnade [^\n]*\n(` + date + `frame [^\n]*\n)*` +
			date + `done: frame 79/79 after [^\n]*\n79 frames in frames: ` + what + `[^\n]*\n(frames that repeat[^\n]*\n)?join them with the song, for example:\n  ffmpeg [^\n]*\n$`
	}
	first := log()
	if !regexp.MustCompile(said("79 written, 0 kept")).MatchString(first) {
		t.Errorf("the log is\n%s", first)
	}
	if err := os.Truncate(filepath.Join(folder, "frames", "frame_000070.png"), 100); err != nil {
		t.Fatal(err)
	}
	b.must(folder, "rm frames/frame_00007[1-9].png")
	both := log()
	if !strings.HasPrefix(both, first) || !regexp.MustCompile(said("10 written, 69 kept")).MatchString(both[len(first):]) {
		t.Errorf("after the cut the log is\n%s", both)
	}
	b.must(folder, "colonnade verify frames")
	b.must(folder, b.printed(both))
	readVideo(t, filepath.Join(folder, "video.mp4")).holdTogether(t, expected{pal, 79, len(shortClicks)})
}

// TestOutsideUnitIsSound has systemd judge the README's unit, and one with a slip in it, which it must name.
func TestOutsideUnitIsSound(t *testing.T) {
	if !outside(t) {
		return
	}
	judge := tool(t, "systemd-analyze", "systemd")
	home := t.TempDir()
	for _, folder := range []string{"piece", "go/bin", "runtime"} {
		if err := os.MkdirAll(filepath.Join(home, folder), 0o700); err != nil {
			t.Fatal(err)
		}
	}
	placeProgram(t, filepath.Join(home, "go/bin/colonnade"))
	verify := func(text string) (string, error) {
		t.Helper()
		path := filepath.Join(home, "colonnade.service")
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		command := exec.Command(judge, "verify", "--user", "--man=no", path)
		command.Env = append(os.Environ(), "HOME="+home, "XDG_RUNTIME_DIR="+filepath.Join(home, "runtime"))
		told, err := command.CombinedOutput()
		return string(told), err
	}
	unit := overnight(t, "ini")
	if told, err := verify(unit); err != nil || told != "" {
		t.Errorf("systemd says %v\n%s", err, told)
	}
	if told, _ := verify(strings.Replace(unit, "\nNice=", "\nNicer=", 1)); !strings.Contains(told, "'Nicer'") {
		t.Errorf("systemd takes a unit with a slip in it: %s", told)
	}
	// The unit's command is the one that the section tells of.
	_, started, _ := strings.Cut(unit, "ExecStart=%h/go/bin/")
	started, _, _ = strings.Cut(started, "\n")
	if started == "" || !strings.Contains(overnight(t, "sh"), started) {
		t.Errorf("the unit starts %q, the command is %s", started, overnight(t, "sh"))
	}
}
