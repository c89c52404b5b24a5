//go:build !windows

package main

import "os"

// redraws tells whether a terminal clears a line when told by an escape sequence. Those that do not say so in TERM.
func redraws(*os.File) bool { return os.Getenv("TERM") != "dumb" }
