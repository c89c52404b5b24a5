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

// passing tells whether an error is of a cause that passes by itself. Here an open file stands in nobody's way.
func passing(error) bool { return false }

// isFull tells whether an error says that no more can be written.
func isFull(err error) bool {
	return errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT)
}
