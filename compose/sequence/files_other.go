//go:build !linux

package sequence

import (
	"errors"
	"os"
)

func newWriter(f *os.File) newFile { return f }

// Clone is known on Linux alone.
func (disk) Clone(string, string) (newFile, error) { return nil, errors.ErrUnsupported }

// Free is known on Linux alone.
func (disk) Free(string) (int64, error) { return 0, errors.ErrUnsupported }

// FreeMemory is a guess: what a small machine has to spare.
func FreeMemory() int64 { return unknownMemory }
