package sequence

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"sync"
	"sync/atomic"
	"syscall"
	"time"

	"colonnade/compose/pngfile"
)

const (
	// A batch of frames is synced, named and recorded at once. Its length bounds what a power cut or a kill takes
	// away, and how many files are open; it spreads the cost of the folder's sync and of the record.
	batchFrames = 48
	batchTime   = 2 * time.Second
	// syncers is how many files are synced side by side: more brought no more.
	syncers = 8
)

// writer is one Write.
type writer struct {
	Options
	counters
	wanted span
	ctx    context.Context
	claim  claim
	before *record // what the folder's record said, nil when there was none

	// Of the frames wanted, frame n at n-First:
	keys     []string
	there    []bool  // in the folder under its name, and right
	safe     []bool  // and synced
	replaced []int64 // size of the file that will go
	again    []bool  // an earlier one has the same key

	doubtful, past []int // frames to be checked; frames past the end, to be removed
	surveyed       bool  // all of that is known
	removed        int

	source map[string]int // for each key the frame to copy from
	copies func(from, to string) (newFile, error)
	failed atomic.Pointer[error] // the first error
}

// Write writes the frames wanted into the folder. Frames that are there and right are kept. The Summary tells
// what was done also when there is an error: frames under their names are whole in any case, and the same Write
// goes on from there. Errors are ErrStopped, ErrRefused, an InUseError, the context's, the coder's, or those of
// the file system with the folder's name and the number of frames that are safe.
func Write(ctx context.Context, o Options) (Summary, error) {
	begun := time.Now()
	if o.system == nil {
		o.system = disk{}
	}
	if o.batch == 0 {
		o.batch = batchFrames
	}
	o.Jobs = max(o.Jobs, 1)
	if err := o.check(); err != nil {
		return Summary{}, err
	}
	count := o.Last - o.First + 1
	w := &writer{
		Options: o, wanted: span{o.First, o.Last}, ctx: ctx,
		claim: newClaim(span{o.First, o.Last}, newRecord(o.Describe, o.Count).piece()),
		keys:  make([]string, count), there: make([]bool, count), safe: make([]bool, count), replaced: make([]int64, count), again: make([]bool, count),
		source: make(map[string]int),
	}
	teller := tell(&w.counters, count, o.Progress)
	err := w.run()
	teller.stop()
	return Summary{
		Written: int(w.written.Load()), Kept: int(w.kept.Load()), Repeated: int(w.repeated.Load()), Removed: w.removed,
		Bytes: w.bytes.Load(), LinkWouldSave: w.linkable.Load(), Seconds: time.Since(begun).Seconds(),
	}, err
}

func (w *writer) run() (err error) {
	defer func() {
		if r := recover(); r != nil { // of the coder, which is other people's code, here as in the workers
			err = coderPanic(r)
		}
	}()
	w.enter("reading")
	seen := make(map[string]bool)
	for i := range w.keys {
		w.keys[i] = w.Coder.Key(w.Tuple(w.First + i))
		if !pngfile.IsKey(w.keys[i]) {
			return frameError{w.First + i, fmt.Errorf("its key %.80q is not %d hexadecimal digits", w.keys[i], pngfile.KeyLength)}
		}
		w.again[i] = seen[w.keys[i]]
		seen[w.keys[i]] = true
	}
	if err := w.system.MakeFolder(w.Folder); errors.Is(err, fs.ErrExist) || errors.Is(err, syscall.ENOTDIR) {
		return refusef("%s: it is a file, or in one; name a folder", w.Folder)
	} else if errors.Is(err, fs.ErrNotExist) { // all folders above it were tried, too
		return refusef("%s: it can not be made; name another folder", w.Folder)
	} else if err != nil {
		return w.explain(err)
	}
	release, err := w.enterFolder()
	if err != nil {
		return w.explain(err)
	}
	defer release()
	if err := w.survey(); err != nil {
		return w.explain(err)
	}
	w.enter("checking")
	if err := w.doubt(); err != nil {
		return w.explain(err)
	}
	if w.ended() { // not all was looked at, so nothing may be recorded
		return w.outcome()
	}
	w.surveyed = true
	if missing := w.missing(); len(missing) > 0 && w.Ready != nil {
		if err := w.Ready(missing); err != nil {
			return err
		}
	}
	if err := w.shortly(w.begin); err != nil {
		return w.explain(err)
	}
	if err := w.outcome(); err != nil {
		return err
	}
	w.enter("writing")
	todo := w.plan()
	if err := w.room(todo); err != nil {
		return w.explain(err)
	}
	w.make(todo)
	return w.outcome()
}

// outcome is the error to end with, if any.
func (w *writer) outcome() error {
	if err := w.failed.Load(); err != nil {
		return w.explain(*err)
	}
	if err := w.ctx.Err(); err != nil {
		return err
	}
	for _, there := range w.there {
		if !there {
			if w.ended() {
				return ErrStopped
			}
			break
		}
	}
	return nil
}

// ended tells whether to begin no further frame.
func (w *writer) ended() bool {
	select {
	case <-w.Stop:
		return true
	case <-w.ctx.Done():
		return true
	default:
		return w.failed.Load() != nil
	}
}

func (w *writer) fail(err error) { w.failed.CompareAndSwap(nil, &err) }

func (w *writer) shortly(do func() error) error { return shortly(w.ctx, w.system, w.Folder, do) }

// enterFolder claims the frames wanted and reads the folder's record.
func (w *writer) enterFolder() (release func(), err error) {
	err = w.shortly(func() error {
		w.before, err = readRecord(w.system, w.path(RecordName))
		if err != nil {
			return recordError(w.path(RecordName), err)
		}
		release, err = w.claim.take(w.system, w.Folder)
		return err
	})
	return release, err
}

// missing is the frames wanted that are not there.
func (w *writer) missing() []int {
	var missing []int
	for i, there := range w.there {
		if !there {
			missing = append(missing, w.First+i)
		}
	}
	return missing
}

// plan lists the frames to be made and decides how repeats are.
func (w *writer) plan() []int {
	for i, there := range w.there {
		if there && w.source[w.keys[i]] == 0 {
			w.source[w.keys[i]] = w.First + i
		}
	}
	todo := w.missing()
	if len(todo) > 1 && w.Repeats != RepeatsWrite {
		w.copies = w.copier(todo)
	}
	return todo
}

// made is a frame that a worker has done with: written under its temporary name, or left to be copied.
type made struct {
	n    int
	file newFile // nil: to be copied
}

// make makes the frames, in order, and gives them their names batch by batch.
func (w *writer) make(todo []int) {
	finished := make(chan made, w.batch)
	var next atomic.Int64
	var workers sync.WaitGroup
	first := w.firsts(todo)
	for range min(w.Jobs, len(todo)) {
		workers.Go(func() {
			defer w.recover()
			var buffer []byte // one for all frames of this worker
			for !w.ended() {
				i := int(next.Add(1)) - 1
				if i >= len(todo) {
					return
				}
				n := todo[i]
				m := made{n: n}
				if w.copies == nil || first[w.keys[n-w.First]] == n {
					var err error
					if m.file, buffer, err = w.write(n, buffer); err != nil {
						w.fail(err)
						return
					}
				}
				finished <- m
			}
		})
	}
	go func() {
		workers.Wait()
		close(finished)
	}()
	w.collect(finished)
}

// firsts is, for each key to be made and not in the folder yet, the first frame that has it.
func (w *writer) firsts(todo []int) map[string]int {
	first := make(map[string]int)
	for _, n := range todo {
		key := w.keys[n-w.First]
		if first[key] == 0 {
			first[key] = n
			if w.source[key] != 0 {
				first[key] = w.source[key]
			}
		}
	}
	return first
}

// recover makes an error of a worker's panic.
func (w *writer) recover() {
	if r := recover(); r != nil {
		w.fail(coderPanic(r))
	}
}

func coderPanic(r any) error { return fmt.Errorf("a frame could not be made: %v", r) }

// write makes frame n under its temporary name. It gives the buffer back.
func (w *writer) write(n int, buffer []byte) (newFile, []byte, error) {
	if file := w.borrow(n); file != nil {
		w.repeated.Add(1)
		return file, buffer, nil
	}
	data, err := w.Coder.Append(buffer[:0], w.Tuple(n))
	if err != nil {
		return nil, buffer, frameError{n, err}
	}
	if key, err := pngfile.ReadKey(byteFile(data)); err != nil || key != w.keys[n-w.First] {
		return nil, data, frameError{n, fmt.Errorf("it was made with the key %q, %q wanted (%v)", key, w.keys[n-w.First], err)}
	}
	file, err := create(w.system, w.path(temporary(Name(n))), data)
	if err != nil {
		return nil, data, err
	}
	w.written.Add(1)
	w.bytes.Add(int64(len(data)))
	if w.again[n-w.First] {
		w.linkable.Add(int64(len(data)))
	}
	return file, data, nil
}

// collect takes what the workers have finished and commits it in batches.
func (w *writer) collect(finished <-chan made) {
	var batch, waiting []made
	due := time.NewTimer(batchTime)
	defer due.Stop()
	for open := true; open; {
		now := false
		select {
		case m, more := <-finished:
			if open = more; more {
				batch = append(batch, m)
			}
			now = !more || len(batch) >= w.batch
		case <-due.C:
			now = true
		}
		if now {
			if len(batch) > 0 {
				waiting = w.commit(batch, waiting)
				batch = batch[:0]
			}
			due.Reset(batchTime)
		}
	}
	w.enter("finishing")
	if w.ctx.Err() == nil {
		if err := w.system.SyncFolder(w.Folder); err != nil {
			w.fail(err)
		}
	}
}

// commit brings a batch to the disk: first the frames' data, then their names, then the folder, then the record
// that calls them safe. It gives back the frames whose source is not in the folder yet.
func (w *writer) commit(batch, waiting []made) []made {
	if w.ctx.Err() != nil {
		for _, m := range batch {
			if m.file != nil {
				m.file.Close()
				w.system.Remove(w.path(temporary(Name(m.n))))
			}
		}
		return nil
	}
	var written []made
	for _, m := range batch {
		if m.file == nil {
			waiting = append(waiting, m)
		} else {
			written = append(written, m)
		}
	}
	named := w.name(written)
	copied, waiting := w.repeat(waiting)
	if named = append(named, copied...); len(named) == 0 {
		return waiting
	}
	if err := w.system.SyncFolder(w.Folder); err != nil {
		w.fail(err)
		return waiting
	}
	for _, n := range named {
		w.safe[n-w.First] = true
	}
	err := w.shortly(w.record)
	if errors.Is(err, ErrRefused) { // too late for that: frames are written
		err = fmt.Errorf("%v", err)
	}
	if err != nil {
		w.fail(err)
	}
	return waiting
}

// name syncs the data of frames, side by side so that they share the disk's own commits, and then gives them
// their names. It tells which have theirs.
func (w *writer) name(written []made) []int {
	sound := make([]bool, len(written))
	parallel(syncers, len(written), never, func(i int) error {
		if err := finish(written[i].file); err != nil {
			w.fail(err)
		} else {
			sound[i] = true
		}
		return nil
	})
	var named []int
	for i, m := range written {
		hidden := w.path(temporary(Name(m.n)))
		if sound[i] {
			err := w.system.Rename(hidden, w.path(Name(m.n)))
			if err == nil {
				if _, ok := m.file.(tied); ok {
					w.system.Remove(hidden) // it stays where both names were the same file's (rename(2))
				}
				w.there[m.n-w.First] = true
				if key := w.keys[m.n-w.First]; w.source[key] == 0 {
					w.source[key] = m.n
				}
				named = append(named, m.n)
				continue
			}
			w.fail(err)
		}
		w.system.Remove(hidden)
	}
	return named
}

// byteFile is a file in memory, for reading its key.
type byteFile []byte

func (b byteFile) ReadAt(p []byte, offset int64) (int, error) {
	if offset >= int64(len(b)) {
		return 0, io.EOF
	}
	n := copy(p, b[offset:])
	if n < len(p) {
		return n, io.EOF
	}
	return n, nil
}

// explain says where a Write stands when the file system ends it.
func (w *writer) explain(err error) error {
	var path *fs.PathError
	var system syscall.Errno
	var own frameError
	if errors.As(err, &own) || !errors.As(err, &path) && !errors.As(err, &system) && !errors.Is(err, io.ErrShortWrite) {
		return err
	}
	if errors.Is(err, errIrregular) && path != nil {
		return refusef("%s: %v; move it away or name another folder", path.Path, errIrregular)
	}
	what, remedy := cause(err), "mend that, then give the same command again"
	switch {
	case isFull(err):
		what, remedy = "no space is left", "free some, then give the same command again"
	case errors.Is(err, fs.ErrPermission) || errors.Is(err, syscall.EROFS):
		what, remedy = "it cannot be written into ("+what+")", "allow that or name another folder"
		if !w.surveyed { // nothing was written, and trying again is of no use
			return refusef("%s: %s; %s", w.Folder, what, remedy)
		}
	case errors.Is(err, syscall.EIO) || errors.Is(err, io.ErrShortWrite):
		what, remedy = "the disk gives an error ("+what+")", "look after the disk, then give the same command again"
	case errors.Is(err, fs.ErrNotExist):
		what, remedy = "it is gone or not reachable", "bring it back, then give the same command again"
	}
	if w.surveyed {
		safe := 0
		for _, s := range w.safe {
			if s {
				safe++
			}
		}
		what += fmt.Sprintf(", %d of %d frames are safely written", safe, len(w.safe))
	}
	return fmt.Errorf("%s: %s; %s%w", w.Folder, what, remedy, silent{err})
}

// frameError is an error of the coder, whatever files it may speak of.
type frameError struct {
	n   int
	err error
}

func (e frameError) Error() string { return fmt.Sprintf("frame %d: %v", e.n, e.err) }
func (e frameError) Unwrap() error { return e.err }

// silent keeps an error for errors.Is and says nothing.
type silent struct{ error }

func (silent) Error() string   { return "" }
func (s silent) Unwrap() error { return s.error }
