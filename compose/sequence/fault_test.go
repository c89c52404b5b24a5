package sequence

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"strings"
	"sync"
	"syscall"
	"testing"
)

// failing is a file system whose operation number at fails: once, or that one and all after it.
type failing struct {
	fileSystem
	failure
	mutex    sync.Mutex
	done, at int
}

type failure struct {
	err     error
	forEver bool
	short   bool // writes break off half-way: in silence when the error is io.ErrShortWrite
}

// next counts an operation and gives the error that it meets, if any.
func (f *failing) next(op, name string) error {
	f.mutex.Lock()
	defer f.mutex.Unlock()
	f.done++
	if f.done == f.at || f.forEver && f.done > f.at {
		return &fs.PathError{Op: op, Path: name, Err: f.err}
	}
	return nil
}

func (f *failing) MakeFolder(name string) error {
	if err := f.next("mkdir", name); err != nil {
		return err
	}
	return f.fileSystem.MakeFolder(name)
}

func (f *failing) List(folder string) ([]fs.DirEntry, error) {
	if err := f.next("readdir", folder); err != nil {
		return nil, err
	}
	return f.fileSystem.List(folder)
}

func (f *failing) Open(name string) (openFile, error) {
	if err := f.next("open", name); err != nil {
		return nil, err
	}
	r, err := f.fileSystem.Open(name)
	if err != nil {
		return nil, err
	}
	return &failingReader{r, f}, nil
}

func (f *failing) Create(name string) (newFile, error) {
	if err := f.next("create", name); err != nil {
		return nil, err
	}
	w, err := f.fileSystem.Create(name)
	if err != nil {
		return nil, err
	}
	return &failingWriter{w, f}, nil
}

func (f *failing) Rename(from, to string) error {
	if err := f.next("rename", from); err != nil {
		return err
	}
	return f.fileSystem.Rename(from, to)
}

func (f *failing) Remove(name string) error {
	if err := f.next("remove", name); err != nil {
		return err
	}
	return f.fileSystem.Remove(name)
}

func (f *failing) Link(from, to string) error {
	if err := f.next("link", to); err != nil {
		return err
	}
	return f.fileSystem.Link(from, to)
}

func (f *failing) Clone(from, to string) (newFile, error) {
	if err := f.next("clone", to); err != nil {
		return nil, err
	}
	w, err := f.fileSystem.Clone(from, to)
	if err != nil {
		return nil, err
	}
	return &failingWriter{w, f}, nil
}

func (f *failing) SyncFolder(name string) error {
	if err := f.next("fsync", name); err != nil {
		return err
	}
	return f.fileSystem.SyncFolder(name)
}

func (f *failing) Free(name string) (int64, error) {
	if err := f.next("statfs", name); err != nil {
		return 0, err
	}
	return f.fileSystem.Free(name)
}

func (f *failing) Lock(name string) (func(), error) {
	if err := f.next("flock", name); err != nil {
		return nil, err
	}
	return f.fileSystem.Lock(name)
}

type failingReader struct {
	openFile
	f *failing
}

func (r *failingReader) Read(p []byte) (int, error) {
	if err := r.f.next("read", ""); err != nil {
		return 0, err
	}
	return r.openFile.Read(p)
}

func (r *failingReader) ReadAt(p []byte, at int64) (int, error) {
	if err := r.f.next("pread", ""); err != nil {
		return 0, err
	}
	return r.openFile.ReadAt(p, at)
}

func (r *failingReader) Sync() error {
	if err := r.f.next("fsync", ""); err != nil {
		return err
	}
	return r.openFile.Sync()
}

type failingWriter struct {
	newFile
	f *failing
}

func (w *failingWriter) Write(p []byte) (int, error) {
	err := w.f.next("write", "")
	if err == nil {
		return w.newFile.Write(p)
	}
	n := 0
	if w.f.short {
		n, _ = w.newFile.Write(p[:len(p)/2])
		if errors.Is(err, io.ErrShortWrite) {
			return n, nil
		}
	}
	return n, err
}

func (w *failingWriter) Sync() error {
	if err := w.f.next("fsync", ""); err != nil {
		return err
	}
	return w.newFile.Sync()
}

func (w *failingWriter) Close() error {
	err := w.newFile.Close()
	if failed := w.f.next("close", ""); failed != nil {
		return failed
	}
	return err
}

// TestNoFailedOperationLosesAFrame fails the first operation of a Write, then the second, and so on until there
// is no such operation, once and for ever, with several errors. After each the folder must hold only whole
// frames under frames' names, the error must be one line that names the folder or a file, and a second Write
// must make what an undisturbed one does. The way is that of the SQLite project's I/O error tests (its
// testing.html, 3.2).
func TestNoFailedOperationLosesAFrame(t *testing.T) {
	kinds := map[string]failure{
		"full disk":           {err: syscall.ENOSPC, short: true, forEver: true},
		"one fault":           {err: syscall.EIO},
		"one write cut short": {err: io.ErrShortWrite, short: true},
	}
	for name, s := range scenarios() {
		for kind, failure := range kinds {
			t.Run(name+", "+kind, func(t *testing.T) {
				base := prepare(t, s.before)
				run := func(files fileSystem) error {
					o := s.options
					o.system = files
					_, err := Write(context.Background(), o)
					return err
				}
				m := newMemory(base)
				if err := run(m); err != nil {
					t.Fatal(err)
				}
				wanted := m.files()
				for at := 1; ; at++ {
					m := newMemory(base)
					f := &failing{fileSystem: m, at: at, failure: failure}
					err := run(f)
					if f.done < at {
						break
					}
					left := m.frames()
					whole(t, left)
					if err != nil {
						oneLine(t, err)
					} else {
						complete(t, left, wanted)
					}
					last := newMemory(left)
					if err := run(last); err != nil {
						t.Errorf("the Write after it: %v", err)
					}
					same(t, last.files(), wanted)
					if t.Failed() {
						t.Fatalf("operation %d failed, error %v", at, err)
					}
				}
			})
		}
	}
}

// oneLine fails the test when an error is not one line that says where.
func oneLine(t *testing.T, err error) {
	t.Helper()
	text := err.Error()
	if strings.ContainsAny(text, "\n\r") || !strings.Contains(text, "frames") || !strings.Contains(text, ": ") {
		t.Errorf("the error is %q", text)
	}
}

// complete fails the test when a Write without an error left another folder than it should. Only what it could
// not remove may be there beside.
func complete(t *testing.T, got, wanted map[string]string) {
	t.Helper()
	for name, text := range wanted {
		if got[name] != text {
			t.Errorf("no error, but %s is %d bytes, %d wanted", name, len(got[name]), len(text))
		}
	}
	for name := range got {
		if _, ok := wanted[name]; !ok && !strings.HasPrefix(name, ".") {
			t.Errorf("no error, but %s is there", name)
		}
	}
}

func TestErrorsSayWhatIsSafeAndWhatToDo(t *testing.T) {
	for text, cause := range map[string]error{
		"ledge: no space is left, 8 of 20 frames are safely written; free some, then give the same command again":                                       syscall.ENOSPC,
		"ledge: it cannot be written into (read-only file system), 8 of 20 frames are safely written; allow that or name another folder":                syscall.EROFS,
		"ledge: it is gone or not reachable, 8 of 20 frames are safely written; bring it back, then give the same command again":                        syscall.ENOENT,
		"ledge: the disk gives an error (input/output error), 8 of 20 frames are safely written; look after the disk, then give the same command again": syscall.EIO,
	} {
		o := tiny("ledge", 20)
		o.Jobs = 1
		o.Repeats = RepeatsWrite
		o.system = &failingFrame{newMemory(nil), 9, cause}
		_, err := Write(context.Background(), o)
		if err == nil || err.Error() != text {
			t.Errorf("got  %v\nwant %s", err, text)
		}
		if !errors.Is(err, cause) {
			t.Errorf("%v is not %v", err, cause)
		}
	}
}

// failingFrame is a file system on which one frame cannot be made.
type failingFrame struct {
	fileSystem
	n     int
	cause error
}

func (f *failingFrame) Create(name string) (newFile, error) {
	if strings.Contains(name, fmt.Sprintf(Pattern, f.n)) {
		return nil, &fs.PathError{Op: "open", Path: name, Err: f.cause}
	}
	return f.fileSystem.Create(name)
}
