package sequence

import (
	"errors"
	"io"
	"io/fs"
	"sync"
	"sync/atomic"

	"colonnade/compose/pngfile"
)

// found is a file under a frame's name.
type found struct {
	n    int
	key  string // empty when err is not nil
	size int64
	end  bool  // it ends as a frame ends
	err  error // of reading the key
}

// frameEnd is the last chunk of every frame.
var frameEnd = string(pngfile.AppendEnd(nil))

// parallel calls do(i) for every i below count, from several goroutines, until done says so or one call fails.
func parallel(jobs, count int, done func() bool, do func(i int) error) error {
	var next atomic.Int64
	var group sync.WaitGroup
	var once sync.Once
	var failed error
	var over atomic.Bool
	for range min(jobs, count) {
		group.Go(func() {
			for !over.Load() && !done() {
				i := int(next.Add(1)) - 1
				if i >= count {
					return
				}
				if err := do(i); err != nil {
					once.Do(func() { failed = err })
					over.Store(true)
				}
			}
		})
	}
	group.Wait()
	return failed
}

func never() bool { return false }

// inspect reads the keys of the files under frames' names. It waits for the disk, not for the processor.
func inspect(files fileSystem, folder string, entries []fs.DirEntry, done func() bool) ([]found, error) {
	const readers = 8
	all := make([]found, len(entries))
	err := parallel(readers, len(entries), done, func(i int) error {
		f := &all[i]
		f.n, _ = number(entries[i].Name())
		if !entries[i].Type().IsRegular() {
			f.err = pngfile.ErrForeign
			return nil
		}
		f.err = f.read(files, join(folder, entries[i].Name()), entries[i])
		switch {
		case f.err == nil, errors.Is(f.err, pngfile.ErrForeign), errors.Is(f.err, pngfile.ErrDamaged):
			return nil
		case errors.Is(f.err, fs.ErrNotExist): // another process, with other frames, has removed it by now
			*f = found{}
			return nil
		}
		return f.err
	})
	return all, err
}

func (f *found) read(files fileSystem, name string, entry fs.DirEntry) error {
	info, err := entry.Info()
	if err != nil {
		return err
	}
	f.size = info.Size()
	file, err := files.Open(name)
	if err != nil {
		return err
	}
	defer file.Close()
	if f.key, err = pngfile.ReadKey(file); err != nil {
		return err
	}
	end := make([]byte, len(frameEnd))
	if f.size > int64(len(end)) {
		if _, err := file.ReadAt(end, f.size-int64(len(end))); err != nil && err != io.EOF {
			return err
		}
		f.end = string(end) == frameEnd
	}
	return nil
}

// survey looks at what the folder holds. It sorts the frames wanted into those to be trusted, those to be
// checked and those to be made, and refuses the folder when it holds what this package did not write.
func (w *writer) survey() error {
	entries, err := w.system.List(w.Folder)
	if err != nil {
		return err
	}
	var frames []fs.DirEntry
	for _, e := range entries {
		n, ok := number(e.Name())
		switch {
		case ok && (w.wanted.holds(n) || n > w.Count || w.before == nil):
			frames = append(frames, e)
		case !ok && w.before == nil && !w.Fresh && e.Name() != RecordName && !ours(e.Name()) && !incidental(e.Name()):
			return refusef("%s: it holds %s, which colonnade did not write; name another folder, or give --fresh to use it beside what is there", w.Folder, e.Name())
		}
	}
	all, err := inspect(w.system, w.Folder, frames, w.ended)
	if err != nil {
		return err
	}
	for i := range all {
		if err := w.sort(&all[i]); err != nil {
			return err
		}
	}
	return nil
}

// sort decides about one file.
func (w *writer) sort(f *found) error {
	if f.n == 0 { // it is gone
		return nil
	}
	if !w.wanted.holds(f.n) {
		switch {
		case f.err == nil && f.n > w.Count:
			w.past = append(w.past, f.n)
		case f.err != nil && w.before == nil && !w.Fresh:
			return w.refuse(f)
		}
		return nil
	}
	if f.err != nil {
		// What a power cut leaves of a frame of ours has no key any more: the record tells that it was ours.
		begun := w.before != nil && f.n <= w.before.Frames && w.before.keys[f.n-1] != ""
		if !errors.Is(f.err, pngfile.ErrDamaged) || !begun {
			return w.refuse(f)
		}
	}
	i := f.n - w.First
	w.replaced[i] = f.size
	if w.Fresh || f.err != nil || f.key != w.keys[i] || !f.end {
		return nil
	}
	if w.before != nil && f.n <= w.before.Frames && w.before.safe[f.n-1] && w.before.keys[f.n-1] == f.key[:keyPrefix] {
		w.keep(f.n)
		w.safe[i] = true
		return nil
	}
	w.doubtful = append(w.doubtful, f.n)
	return nil
}

func (w *writer) refuse(f *found) error {
	return refusef("%s: %v; move it away or name another folder", w.path(Name(f.n)), f.err)
}

// keep notes that a frame is there and right.
func (w *writer) keep(n int) {
	i := n - w.First
	w.there[i] = true
	w.replaced[i] = 0
	w.kept.Add(1)
}

// doubt reads whole those frames that no record calls safe, and keeps the sound ones.
func (w *writer) doubt() error {
	checkers := sync.Pool{New: func() any { return pngfile.NewChecker() }}
	sound := make([]bool, len(w.doubtful))
	err := parallel(w.Jobs, len(w.doubtful), w.ended, func(i int) error {
		checker := checkers.Get().(*pngfile.Checker)
		defer checkers.Put(checker)
		sound[i] = w.isSound(checker, w.doubtful[i])
		if sound[i] {
			w.kept.Add(1)
		}
		return nil
	})
	for i, n := range w.doubtful {
		if sound[i] {
			w.there[n-w.First], w.safe[n-w.First] = true, true
			w.replaced[n-w.First] = 0
		}
	}
	return err
}

// isSound tells whether a frame's file is whole and on the disk. One that cannot be read is not.
func (w *writer) isSound(checker *pngfile.Checker, n int) bool {
	f, err := w.system.Open(w.path(Name(n)))
	if err != nil {
		return false
	}
	defer f.Close()
	frame, err := checker.Check(f)
	if err != nil || frame.Key != w.keys[n-w.First] {
		return false
	}
	err = f.Sync()
	return err == nil || errors.Is(err, fs.ErrPermission) // some systems sync no file that was opened for reading
}

// begin records what is wanted and what of it is there, before anything is changed: from here on no frame about
// to be replaced is called safe. Then it removes what an earlier Write left behind. The short lock must be held.
func (w *writer) begin() error {
	live, err := liveClaims(w.system, w.Folder, w.claim.name())
	if err != nil {
		return err
	}
	if err := w.system.SyncFolder(w.Folder); err != nil { // the names of the frames that the record will call safe
		return err
	}
	if err := w.record(); err != nil {
		return err
	}
	if err := w.system.SyncFolder(w.Folder); err != nil {
		return err
	}
	entries, err := w.system.List(w.Folder)
	if err != nil {
		return err
	}
	for _, e := range entries {
		n, ok := temporaryNumber(e.Name())
		for _, c := range live {
			ok = ok && !c.frames.holds(n)
		}
		if ok {
			if err := w.system.Remove(w.path(e.Name())); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return err
			}
		}
	}
	for _, n := range w.past {
		err := w.system.Remove(w.path(Name(n)))
		if err == nil {
			w.removed++
		} else if !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	return nil
}

// record writes the folder's record anew: what this Write knows of its frames, what the record said of the
// others. The short lock must be held.
func (w *writer) record() error {
	before, err := readRecord(w.system, w.path(RecordName))
	if err != nil {
		return recordError(w.path(RecordName), err)
	}
	now := newRecord(w.Describe, w.Count)
	if before != nil && before.piece() == now.piece() {
		now.adopt(before, w.wanted)
	}
	for i, key := range w.keys {
		now.keys[w.First-1+i], now.safe[w.First-1+i] = key[:keyPrefix], w.safe[i]
	}
	return now.write(w.system, w.Folder)
}

// recordError says what is wrong with a sequence.json.
func recordError(name string, err error) error {
	var path *fs.PathError
	if errors.As(err, &path) {
		return err
	}
	return refusef("%s: %v; move it away or name another folder", name, err)
}
