//go:build unix

package main

import (
	"errors"
	"os"
	"syscall"
)

// readerGone tells whether an error of writing is that nobody reads any more.
func readerGone(err error) bool { return errors.Is(err, syscall.EPIPE) }

// statusSignal asks a render where it stands: kill -USR1.
var statusSignal os.Signal = syscall.SIGUSR1
