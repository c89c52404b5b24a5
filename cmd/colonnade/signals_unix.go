//go:build unix

package main

import (
	"os"
	"syscall"
)

// statusSignal asks a render where it stands: kill -USR1.
var statusSignal os.Signal = syscall.SIGUSR1
