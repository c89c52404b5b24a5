package sequence

import (
	"bytes"
	"errors"
	"os"
	"strconv"
	"unsafe"

	"golang.org/x/sys/unix"
)

const (
	// directBlock suits every disk: the alignment that direct writes ask of memory, place and length.
	directBlock = 4096
	// directFrom is the length from which writing past the page cache pays.
	directFrom = 256 << 10
)

// diskWriter writes large files past the page cache: a long render fills the cache with frames that nobody
// reads, and copying them there and back out costs more time than coding them.
type diskWriter struct {
	*os.File
	direct bool // a write went past the page cache
}

func newWriter(f *os.File) newFile { return &diskWriter{File: f} }

// Write writes whole blocks past the page cache (O_DIRECT, open(2)) and the rest through it. Where the file system
// or the memory's place does not allow that, all goes through the cache and is handed to the disk at once.
func (f *diskWriter) Write(p []byte) (int, error) {
	blocks, n := len(p)&^(directBlock-1), 0
	// Large slices begin at a page. That is the allocator's habit, not its promise: so it is looked at.
	if blocks >= directFrom && uintptr(unsafe.Pointer(unsafe.SliceData(p)))%directBlock == 0 && f.past(true) {
		var err error
		n, err = f.File.Write(p[:blocks])
		f.direct = err == nil
		if !f.past(false) && err == nil {
			return n, errors.ErrUnsupported // no file system gives the flag and keeps it
		}
		if err != nil && !errors.Is(err, unix.EINVAL) {
			return n, err
		}
	}
	rest, err := f.File.Write(p[n:])
	if rest >= directFrom {
		// Begin to bring the data to the disk, without waiting. A hint: the sync to come does it in any case.
		unix.SyncFileRange(int(f.Fd()), 0, 0, unix.SYNC_FILE_RANGE_WRITE)
	}
	return n + rest, err
}

// past sets whether writes go past the page cache, and tells whether it could.
func (f *diskWriter) past(on bool) bool {
	flags, err := unix.FcntlInt(f.Fd(), unix.F_GETFL, 0)
	if err != nil {
		return false
	}
	flags &^= unix.O_DIRECT
	if on {
		flags |= unix.O_DIRECT
	}
	_, err = unix.FcntlInt(f.Fd(), unix.F_SETFL, flags)
	return err == nil
}

// Clone asks for a copy that shares the blocks until one of the two is changed (ioctl_ficlone(2)).
func (disk) Clone(from, to string) (newFile, error) {
	source, err := os.Open(from)
	if err != nil {
		return nil, err
	}
	defer source.Close()
	f, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return nil, err
	}
	if err := unix.IoctlFileClone(int(f.Fd()), int(source.Fd())); err != nil {
		f.Close()
		os.Remove(to)
		return nil, err
	}
	return newWriter(f), nil
}

// Free is what statfs(2) says is there for users without privilege.
func (disk) Free(folder string) (int64, error) {
	var s unix.Statfs_t
	if err := unix.Statfs(folder, &s); err != nil {
		return 0, err
	}
	if s.Blocks == 0 { // a file system without a size, such as a tmpfs without a limit
		return 0, errors.ErrUnsupported
	}
	return int64(s.Bavail) * int64(s.Bsize), nil
}

// FreeMemory is the bytes of memory that can be had without making the machine swap, as the kernel sees it.
func FreeMemory() int64 {
	text, _ := os.ReadFile("/proc/meminfo")
	for line := range bytes.Lines(text) {
		fields := bytes.Fields(line)
		if len(fields) >= 2 && string(fields[0]) == "MemAvailable:" {
			if n, err := strconv.ParseInt(string(fields[1]), 10, 64); err == nil {
				return n << 10
			}
		}
	}
	return unknownMemory
}
