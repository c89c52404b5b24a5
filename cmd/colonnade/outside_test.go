package main

import (
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"colonnade/analyze/envelope"
	"colonnade/analyze/timing"
)

// The checks of this file hold the whole program against Debian's numpy, scipy, OpenCV, ffmpeg, libpng and an
// emulated processor. They run where COLONNADE_OUTSIDE is 1, and then everything they need must be there: a script
// that misses something fails and names the Debian package.

// python is Debian's own, for which Debian's numpy, scipy and OpenCV are installed; the first in the path may be another.
const python = "/usr/bin/python3"

const outsideFolder = "../../testdata/outside"

// outsideBands are what the envelopes are compared in: five common bands, one narrow low one and one up to the song's end.
var outsideBands = []envelope.Band{{LowHz: 16, HighHz: 60}, {LowHz: 60, HighHz: 250}, {LowHz: 250, HighHz: 500}, {LowHz: 500, HighHz: 2000},
	{LowHz: 2000, HighHz: 6000}, {LowHz: 6000, HighHz: 16000}, {LowHz: 40, HighHz: 48}, {LowHz: 9000, HighHz: 22050}}

// outsideScripts are the checks, each with what it asks for beside the program and a folder.
var outsideScripts = []struct {
	name, claim string
	arguments   func(t *testing.T, folder string) []string
}{
	{"spectra.py", "envelopes of a song equal scipy's", func(t *testing.T, _ string) []string {
		var bands, windows []string
		for i, window := range readingWindows(t, 44100, outsideBands) {
			bands = append(bands, fmt.Sprintf("%g-%g", outsideBands[i].LowHz, outsideBands[i].HighHz))
			windows = append(windows, fmt.Sprintf("%.12g", window.Seconds))
		}
		return []string{"--bands", strings.Join(bands, ","), "--windows", strings.Join(windows, ",")}
	}},
	{"masks.py", "masks equal scipy's", nil},
	{"compositing.py", "frames of real photographs equal the formula", nil},
	{"pngfiles.py", "frames are sound PNG files with their colour chunks", nil},
	{"sync.py", "clicks are seen when they are heard", nil},
	{"determinism.py", "the same inputs give the same bytes", func(t *testing.T, folder string) []string {
		return []string{"--arm64", buildProgram(t, folder, "arm64")}
	}},
	{"shoot.py", "faults of real photographs are named, measured, marked and mended", nil},
	{"cairns.py", "the example's columns use their range", func(*testing.T, string) []string {
		return []string{"--example", "../../examples/cairns/columns.toml"}
	}},
}

// notChecks are what the checks share.
var notChecks = []string{"harness.py", "photoset.py", "stage.py"}

// TestEveryOutsideScriptIsRun keeps a check from lying there unused.
func TestEveryOutsideScriptIsRun(t *testing.T) {
	found, err := filepath.Glob(filepath.Join(outsideFolder, "*.py"))
	if err != nil {
		t.Fatal(err)
	}
	known := slices.Clone(notChecks)
	for _, script := range outsideScripts {
		known = append(known, script.name)
	}
	for i := range found {
		found[i] = filepath.Base(found[i])
	}
	slices.Sort(known)
	slices.Sort(found)
	if !slices.Equal(found, known) {
		t.Errorf("the folder holds %v; the scripts that are run, and what they share, are %v", found, known)
	}
}

func TestProgramAgainstTheOutside(t *testing.T) {
	if os.Getenv("COLONNADE_OUTSIDE") != "1" {
		t.Log("COLONNADE_OUTSIDE is not 1: the program is not held against the outside")
		return
	}
	if _, err := os.Stat(python); err != nil {
		t.Fatalf("%s: %v; install the Debian packages python3-numpy, python3-scipy and python3-opencv", python, err)
	}
	program := buildProgram(t, t.TempDir(), "")
	for _, script := range outsideScripts {
		t.Run(script.claim, func(t *testing.T) {
			folder := t.TempDir()
			// -B: nothing is to be left beside the scripts.
			arguments := []string{"-B", filepath.Join(outsideFolder, script.name), "--colonnade", program, "--work", folder}
			if script.arguments != nil {
				arguments = append(arguments, script.arguments(t, t.TempDir())...)
			}
			told, err := exec.Command(python, arguments...).CombinedOutput()
			t.Logf("%s\n%s", script.name, told)
			if err != nil {
				t.Errorf("%s: %v", script.name, err)
			}
		})
	}
}

// buildProgram builds the program for this machine, or for another processor, into a folder.
func buildProgram(t *testing.T, folder, processor string) string {
	t.Helper()
	path := filepath.Join(folder, "colonnade"+processor)
	build := exec.Command("go", "build", "-o", path, ".")
	build.Env = os.Environ()
	if processor != "" {
		build.Env = append(build.Env, "GOOS=linux", "GOARCH="+processor, "CGO_ENABLED=0")
	}
	if told, err := build.CombinedOutput(); err != nil {
		t.Fatalf("building the program: %v\n%s", err, told)
	}
	absolute, err := filepath.Abs(path)
	if err != nil {
		t.Fatal(err)
	}
	return absolute
}

// silence is a song of so many samples of nothing.
type silence struct{ left int }

func (s *silence) Read(dst [][]float32) (int, error) {
	n := min(s.left, len(dst[0]))
	if n == 0 {
		return 0, io.EOF
	}
	for _, channel := range dst {
		clear(channel[:n])
	}
	s.left -= n
	return n, nil
}

// readingWindows asks the listening itself how long its windows are at 25 frames a second.
func readingWindows(t *testing.T, sampleRate int, bands []envelope.Band) []envelope.Window {
	t.Helper()
	envelopes, err := envelope.Measure(&silence{sampleRate}, sampleRate, 1, bands, timing.Rate{Num: 25, Den: 1})
	if err != nil {
		t.Fatal(err)
	}
	return envelopes.Windows
}
