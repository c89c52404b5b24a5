//go:build !unix

package sequence

import (
	"errors"
	"syscall"
)

// lockless tells whether an error says that the file system knows no locks.
func lockless(err error) bool { return errors.Is(err, errors.ErrUnsupported) }

// passing tells whether an error is of a cause that passes by itself: Windows renames, replaces and removes no file that
// another program has open, such as a virus scanner. The numbers are ERROR_ACCESS_DENIED, which may also last,
// ERROR_SHARING_VIOLATION and ERROR_LOCK_VIOLATION.
func passing(err error) bool {
	return errors.Is(err, syscall.Errno(5)) || errors.Is(err, syscall.Errno(32)) || errors.Is(err, syscall.Errno(33))
}

// isFull tells whether an error says that no more can be written. The numbers are those of Windows, where they
// are ERROR_HANDLE_DISK_FULL and ERROR_DISK_FULL.
func isFull(err error) bool {
	return errors.Is(err, syscall.Errno(39)) || errors.Is(err, syscall.Errno(112))
}
