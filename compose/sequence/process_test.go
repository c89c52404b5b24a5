package sequence

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"colonnade/analyze/levels"
)

// The test binary, run again with helperVariable set, is a process that writes frames.
const helperVariable = "COLONNADE_SEQUENCE_HELPER"

func TestMain(m *testing.M) {
	switch os.Getenv(helperVariable) {
	case "write": // FOLDER SCENE COUNT: says a line for each frame made
		var count int
		fmt.Sscan(os.Args[3], &count)
		o := tiny(os.Args[1], count)
		o.Coder, o.Describe.Scene = telling{tinyCoder{os.Args[2]}}, os.Args[2]
		o.Repeats = RepeatsLink
		if _, err := Write(context.Background(), o); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
	case "hold": // FOLDER: holds frames 1 to 10 of 20 until it is killed
		o := tiny(os.Args[1], 20)
		o.Last = 10
		o.Coder = holding{}
		Write(context.Background(), o)
	default:
		os.Exit(m.Run())
	}
}

// telling says a line for each frame that it makes.
type telling struct{ tinyCoder }

func (c telling) Append(dst []byte, tuple []levels.Level) ([]byte, error) {
	fmt.Println("frame")
	return c.tinyCoder.Append(dst, tuple)
}

// holding never makes a frame.
type holding struct{}

func (holding) Key(tuple []levels.Level) string { return tinyCoder{"ledge"}.Key(tuple) }

func (holding) Append([]byte, []levels.Level) ([]byte, error) {
	fmt.Println("holding")
	io.Copy(io.Discard, os.Stdin) // until the parent goes
	return nil, errors.New("the parent went")
}

// helper starts the test binary as another process.
func helper(t *testing.T, what string, arguments ...string) (*exec.Cmd, *bufio.Scanner, io.Closer) {
	t.Helper()
	binary, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(binary, arguments...)
	c.Env = append(os.Environ(), helperVariable+"="+what)
	c.Stderr = os.Stderr
	out, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	in, err := c.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	return c, bufio.NewScanner(out), in
}

// TestNoKillLosesAFrame kills a process that writes frames, over and over, at other points each time. Every
// second process makes frames of another scene, so that frames are replaced as well as made.
func TestNoKillLosesAFrame(t *testing.T) {
	kills := 10
	if os.Getenv("COLONNADE_LONG") != "" {
		kills = 200
	}
	const count = 60
	folder := t.TempDir()
	for i := range kills {
		chance := rand.New(rand.NewPCG(uint64(i), 1))
		scene := []string{"ledge", "sill"}[i%2]
		c, lines, _ := helper(t, "write", folder, scene, fmt.Sprint(count))
		for range 1 + chance.IntN(count/2) {
			lines.Scan()
		}
		c.Process.Kill()
		c.Wait()
		whole(t, contents(t, folder))
		if t.Failed() {
			t.Fatalf("after kill %d", i+1)
		}
	}
	undisturbed := t.TempDir()
	for _, where := range []string{folder, undisturbed} {
		mustWrite(t, tiny(where, count))
	}
	same(t, contents(t, folder), contents(t, undisturbed))
	sound(t, folder)
}

func TestSecondProcessIsRefusedUnlessItsFramesAreOthers(t *testing.T) {
	folder := t.TempDir()
	c, lines, in := helper(t, "hold", folder)
	defer in.Close()
	if !lines.Scan() {
		t.Fatal("the helper said nothing")
	}
	id := c.Process.Pid

	o := tiny(folder, 20)
	_, err := Write(context.Background(), o)
	var inUse InUseError
	if !errors.As(err, &inUse) || inUse.Process != id {
		t.Errorf("the same frames: %v, process %d holds them", err, id)
	}
	if wanted := fmt.Sprintf("%s: in use by process %d, which writes frames 1-10 there; wait for it or stop it", folder, id); err == nil || err.Error() != wanted {
		t.Errorf("%v", err)
	}
	report, err := Verify(1, folder)
	if err != nil || !strings.Contains(report.Faults[0].What, fmt.Sprint(id)) {
		t.Errorf("%+v, %v", report, err)
	}
	o.First = 11
	o.Describe.Scene = "sill"
	if _, err := Write(context.Background(), o); !errors.As(err, &inUse) || !strings.Contains(err.Error(), "another piece") {
		t.Errorf("another piece: %v", err)
	}
	o.Describe.Scene = "ledge"
	if summary := mustWrite(t, o); summary.Written+summary.Repeated != 10 {
		t.Errorf("%+v", summary)
	}

	c.Process.Kill()
	c.Wait()
	o.First = 1
	if summary := mustWrite(t, o); summary.Kept != 10 {
		t.Errorf("after the kill: %+v", summary)
	}
	sound(t, folder)
	if left, _ := filepath.Glob(filepath.Join(folder, ".*")); len(left) > 0 {
		t.Errorf("left behind: %q", left)
	}
}

func TestPartsSideBySideMakeTheWhole(t *testing.T) {
	const count, parts = 40, 5
	whole := newMemory(nil)
	o := tiny("frames", count)
	o.system = whole
	mustWrite(t, o)
	for name, system := range map[string]fileSystem{"in memory": newMemory(nil), "on disk": disk{}} {
		t.Run(name, func(t *testing.T) {
			folder := t.TempDir()
			longer := tiny(folder, count+9) // each of the parts finds these frames too many
			longer.system = system
			mustWrite(t, longer)
			var group sync.WaitGroup
			for k := range parts {
				group.Go(func() {
					o := tiny(folder, count)
					o.system = system
					o.First, o.Last = k*count/parts+1, (k+1)*count/parts
					if _, err := Write(context.Background(), o); err != nil {
						t.Error(err)
					}
				})
			}
			group.Wait()
			if m, ok := system.(*memory); ok {
				same(t, m.files(), whole.files())
			} else {
				same(t, contents(t, folder), whole.files())
			}
		})
	}
}

func TestCancelledWriteLeavesNothingHalf(t *testing.T) {
	m := newMemory(nil)
	o := tiny("frames", 30)
	o.system = m
	ctx, cancel := context.WithCancel(context.Background())
	o.Coder = &cancelling{tinyCoder{"ledge"}, cancel, new(sync.Once)}
	if _, err := Write(ctx, o); !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
	for name := range m.files() {
		if strings.HasPrefix(name, ".") {
			t.Errorf("%s is left", name)
		}
	}
	o.Coder = tinyCoder{"ledge"}
	mustWrite(t, o)
}

// cancelling cancels while it makes frame 12.
type cancelling struct {
	tinyCoder
	cancel func()
	once   *sync.Once
}

func (c *cancelling) Append(dst []byte, tuple []levels.Level) ([]byte, error) {
	if c.Key(tuple) == c.Key(waves(12)) {
		c.once.Do(c.cancel)
	}
	return c.tinyCoder.Append(dst, tuple)
}

func TestPanicOfTheCoderIsAnError(t *testing.T) {
	for n := 1; n <= 9; n++ {
		o := tiny("frames", 9)
		o.system = newMemory(nil)
		o.Coder = panicking{n}
		if _, err := Write(context.Background(), o); err == nil || err.Error() != "a frame could not be made: a stone fell" {
			t.Errorf("%v", err)
		}
	}
}

// panicking panics in the place of making frame n.
type panicking struct{ n int }

func (c panicking) Append(dst []byte, tuple []levels.Level) ([]byte, error) {
	if c.Key(tuple) == c.Key(waves(c.n)) {
		panic("a stone fell")
	}
	return tinyCoder{"ledge"}.Append(dst, tuple)
}

func (panicking) Key(tuple []levels.Level) string { return tinyCoder{"ledge"}.Key(tuple) }

func TestStopBeforeTheFirstFrameChangesNothing(t *testing.T) {
	files := rendered(t)
	m := newMemory(files)
	o := tiny("frames", 12)
	o.system = m
	o.Coder, o.Describe.Scene = tinyCoder{"sill"}, "sill"
	stop := make(chan struct{})
	close(stop)
	o.Stop = stop
	if s, err := Write(context.Background(), o); !errors.Is(err, ErrStopped) || s.Written > 0 {
		t.Errorf("%+v, %v", s, err)
	}
	same(t, m.files(), files)
}

func TestFileInTheFoldersPlaceIsToldOf(t *testing.T) {
	file := filepath.Join(t.TempDir(), "frames")
	if err := os.WriteFile(file, nil, 0o666); err != nil {
		t.Fatal(err)
	}
	for _, folder := range []string{file, filepath.Join(file, "more")} {
		_, err := Write(context.Background(), tiny(folder, 3))
		if !errors.Is(err, ErrRefused) || err.Error() != folder+": it is a file, or in one; name a folder" {
			t.Errorf("%v", err)
		}
	}
}
