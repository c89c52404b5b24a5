package sequence

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
	"time"

	"github.com/gofrs/flock"
)

// fileSystem is what this package asks of a file system, so that a test can put one that fails in its place.
// Errors are those of package os; what a file system cannot do is errors.ErrUnsupported.
type fileSystem interface {
	MakeFolder(name string) error // with its parents; it may be there already
	List(folder string) ([]fs.DirEntry, error)
	Open(name string) (openFile, error)
	Create(name string) (newFile, error) // the file must not be there yet
	Rename(from, to string) error        // in the place of what is there
	Remove(name string) error
	Link(from, to string) error // a second name for the same file; to must not be there yet
	// Clone makes a copy that shares the blocks until one of the two is changed; to must not be there yet.
	Clone(from, to string) (newFile, error)
	SyncFolder(name string) error      // names reach the disk
	Free(folder string) (int64, error) // bytes that can be written into the folder
	// Lock takes the lock of a file, which it makes, without waiting: errLocked says that it is taken. The lock
	// ends, and its file goes, with release or, at the latest, the lock alone with the process.
	Lock(name string) (release func(), err error)
}

// openFile is a file to be read.
type openFile interface {
	io.Reader
	io.ReaderAt
	io.Closer
	Sync() error // what others wrote into it is on the disk
}

// newFile is a new file. Its data is on the disk once Sync and Close gave no error.
type newFile interface {
	io.Writer
	Sync() error
	Close() error
}

var errLocked = errors.New("the lock is taken")

// disk is the machine's own file system.
type disk struct{}

// MakeFolder syncs the folder above each one that it makes: else a power cut could take the folder and all in it.
func (d disk) MakeFolder(name string) error {
	err := os.Mkdir(name, 0o777)
	switch above := filepath.Dir(name); {
	case err == nil:
		return d.SyncFolder(above)
	case errors.Is(err, fs.ErrNotExist) && above != name:
		if err := d.MakeFolder(above); err != nil {
			return err
		}
		if err := os.Mkdir(name, 0o777); err != nil && !errors.Is(err, fs.ErrExist) {
			return err
		}
		return d.SyncFolder(above)
	}
	if info, err2 := os.Stat(name); err2 == nil && info.IsDir() {
		return nil
	}
	return err
}

func (disk) List(folder string) ([]fs.DirEntry, error) { return os.ReadDir(folder) }

// errIrregular says that something else than a file has a file's name.
var errIrregular = errors.New("it is not a regular file")

// Open asks for the kind before it opens: opening a pipe waits for somebody to write to it, and a device may have no end.
func (disk) Open(name string) (openFile, error) {
	info, err := os.Stat(name)
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() {
		return nil, &fs.PathError{Op: "open", Path: name, Err: errIrregular}
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	return f, nil
}

func (disk) Create(name string) (newFile, error) {
	f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return nil, err
	}
	return newWriter(f), nil
}

func (disk) Rename(from, to string) error {
	return patiently(passing, func() error { return os.Rename(from, to) })
}

func (disk) Remove(name string) error {
	return patiently(passing, func() error { return os.Remove(name) })
}

const (
	passingPause = 20 * time.Millisecond
	passingTries = 50 // a second in all: a virus scanner looks at a new file for less
)

// patiently does something again as long as it fails for a cause that passes by itself, but not for ever.
func patiently(passing func(error) bool, do func() error) error {
	for range passingTries - 1 {
		err := do()
		if err == nil || !passing(err) {
			return err
		}
		time.Sleep(passingPause)
	}
	return do()
}

func (disk) Link(from, to string) error { return os.Link(from, to) }

func (disk) SyncFolder(name string) error {
	f, err := os.Open(name)
	if err != nil {
		return err
	}
	defer f.Close()
	// Some file systems, and Windows, cannot sync a folder: they keep its names in order by themselves or not at all.
	if err := f.Sync(); err != nil && !unsyncable(err) {
		return err
	}
	return nil
}

func unsyncable(err error) bool {
	return errors.Is(err, errors.ErrUnsupported) || errors.Is(err, syscall.EINVAL) || filepath.Separator == '\\'
}

// Lock removes the lock's file when the lock ends. Another process may have opened that file by then: it finds,
// having got the lock, that the file has no longer this name, and tries again.
func (disk) Lock(name string) (func(), error) {
	// A link would have the lock made where it leads to, out of the folder.
	if info, err := os.Lstat(name); err == nil && !info.Mode().IsRegular() {
		return nil, &fs.PathError{Op: "lock", Path: name, Err: errIrregular}
	}
	const patience = 100
	for range patience {
		lock := flock.New(name, flock.SetPermissions(0o666))
		var ok bool
		err := patiently(passing, func() (err error) {
			ok, err = lock.TryLock()
			return err
		})
		if err != nil {
			return nil, err
		}
		if !ok {
			return nil, errLocked
		}
		held, err := lock.Stat()
		now, err2 := os.Stat(name)
		if err == nil && err2 == nil && os.SameFile(held, now) {
			return func() {
				err := os.Remove(name)
				lock.Unlock()
				if err != nil { // Windows removes no open file
					os.Remove(name)
				}
			}, nil
		}
		lock.Unlock()
	}
	return nil, errLocked
}

func join(folder, name string) string { return filepath.Join(folder, name) }

// create makes a new file of the data, not yet synced. Nothing is left of it when that fails.
func create(files fileSystem, name string, data []byte) (newFile, error) {
	f, err := files.Create(name)
	if err != nil {
		return nil, err
	}
	n, err := f.Write(data)
	if err == nil && n != len(data) {
		err = fmt.Errorf("%d of %d bytes: %w", n, len(data), io.ErrShortWrite)
	}
	if err != nil {
		f.Close()
		files.Remove(name)
		return nil, err
	}
	return f, nil
}

// finish brings a file's data to the disk and closes it.
func finish(f newFile) error {
	err := f.Sync()
	if err2 := f.Close(); err == nil {
		err = err2
	}
	return err
}

// unknownMemory is taken to be free where it cannot be asked for.
const unknownMemory = 2 << 30
