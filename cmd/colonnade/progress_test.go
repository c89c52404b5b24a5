package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"os"
	"strings"
	"testing"
	"time"

	"colonnade/analyze/flash"
	"colonnade/compose/sequence"
)

// night is a render of eight hours, looked at every ten seconds by a clock that the test moves.
func night(kind string) string {
	var log bytes.Buffer
	p := newProgress(kind, &log)
	begin := time.Date(2026, 3, 1, 22, 0, 0, 0, time.UTC)
	clock := begin
	p.now = func() time.Time { return clock }
	p.begun, p.last = begin, begin
	p.work = &work{frames: span{1, 28800}, width: 1920, height: 1080, rate: "24000/1001", folder: "frames"}
	for second := 0; second <= 28800; second += 10 {
		clock = begin.Add(time.Duration(second) * time.Second)
		s := sequence.Progress{Done: second, Total: 28800, Written: second, Stage: "writing"}
		if second > 0 {
			s.FramesPerSecond, s.Left = 1, time.Duration(28800-second)*time.Second
		}
		p.update(s)
	}
	p.end(sequence.Summary{Written: 28800, Seconds: 28800}, "ffmpeg -i <frames> video.mp4")
	return log.String()
}

func TestFolderRefusedAfterLongDecodingIsOneLine(t *testing.T) {
	var log bytes.Buffer
	p := newProgress("plain", &log)
	clock := p.begun.Add(5 * time.Second) // photos were decoded
	p.now = func() time.Time { return clock }
	p.start(&work{frames: span{1, 10}})
	p.update(sequence.Progress{Total: 10, Stage: "reading"})
	p.end(sequence.Summary{}, "")
	if log.Len() > 0 {
		t.Errorf("beside the error it says %q", log.String())
	}
	p.start(&work{frames: span{1, 10}, rate: "25/1"})
	clock = clock.Add(lookAround)
	p.update(sequence.Progress{Total: 10, Stage: "checking"})
	if !strings.Contains(log.String(), "frames 1 to 10, ") {
		t.Errorf("after a while it says %q", log.String())
	}
}

// What is wrong with a photo stands alone however long decoding takes in a folder that has frames.
func TestWhatMayFailIsTriedQuietly(t *testing.T) {
	for _, kind := range []string{"plain", "json", "bar"} {
		var log bytes.Buffer
		p := newProgress(kind, &log)
		clock := p.begun
		p.now = func() time.Time { return clock }
		p.start(&work{frames: span{1, 10}, rate: "25/1"})
		broken := errors.New("photos: stone.jpg is a damaged JPEG; copy it again")
		if err := p.quietly(func() error {
			clock = clock.Add(time.Minute)
			p.update(sequence.Progress{Total: 10, Stage: "checking"})
			return broken
		}); err != broken || log.Len() > 0 {
			t.Errorf("%s: beside error %v it says %q", kind, err, log.String())
		}
		p.update(sequence.Progress{Total: 10, Done: 1, Stage: "writing"})
		if log.Len() == 0 {
			t.Errorf("%s: then it says nothing", kind)
		}
	}
}

func TestJSONProgressBeginsWithWhatIsToBeDone(t *testing.T) {
	var log bytes.Buffer
	p := newProgress("json", &log)
	clock := p.begun.Add(time.Minute) // photos were decoded
	p.now = func() time.Time { return clock }
	p.start(&work{frames: span{1, 10}, rate: "25/1"})
	p.update(sequence.Progress{Total: 10, Stage: "reading"})
	p.update(sequence.Progress{Total: 10, Done: 1, Stage: "writing"})
	if first, _, _ := strings.Cut(log.String(), "\n"); !strings.Contains(first, `"start"`) {
		t.Errorf("the first line is %q", first)
	}
}

// How many lines are too many has no source: a hundred are two or three screens.
func TestLogOfANightIsShortAndDated(t *testing.T) {
	lines := strings.Split(strings.TrimSpace(night("plain")), "\n")
	if len(lines) < 40 || len(lines) > 100 {
		t.Errorf("%d lines for eight hours", len(lines))
	}
	if want := "2026-03-01 22:00:10  frames 1 to 28800, 1920 x 1080, 24000/1001 a second, into frames; colonnade " + Version; lines[0] != want {
		t.Errorf("it begins with %q, want %q", lines[0], want)
	}
	if want := "2026-03-01 22:00:30  frame 30/28800, 30 written, 0 kept, 0 repeated, 1.0 frames/s, 7h59m30s left, done about 06:00"; lines[1] != want {
		t.Errorf("it goes on with %q, want %q", lines[1], want)
	}
	if want := "2026-03-02 06:00:00  done: frame 28800/28800 after 8h0m0s"; lines[len(lines)-1] != want {
		t.Errorf("it ends with %q, want %q", lines[len(lines)-1], want)
	}
	var before time.Time
	for i, line := range lines {
		at, err := time.Parse(dateAndTime, line[:len(dateAndTime)])
		if err != nil {
			t.Fatalf("line %q has no date: %v", line, err)
		}
		if i > 0 && at.Sub(before) > plainSeldom {
			t.Errorf("nothing was said from %v to %v", before, at)
		}
		before = at
	}
}

func TestJSONProgressIsOneObjectALine(t *testing.T) {
	count := make(map[string]int)
	for line := range strings.Lines(night("json")) {
		var object map[string]any
		if err := json.Unmarshal([]byte(line), &object); err != nil {
			t.Fatalf("%q: %v", line, err)
		}
		kind, _ := object["type"].(string)
		count[kind]++
		if kind == "progress" {
			if left, known := object["seconds_left"].(float64); known && left != 28800-object["done"].(float64) {
				t.Errorf("%v s are left at frame %v", left, object["done"])
			}
		}
	}
	if count["start"] != 1 || count["progress"] != 2880 || count["summary"] != 1 || len(count) != 3 {
		t.Errorf("the lines are %v", count)
	}
}

// Each field is named in the README's row of its type.
func TestEveryFieldOfJSONProgressIsDocumented(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	rows := make(map[string]string)
	for line := range strings.Lines(string(readme)) {
		if kind, row, found := strings.Cut(strings.TrimPrefix(line, "| `"), "`"); found && strings.HasPrefix(line, "| `") {
			rows[kind] = row
		}
	}
	var log bytes.Buffer
	p := newProgress("json", &log)
	p.work = new(work)
	p.notes([]string{"a note"})
	p.flashing([]flash.Warning{{}})
	p.update(sequence.Progress{Done: 1, Total: 1})
	p.end(sequence.Summary{}, "ffmpeg")
	seen := 0
	for line := range strings.Lines(log.String()) {
		var object map[string]any
		if err := json.Unmarshal([]byte(line), &object); err != nil {
			t.Fatalf("%q: %v", line, err)
		}
		kind, _ := object["type"].(string)
		if warning, found := object["warning"].(map[string]any); found {
			for field := range warning {
				object[field] = nil
			}
		}
		for field := range object {
			if field != "type" && !strings.Contains(rows[kind], "`"+field+"`") {
				t.Errorf("the row of %q does not name %q: %s", kind, field, rows[kind])
			}
		}
		seen++
	}
	if seen != 5 {
		t.Errorf("%d objects of five types:\n%s", seen, log.String())
	}
}

func TestProgressOfReadingTellsNoSpeed(t *testing.T) {
	p := newProgress("plain", new(bytes.Buffer))
	if got := p.plain(sequence.Progress{Done: 5, Total: 9, Kept: 5, Stage: "reading"}); got != "frame 5/9, 0 written, 5 kept, 0 repeated, reading" {
		t.Errorf("%q", got)
	}
}
