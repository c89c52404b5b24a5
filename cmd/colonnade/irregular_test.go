//go:build unix

package main

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"colonnade/cmd/columnfile"
)

// irregular is what may lie under a file's name that is no file. Nobody writes to the pipe or reads from it: opening it plainly
// would wait for ever, and reading the device would not end.
var irregular = map[string]func(t *testing.T, path string){
	"a pipe": func(t *testing.T, path string) {
		if err := syscall.Mkfifo(path, 0o666); err != nil {
			t.Fatal(err)
		}
	},
	"an endless device": func(t *testing.T, path string) { symlink(t, "/dev/zero", path) },
	"a folder": func(t *testing.T, path string) {
		if err := os.Mkdir(path, 0o777); err != nil {
			t.Fatal(err)
		}
	},
}

func symlink(t *testing.T, to, path string) {
	t.Helper()
	if err := os.Symlink(to, path); err != nil {
		t.Fatal(err)
	}
}

// pieceFolder is a piece in a folder of its own, which becomes the working folder.
func pieceFolder(t *testing.T) {
	t.Helper()
	folder := t.TempDir()
	if err := makePiece(folder); err != nil {
		t.Fatal(err)
	}
	t.Chdir(folder)
	t.Setenv("COLONNADE_CACHE", "off")
}

// refuses runs a command that must end with one line and status 2; it gives the line.
func refuses(t *testing.T, args ...string) string {
	t.Helper()
	var stdout, stderr bytes.Buffer
	status := run(args, streams{&stdout, &stderr})
	text := stderr.String()
	if status != statusInput || strings.Count(text, "\n") != 1 || !strings.Contains(text, ": ") || !strings.Contains(text, "; ") || stdout.Len() > 0 {
		t.Errorf("%q: status %d, %q, printed %q", args, status, text, stdout.String())
	}
	return text
}

func TestWhatIsNoFileIsRefusedAndNeverWaitedFor(t *testing.T) {
	for what, put := range irregular {
		for _, c := range []struct {
			name     string
			commands []string
		}{
			{"photos/photo-0.png", []string{"render columns.toml", "check columns.toml", "check photos", "mark -o new.toml photos", "proof columns.toml"}},
			{"base.png", []string{"render --base base.png columns.toml"}},
			{"song.wav", []string{"render columns.toml", "listen columns.toml", "proof columns.toml"}},
			{"columns.toml", []string{"render columns.toml", "check columns.toml", "listen columns.toml", "proof columns.toml"}},
			{"levels.csv", []string{"render --levels levels.csv columns.toml", "listen --levels levels.csv columns.toml", "proof --levels levels.csv columns.toml"}},
			{"frames/sequence.json", []string{"render -o frames columns.toml", "verify frames"}},
			{"frames/frame_000002.png", []string{"render -o frames columns.toml"}},
			{"frames/.colonnade-lock", []string{"render -o frames columns.toml"}},
		} {
			t.Run(what+" as "+c.name, func(t *testing.T) {
				pieceFolder(t)
				os.MkdirAll("frames", 0o777)
				os.Remove(c.name)
				put(t, c.name)
				for _, command := range c.commands {
					if text := refuses(t, strings.Fields(command)...); !strings.Contains(text, filepath.Base(c.name)) {
						t.Errorf("%s: %q does not name %s", command, text, c.name)
					}
				}
			})
		}
	}
}

func TestALinkInPlaceOfALockMakesNothingElsewhere(t *testing.T) {
	pieceFolder(t)
	if err := os.MkdirAll("frames", 0o777); err != nil {
		t.Fatal(err)
	}
	symlink(t, "../elsewhere", "frames/.colonnade-lock")
	refuses(t, "render", "-o", "frames", "columns.toml")
	if _, err := os.Lstat("elsewhere"); err == nil {
		t.Error("the lock was made where the link leads to")
	}
}

func TestAPipeThatNobodyReadsIsNotWaitedFor(t *testing.T) {
	pieceFolder(t)
	irregular["a pipe"](t, "pipe.svg")
	refuses(t, "listen", "--chart", "pipe.svg", "columns.toml")
}

func TestAPipeWithAWriterIsAColumnFile(t *testing.T) {
	pieceFolder(t)
	text, err := os.ReadFile("columns.toml")
	if err != nil {
		t.Fatal(err)
	}
	irregular["a pipe"](t, "pipe.toml")
	// Opened for both, so that it does not wait for the reader.
	writer, err := os.OpenFile("pipe.toml", os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := writer.Write(text); err != nil {
		t.Fatal(err)
	}
	reader, err := columnfile.OpenText("pipe.toml")
	if err != nil {
		t.Fatal(err)
	}
	defer reader.Close()
	writer.Close()
	if got, err := io.ReadAll(reader); err != nil || !bytes.Equal(got, text) {
		t.Errorf("%q %v", got, err)
	}
}
