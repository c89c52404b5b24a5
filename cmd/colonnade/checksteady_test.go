package main

import (
	"bytes"
	"encoding/json"
	"image"
	"image/color"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// On a stage without a mark no shift can be told. What steady then leaves alone is said where all notes are, and nowhere
// when nothing is to be said.
func TestWhatSteadyLeavesAloneIsANote(t *testing.T) {
	folder := t.TempDir()
	if err := makePiece(folder); err != nil {
		t.Fatal(err)
	}
	for level := range 4 {
		img := image.NewGray(image.Rect(0, 0, 320, 240))
		for y := range 240 {
			for x := range 320 {
				img.SetGray(x, y, color.Gray{uint8(120 + 2*level)})
				if x >= 12 && x < 20 && y >= 42-10*level && y < 42 {
					img.SetGray(x, y, color.Gray{220})
				}
			}
		}
		if err := writePNG(filepath.Join(folder, "photos", "photo-"+strconv.Itoa(level)+".png"), img); err != nil {
			t.Fatal(err)
		}
	}
	told := func(command ...string) string {
		var stdout, stderr bytes.Buffer
		if status := run(append(command, filepath.Join(folder, "columns.toml")), streams{&stdout, &stderr}); status != statusDone {
			t.Fatalf("%v: status %d: %s", command, status, stderr.String())
		}
		return stderr.String()
	}
	const note = "steady leaves its place alone"
	render := []string{"render", "--steady", "shift", "--frames", "20-20", "-o"}
	if text := told(append(render, filepath.Join(folder, "a"), "--progress", "none")...); strings.Count(text, note) != 3 {
		t.Errorf("three photos are left alone: %s", text)
	}
	if text := told(append(render, filepath.Join(folder, "b"), "-q")...); text != "" {
		t.Errorf("-q says %s", text)
	}
	text := told(append(render, filepath.Join(folder, "c"), "--progress", "json")...)
	if strings.Count(text, note) != 3 {
		t.Errorf("three photos are left alone: %s", text)
	}
	for line := range strings.Lines(text) {
		if !json.Valid([]byte(line)) {
			t.Errorf("%q is no JSON", line)
		}
	}
}
