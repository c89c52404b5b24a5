//go:build !unix

package sequence

import (
	"errors"
	"syscall"
)

// lockless tells whether an error says that the file system knows no locks.
func lockless(err error) bool { return errors.Is(err, errors.ErrUnsupported) }

// isFull tells whether an error says that no more can be written. The numbers are those of Windows, where they
// are ERROR_HANDLE_DISK_FULL and ERROR_DISK_FULL.
func isFull(err error) bool {
	return errors.Is(err, syscall.Errno(39)) || errors.Is(err, syscall.Errno(112))
}
