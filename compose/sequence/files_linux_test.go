package sequence

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unsafe"

	"golang.org/x/sys/unix"

	"colonnade/analyze/levels"
)

// largeSlice begins at a page, as large slices do.
func largeSlice(size int) []byte {
	data := make([]byte, size)
	for i := range data {
		data[i] = byte(i>>12) + byte(i)
	}
	return data
}

func TestLargeFilesGoPastThePageCacheAndSmallOnesDoNot(t *testing.T) {
	folder := t.TempDir()
	probe, err := os.OpenFile(filepath.Join(folder, "probe"), os.O_WRONLY|os.O_CREATE|unix.O_DIRECT, 0o666)
	if err == nil {
		probe.Close()
	}
	can := err == nil
	for _, size := range []int{0, 1, directBlock, directFrom - 1, directFrom, directFrom + 1, 3*directFrom + 4095, 3 << 20} {
		for _, shift := range []int{0, 1} { // memory that begins at a page, and memory that does not
			name := filepath.Join(folder, fmt.Sprint(size, shift))
			data := largeSlice(size + shift)[shift:]
			f, err := create(disk{}, name, data)
			if err != nil {
				t.Fatal(err)
			}
			if err := finish(f); err != nil {
				t.Fatal(err)
			}
			if past := f.(*diskWriter).direct; past != (can && size >= directFrom && shift == 0) {
				t.Errorf("%d bytes from %d on: past the cache %v, and the file system can: %v", size, shift, past, can)
			}
			if got, err := os.ReadFile(name); err != nil || !bytes.Equal(got, data) {
				t.Errorf("%d bytes from %d on: %d bytes read, %v", size, shift, len(got), err)
			}
		}
	}
}

// The write path rests on this habit of the allocator; without it frames still are written, only slower.
func TestLargeSlicesBeginAtAPage(t *testing.T) {
	for _, size := range []int{directFrom, 1_000_003, 10_000_123} {
		grown := append([]byte(nil), largeSlice(size)...)
		if uintptr(unsafe.Pointer(unsafe.SliceData(grown)))%directBlock != 0 {
			t.Errorf("%d bytes do not begin at a page", size)
		}
	}
}

func TestReadOnlyFolderIsToldInOneLine(t *testing.T) {
	// A folder of the kernel's that nobody writes into, whatever their privilege.
	o := tiny("/proc/self/fd", 3)
	_, err := Write(context.Background(), o)
	if err == nil || !strings.HasPrefix(err.Error(), "/proc/self/fd: ") || strings.Contains(err.Error(), "\n") {
		t.Errorf("%v", err)
	}
}

func TestVanishedFolderIsToldInOneLine(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "frames")
	o := tiny(folder, 30)
	o.Jobs = 1
	o.Coder = &vanishing{folder: folder}
	_, err := Write(context.Background(), o)
	if !errors.Is(err, os.ErrNotExist) || !strings.HasPrefix(err.Error(), folder+": it is gone or not reachable, ") {
		t.Errorf("%v", err)
	}
	o.Coder = tinyCoder{"ledge"}
	mustWrite(t, o)
	sound(t, folder)
}

// vanishing removes the folder while frames are made.
type vanishing struct {
	folder string
	made   int
}

func (c *vanishing) Key(tuple []levels.Level) string { return tinyCoder{"ledge"}.Key(tuple) }

func (c *vanishing) Append(dst []byte, tuple []levels.Level) ([]byte, error) {
	if c.made++; c.made == 10 {
		// The folder is gone at once; removing its files one by one would meet those being made.
		if err := os.Rename(c.folder, c.folder+" elsewhere"); err != nil {
			return nil, err
		}
	}
	return tinyCoder{"ledge"}.Append(dst, tuple)
}

func TestFolderThatCanNotBeMadeIsToldOf(t *testing.T) {
	const folder = "/proc/frames/more"
	if _, err := Write(context.Background(), tiny(folder, 3)); !errors.Is(err, ErrRefused) || err.Error() != folder+": it can not be made; name another folder" {
		t.Errorf("%v", err)
	}
}
