// Package sequence writes frames into a folder so that nothing is lost, and verifies such folders.
package sequence

import "colonnade/analyze/levels"

// Coder makes the bytes of frames. It is used by several goroutines at once.
type Coder interface {
	// Key is the digest, 64 hexadecimal digits, of all that decides the bytes of the frame in which column i
	// stands at tuple[i]. The frame's file carries it in its key chunk (pngfile.KeyWord).
	Key(tuple []levels.Level) string
	// Append adds the frame's whole PNG file to dst.
	Append(dst []byte, tuple []levels.Level) ([]byte, error)
}
