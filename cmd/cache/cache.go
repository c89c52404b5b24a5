// Package cache keeps what was dear to compute in the user's cache folder, so that it is computed once.
//
// A value is kept under a key that names all it was computed from, and is never changed. Whatever goes wrong, a value is
// simply not there and is computed anew: nothing here has an error to report. The folder may be emptied at any time.
package cache

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"time"
)

// Store is a folder of values. The zero Store keeps nothing.
type Store struct {
	folder string
	limit  int64 // bytes that the values may take together
}

// User is the store of a program in the cache folder of the user who runs it, of at most limit bytes.
func User(program string, limit int64) Store {
	folder, err := os.UserCacheDir()
	if err != nil {
		return Store{}
	}
	return In(filepath.Join(folder, program), limit)
}

// In is the store in a folder, which is made when there is something to keep.
func In(folder string, limit int64) Store { return Store{folder, limit} }

// path is where the value of a key is kept.
func (s Store) path(key string) string {
	sum := sha256.Sum256([]byte(key))
	return filepath.Join(s.folder, hex.EncodeToString(sum[:]))
}

// Get is the value of a key, nil where there is none that is whole.
func (s Store) Get(key string) []byte {
	if s.folder == "" {
		return nil
	}
	path := s.path(key)
	info, err := os.Stat(path)
	if err != nil || !info.Mode().IsRegular() || info.Size() > s.limit {
		return nil
	}
	data, err := os.ReadFile(path)
	if err != nil || len(data) < sha256.Size {
		return nil
	}
	value := data[sha256.Size:]
	if sum := sha256.Sum256(value); !bytes.Equal(sum[:], data[:sha256.Size]) {
		return nil
	}
	now := time.Now()
	os.Chtimes(path, now, now) // what is used stays longest
	return value
}

// Put keeps a value under a key, and drops those used longest ago where the store is full.
func (s Store) Put(key string, value []byte) {
	if s.folder == "" || int64(len(value)+sha256.Size) > s.limit {
		return
	}
	if os.MkdirAll(s.folder, 0o700) != nil {
		return
	}
	file, err := os.CreateTemp(s.folder, "new-")
	if err != nil {
		return
	}
	defer os.Remove(file.Name()) // nothing is there any more once it has its name
	sum := sha256.Sum256(value)
	_, err = file.Write(sum[:])
	if err == nil {
		_, err = file.Write(value)
	}
	if closeError := file.Close(); err != nil || closeError != nil {
		return
	}
	// Not synced: after a power cut the sum at its head tells what is not whole.
	if os.Rename(file.Name(), s.path(key)) == nil {
		s.trim()
	}
}

// trim drops the files used longest ago until the rest takes no more than it may.
func (s Store) trim() {
	entries, err := os.ReadDir(s.folder)
	if err != nil {
		return
	}
	var files []fs.FileInfo
	total := int64(0)
	for _, entry := range entries {
		if info, err := entry.Info(); err == nil && info.Mode().IsRegular() {
			files = append(files, info)
			total += info.Size()
		}
	}
	slices.SortFunc(files, func(a, b fs.FileInfo) int { return a.ModTime().Compare(b.ModTime()) })
	for _, info := range files {
		if total <= s.limit {
			return
		}
		if os.Remove(filepath.Join(s.folder, info.Name())) == nil {
			total -= info.Size()
		}
	}
}
