package sequence

import (
	"context"
	"fmt"
	"hash/maphash"
	"io"

	"colonnade/analyze/levels"
)

// Join brings the frames of one piece that lie in several folders together in o.Folder, which may be one of them. Of o it
// takes Folder, Fresh, Repeats, Jobs, Progress, Stop and FS. The folders are verified first: where the report has a fault,
// nothing is brought. What is there already is kept, and what Write promises holds here too: names stand for whole
// frames, and the same Join goes on from where one was ended.
func Join(ctx context.Context, o Options, folders ...string) (Summary, *Report, error) {
	if o.FS == nil {
		o.FS = disk{}
	}
	v, err := verify(o.FS, o.Jobs, folders...)
	if err != nil {
		return Summary{}, nil, refusef("%v", err)
	}
	if len(v.report.Faults) > 0 {
		return Summary{}, &v.report, nil
	}
	o.First, o.Last, o.Count = 1, v.known.Frames, v.known.Frames
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
