package sequence

import (
	"context"
	"errors"
	"fmt"
	"hash/maphash"
	"io"
	"io/fs"

	"colonnade/analyze/levels"
)

// Join brings the frames of one piece that lie in several folders together in o.Folder, which may be one of them. Of o it
// takes Folder, Fresh, Repeats, Jobs, Progress and Stop. The folders are verified first: where the report has a fault,
// nothing is brought. What was rendered may be a part of the piece. Frames are clones of those in the folders where the
// file system has clones; with RepeatsLink they are the same files; else they are copied. What is there already is kept, and
// what Write promises holds here too: names stand for whole frames, and the same Join goes on from where one was ended.
func Join(ctx context.Context, o Options, folders ...string) (Summary, *Report, error) {
	if o.system == nil {
		o.system = disk{}
	}
	v, err := verify(o.system, o.Jobs, folders...)
	if err != nil {
		return Summary{}, nil, refusef("%v", err)
	}
	if len(v.report.Faults) > 0 {
		return Summary{}, &v.report, nil
	}
	o.First, o.Last, o.Count = v.report.First, v.report.Last, v.known.Frames
	o.Tuple = asTuple
	o.Coder, o.Describe = bearer{v}, v.known.description()
	summary, err := Write(ctx, o)
	return summary, &v.report, err
}

// asTuple stands for frame n where a bearer is the coder.
func asTuple(n int) []levels.Level { return []levels.Level{levels.Level(n)} }

// bearer gives the frames that a verifier found sound.
type bearer struct{ *verifier }

func (b bearer) Key(tuple []levels.Level) string {
	return b.sound[b.known.keys[tuple[0]-1]].key
}

// Append adds the frame's file, whose bytes must be those that were found sound.
func (b bearer) Append(dst []byte, tuple []levels.Level) ([]byte, error) {
	name := b.places[tuple[0]-1]
	file, err := b.files.Open(name)
	if err != nil {
		return dst, fmt.Errorf("%s: it cannot be read: %s; verify the folders again", name, cause(err))
	}
	defer file.Close()
	data, err := io.ReadAll(file)
	if err != nil {
		return dst, fmt.Errorf("%s: it cannot be read: %s; verify the folders again", name, cause(err))
	}
	if maphash.Bytes(b.seed, data) != b.sound[b.known.keys[tuple[0]-1]].bytes {
		return dst, fmt.Errorf("%s: it has changed since it was verified; verify the folders again", name)
	}
	return append(dst, data...), nil
}

// lender is a coder whose frames lie in files already.
type lender interface {
	place(tuple []levels.Level) string            // the file that holds a frame
	holds(tuple []levels.Level, name string) bool // a file has that frame's bytes
}

func (b bearer) place(tuple []levels.Level) string { return b.places[tuple[0]-1] }

func (b bearer) holds(tuple []levels.Level, name string) bool {
	return b.equal(name, b.sound[b.known.keys[tuple[0]-1]].bytes)
}

// borrow makes frame n under its temporary name out of the file that holds it already, without writing it anew; nil where
// that cannot be. The bytes are looked at afterwards: until then the file may have been changed.
func (w *writer) borrow(n int) newFile {
	from, ok := w.Coder.(lender)
	if !ok || w.Repeats == RepeatsWrite {
		return nil
	}
	way := w.system.Clone
	if w.Repeats == RepeatsLink {
		way = w.tie
	}
	hidden := w.path(temporary(Name(n)))
	file, err := way(from.place(w.Tuple(n)), hidden)
	if err != nil {
		return nil
	}
	if !from.holds(w.Tuple(n), hidden) {
		file.Close()
		w.system.Remove(hidden)
		return nil
	}
	return file
}

// tie gives a file a second name.
func (w *writer) tie(from, to string) (newFile, error) {
	if err := w.system.Link(from, to); err != nil {
		return nil, err
	}
	file, err := w.system.Open(to)
	if err != nil {
		w.system.Remove(to)
		return nil, err
	}
	return tied{file}, nil
}

// tied is a file that has a second name and is not to be written.
type tied struct{ openFile }

func (tied) Write([]byte) (int, error) { return 0, errors.ErrUnsupported }

// Sync brings to the disk what another process wrote. Some systems sync no file that was opened for reading.
func (t tied) Sync() error {
	if err := t.openFile.Sync(); err != nil && !errors.Is(err, fs.ErrPermission) {
		return err
	}
	return nil
}
