package main

import (
	"os"

	"golang.org/x/sys/windows"
)

// redraws tells whether a terminal clears a line when told by an escape sequence. The console of Windows does so when it is
// asked to, since Windows 10.
func redraws(file *os.File) bool {
	var mode uint32
	console := windows.Handle(file.Fd())
	return windows.GetConsoleMode(console, &mode) == nil &&
		windows.SetConsoleMode(console, mode|windows.ENABLE_VIRTUAL_TERMINAL_PROCESSING) == nil
}
