package sequence

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"

	"golang.org/x/sys/unix"

	"colonnade/analyze/levels"
	"colonnade/compose/pngfile"
)

// outside tells whether a test may mount a file system in memory, which takes root. Where COLONNADE_OUTSIDE is set
// the test runs, and fails when the machine refuses.
func outside() bool { return os.Getenv("COLONNADE_OUTSIDE") != "" }

// volumes tells whether tests may make and mount file systems in files, which takes root, loop devices, a kernel
// with ext4, xfs and btrfs, and the tools of these (e2fsprogs, xfsprogs, btrfs-progs). Where COLONNADE_VOLUMES is
// set the tests run, and fail when the machine refuses.
func volumes() bool { return os.Getenv("COLONNADE_VOLUMES") != "" }

func TestFullDisk(t *testing.T) {
	if !outside() {
		return
	}
	folder := t.TempDir()
	if err := unix.Mount("tmpfs", folder, "tmpfs", 0, "size=1m"); err != nil {
		t.Fatalf("mount: %v; the test needs root", err)
	}
	defer unix.Unmount(folder, unix.MNT_DETACH)
	ballast := filepath.Join(folder, ".ballast")
	if err := os.WriteFile(ballast, make([]byte, 700<<10), 0o666); err != nil {
		t.Fatal(err)
	}
	o := tiny(folder, 120)
	o.Repeats = RepeatsWrite
	o.Coder = padded{4000} // a page each: all of them fit once the ballast is gone
	o.system = sizeless{disk{}}
	s, err := Write(context.Background(), o)
	if err == nil || !strings.HasPrefix(err.Error(), folder+": no space is left, ") {
		t.Fatalf("%v, %+v", err, s)
	}
	whole(t, contents(t, folder))
	// With a little room again it is known before the first frame that the others do not fit.
	if err := os.Truncate(ballast, 660<<10); err != nil {
		t.Fatal(err)
	}
	o.system = nil
	if _, err := Write(context.Background(), o); err == nil || !strings.Contains(err.Error(), " need about ") {
		t.Errorf("before the first frame: %v", err)
	}
	if err := os.Remove(ballast); err != nil {
		t.Fatal(err)
	}
	if s := mustWrite(t, o); s.Kept == 0 || s.Written == 0 {
		t.Errorf("%+v", s)
	}
	sound(t, folder)
}

// sizeless does not tell how much room there is.
type sizeless struct{ fileSystem }

func (sizeless) Free(string) (int64, error) { return 0, errors.ErrUnsupported }

// padded makes its frames larger by a chunk that decoders pass over.
type padded struct{ bytes int }

func (padded) Key(tuple []levels.Level) string { return tinyCoder{"ledge"}.Key(tuple) }

func (c padded) Append(dst []byte, tuple []levels.Level) ([]byte, error) {
	small, err := tinyCoder{"ledge"}.Append(nil, tuple)
	picture := bytes.Index(small, []byte("IDAT")) - 4
	dst = append(dst, small[:picture]...)
	dst = pngfile.AppendChunk(dst, "paDd", make([]byte, c.bytes-len(small)-12))
	return append(dst, small[picture:]...), err
}

// volume is a file system in a file.
type volume struct {
	t             *testing.T
	image, folder string
}

func newVolume(t *testing.T, kind string) *volume {
	t.Helper()
	v := &volume{t, filepath.Join(t.TempDir(), "image"), t.TempDir()}
	const size = 400 << 20
	if err := os.WriteFile(v.image, nil, 0o666); err != nil {
		t.Fatal(err)
	}
	if err := os.Truncate(v.image, size); err != nil {
		t.Fatal(err)
	}
	v.run("mkfs."+kind, v.image)
	v.mount()
	t.Cleanup(func() { unix.Unmount(v.folder, unix.MNT_DETACH) })
	return v
}

func (v *volume) run(command string, arguments ...string) {
	v.t.Helper()
	if text, err := exec.Command(command, arguments...).CombinedOutput(); err != nil {
		v.t.Fatalf("%s: %v: %s; the test needs root, loop devices and the file system's tools", command, err, text)
	}
}

func (v *volume) mount()   { v.t.Helper(); v.run("mount", "-o", "loop", v.image, v.folder) }
func (v *volume) unmount() { v.t.Helper(); v.run("umount", v.folder) }

func TestClonesWhereTheFileSystemHasThem(t *testing.T) {
	if !volumes() {
		return
	}
	for kind, clones := range map[string]bool{"xfs": true, "btrfs": true, "ext4": false} {
		t.Run(kind, func(t *testing.T) {
			v := newVolume(t, kind)
			o := tiny(filepath.Join(v.folder, "frames"), 23) // 5, 10, 15 and 20 are the same
			o.Coder = padded{3 << 20}
			s := mustWrite(t, o)
			if cloned := s.Repeated == 3; cloned != clones {
				t.Errorf("%+v", s)
			}
			sound(t, o.Folder)
			joined := filepath.Join(v.folder, "joined")
			if s, _ := mustJoin(t, joined, o.Folder); clones != (s.Repeated == 23) || clones != (s.Written == 0) {
				t.Errorf("joined: %+v", s)
			}
			same(t, contents(t, joined), contents(t, o.Folder))
		})
	}
}

// TestNoPowerCutOfARealFileSystemLosesAFrame shuts a file system down in the midst of writing, as if the power had
// gone, with what its journal holds in memory lost; then mounts it anew.
func TestNoPowerCutOfARealFileSystemLosesAFrame(t *testing.T) {
	if !volumes() {
		return
	}
	for _, kind := range []string{"ext4", "xfs"} {
		for _, size := range []int{400, 700_001} { // through the page cache, and past it
			t.Run(fmt.Sprint(kind, size), func(t *testing.T) {
				v := newVolume(t, kind)
				o := tiny(filepath.Join(v.folder, "frames"), 120)
				for i := range 8 {
					chance := rand.New(rand.NewPCG(uint64(i), uint64(size)))
					o.Coder = &cutting{padded: padded{size}, folder: v.folder, after: int64(1 + chance.IntN(25))}
					_, err := Write(context.Background(), o)
					v.unmount()
					v.mount()
					if err == nil {
						t.Fatal("the file system was not shut down in time")
					}
					if _, err := os.Stat(o.Folder); err == nil { // else it was not yet on the disk
						whole(t, contents(t, o.Folder))
					}
				}
				o.Coder = padded{size}
				mustWrite(t, o)
				sound(t, o.Folder)
				folder := t.TempDir()
				undisturbed := o
				undisturbed.Folder = folder
				mustWrite(t, undisturbed)
				same(t, contents(t, o.Folder), contents(t, folder))
			})
		}
	}
}

// cutting shuts the folder's file system down while it makes a frame.
type cutting struct {
	padded
	folder      string
	made, after int64
}

func (c *cutting) Append(dst []byte, tuple []levels.Level) ([]byte, error) {
	const (
		shutdown = 0x8004587d // EXT4_IOC_SHUTDOWN, XFS_IOC_GOINGDOWN
		noLog    = 2          // what the journal holds in memory is lost
	)
	if atomic.AddInt64(&c.made, 1) == c.after {
		f, err := os.Open(c.folder)
		if err != nil {
			return nil, err
		}
		defer f.Close()
		if err := unix.IoctlSetPointerInt(int(f.Fd()), shutdown, noLog); err != nil {
			return nil, err
		}
	}
	return c.padded.Append(dst, tuple)
}
