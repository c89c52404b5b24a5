//go:build !unix

package main

import "os"

// statusSignal is nil: this system has no signal to ask with.
var statusSignal os.Signal
