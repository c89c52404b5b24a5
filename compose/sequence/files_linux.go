package sequence

import (
	"bytes"
	"errors"
	"os"
	"strconv"

	"golang.org/x/sys/unix"
)

// Clone asks for a copy that shares the blocks until one of the two is changed (ioctl_ficlone(2)).
func (disk) Clone(from, to string) (Writer, error) {
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
	return f, nil
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
