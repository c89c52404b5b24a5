//go:build unix

package main

import (
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
