//go:build unix

package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

func writesWords(w io.Writer) error {
	_, err := fmt.Fprint(w, "levels")
	return err
}

func TestAPipeIsWrittenIntoAndStaysAPipe(t *testing.T) {
	pipe := filepath.Join(t.TempDir(), "pipe")
	if err := syscall.Mkfifo(pipe, 0o600); err != nil {
		t.Fatal(err)
	}
	// Opened for both, so that neither side waits for the other.
	reader, err := os.OpenFile(pipe, os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer reader.Close()
	if err := writeWhole(pipe, io.Discard, writesWords); err != nil {
		t.Fatal(err)
	}
	if info, err := os.Lstat(pipe); err != nil || info.Mode()&os.ModeNamedPipe == 0 {
		t.Fatalf("%v %v: it is no pipe any more", info, err)
	}
	text := make([]byte, len("levels"))
	if _, err := io.ReadFull(reader, text); err != nil || string(text) != "levels" {
		t.Errorf("%q %v", text, err)
	}
}

func TestALinkStaysALinkAndItsFileIsReplaced(t *testing.T) {
	folder := t.TempDir()
	file, link := filepath.Join(folder, "elsewhere", "levels.csv"), filepath.Join(folder, "levels.csv")
	if err := os.Mkdir(filepath.Dir(file), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, []byte("old"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(filepath.Join("elsewhere", "levels.csv"), link); err != nil {
		t.Fatal(err)
	}
	if err := writeWhole(link, io.Discard, writesWords); err != nil {
		t.Fatal(err)
	}
	if info, err := os.Lstat(link); err != nil || info.Mode()&os.ModeSymlink == 0 {
		t.Errorf("%v %v: it is no link any more", info, err)
	}
	if text, err := os.ReadFile(file); err != nil || string(text) != "levels" {
		t.Errorf("%q %v", text, err)
	}
}

func TestAFolderIsNoFileToWrite(t *testing.T) {
	folder := t.TempDir()
	err := writeWhole(folder, io.Discard, writesWords)
	if err == nil || !strings.Contains(err.Error(), "is a folder; name a file in it") {
		t.Error(err)
	}
	if left, err := os.ReadDir(folder); err != nil || len(left) > 0 {
		t.Errorf("%v %v is left behind", left, err)
	}
}

// fullDisk takes nothing.
type fullDisk struct{}

func (fullDisk) Write([]byte) (int, error) {
	return 0, &os.PathError{Op: "write", Path: "/dev/stdout", Err: syscall.ENOSPC}
}

// Words that are printed, a table that is sent there, and a fault that was found: a full disk under standard output loses all alike.
func TestResultsThatAreLostAreAFailure(t *testing.T) {
	nothing := t.TempDir()
	for _, args := range [][]string{{"plan"}, {"--version"}, {"manual"}, {"verify", "--json", nothing}} {
		var said strings.Builder
		status := run(args, streams{fullDisk{}, &said})
		if args[0] == "verify" {
			// An error of its own is what is told.
			if status != statusInput || strings.Contains(said.String(), "standard output") {
				t.Errorf("%v: status %d, %q", args, status, said.String())
			}
			continue
		}
		const want = "colonnade: standard output: can not be written (no space left on device); make room, or send it elsewhere, and run it again\n"
		if status != statusFailed || said.String() != want {
			t.Errorf("%v: status %d, %q", args, status, said.String())
		}
	}
	lost := &results{Writer: fullDisk{}}
	fmt.Fprintln(lost, "a fault")
	var status statusError
	if err := lost.orLost(statusError{statusFault, nil}); errors.As(err, &status) || err == nil {
		t.Errorf("a fault whose words are lost ends as %v", err)
	}
}

func TestAStreamIsNotPouredOntoATerminal(t *testing.T) {
	terminal, err := os.OpenFile("/dev/ptmx", os.O_RDWR|syscall.O_NOCTTY, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer terminal.Close()
	var said strings.Builder
	status := run([]string{"render", "--stream", "y4m", "columns.toml"}, streams{terminal, &said})
	if status != statusInput || !strings.HasPrefix(said.String(), "colonnade: --stream: standard output is a terminal; ") {
		t.Errorf("status %d, %q", status, said.String())
	}
	said.Reset()
	if run([]string{"render", "--stream", "y4m", "columns.toml"}, streams{io.Discard, &said}); strings.Contains(said.String(), "terminal") {
		t.Errorf("into a pipe: %q", said.String())
	}
}
