//go:build unix

package main

import (
	"bufio"
	"io"
	"os"
	"os/exec"
	"strings"
	"syscall"
	"testing"
)

// TestSignalsAreAnswered holds a stream up at its reader, so that the program is surely at work when the signals come:
// SIGUSR1 is answered with where it stands, the first interrupt with the status 130 after the frame in hand.
func TestSignalsAreAnswered(t *testing.T) {
	folder := t.TempDir()
	if err := makePiece(folder); err != nil {
		t.Fatal(err)
	}
	program, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	// testscript.Main makes the test binary the program when it is called by the program's name.
	path := folder + "/colonnade"
	if err := os.Symlink(program, path); err != nil {
		t.Fatal(err)
	}
	command := exec.Command(path, "render", "--stream", "y4m", "--size", "640x480", "--fps", "500", "columns.toml")
	command.Dir = folder
	stdout, err := command.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	stderr, err := command.StderrPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := command.Start(); err != nil {
		t.Fatal(err)
	}
	frames := bufio.NewReader(stdout)
	if header, err := frames.ReadString('\n'); err != nil || !strings.HasPrefix(header, "YUV4MPEG2") {
		t.Fatalf("%q %v", header, err)
	}
	words := bufio.NewReader(stderr)
	expect := func(want string) {
		t.Helper()
		for {
			line, err := words.ReadString('\n')
			if strings.Contains(line, want) {
				return
			}
			if err != nil {
				t.Fatalf("%q never came: %v", want, err)
			}
		}
	}
	command.Process.Signal(syscall.SIGUSR1)
	expect("frame 0/1000, 0 written")
	command.Process.Signal(os.Interrupt)
	expect("stopping after the frames in hand")
	go io.Copy(io.Discard, frames)
	expect("colonnade: stopped after frame")
	command.Wait()
	if got := command.ProcessState.ExitCode(); got != 130 {
		t.Errorf("exit status %d, want 130", got)
	}
}
