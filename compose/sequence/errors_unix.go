//go:build unix

package sequence

import (
	"errors"
	"syscall"
)

// lockless tells whether an error says that the file system knows no locks.
func lockless(err error) bool {
	return errors.Is(err, errors.ErrUnsupported) || errors.Is(err, syscall.ENOLCK)
}

// isFull tells whether an error says that no more can be written.
func isFull(err error) bool {
	return errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT)
}
