//go:build !unix

package main

import (
	"errors"
	"os"
	"syscall"
)

// readerGone tells whether an error of writing is that nobody reads any more. The numbers are those of Windows, where they
// are ERROR_BROKEN_PIPE and ERROR_NO_DATA.
func readerGone(err error) bool {
	return errors.Is(err, syscall.Errno(109)) || errors.Is(err, syscall.Errno(232))
}

// statusSignal is nil: this system has no signal to ask with.
var statusSignal os.Signal
