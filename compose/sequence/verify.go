package sequence

import (
	"errors"
	"fmt"
	"hash/maphash"
	"io"
	"io/fs"
	"sort"
	"sync"

	"colonnade/compose/pngfile"
)

// Report is what Verify found.
type Report struct {
	Folder string  `json:"folder"`
	Frames int     `json:"frames"` // there, whole and sound
	First  int     `json:"first"`  // of the frames that are there; 0 when there are none
	Last   int     `json:"last"`
	Wanted int     `json:"wanted"` // frames of the whole piece
	Faults []Fault `json:"faults"`
}

// Fault is one thing wrong with a folder of frames.
type Fault struct {
	Where  string `json:"where"`
	What   string `json:"what"`
	Remedy string `json:"remedy"`
}

const copyPiece = 256 << 10

// Verify reads a folder of frames whole and tells every fault: frames that are missing, of another size, broken
// in any byte, or in another's place. It changes none of them. The error is that of a folder that cannot be read or
// has no record.
func Verify(folder string, jobs int) (*Report, error) { return verify(disk{}, folder, jobs) }

func verify(files FileSystem, folder string, jobs int) (*Report, error) {
	entries, err := files.List(folder)
	if err != nil {
		return nil, plainError(folder, err)
	}
	known, err := readRecord(files, join(folder, RecordName))
	if err != nil {
		return nil, plainError(join(folder, RecordName), err)
	}
	if known == nil {
		return nil, fmt.Errorf("%s: it has no %s; name a folder that colonnade rendered into", folder, RecordName)
	}
	v := &verifier{
		files: files, folder: folder, known: known, there: make([]bool, known.Frames),
		seed: maphash.MakeSeed(), sound: make(map[string]uint64),
	}
	v.report = Report{Folder: folder, Wanted: known.Frames, Faults: []Fault{}}
	var frames []fs.DirEntry
	for _, e := range entries {
		n, ok := number(e.Name())
		switch {
		case ok && n <= known.Frames:
			frames = append(frames, e)
		case ok:
			v.fault(n, join(folder, e.Name()), fmt.Sprintf("it follows the last of %d frames", known.Frames), "remove it")
		default:
			if c, ok := parseClaim(e.Name()); ok {
				v.claim(c)
			}
		}
	}
	v.all(frames, max(jobs, 1))
	v.missing()
	sort.SliceStable(v.faults, func(i, j int) bool { return v.faults[i].n < v.faults[j].n })
	for _, f := range v.faults {
		v.report.Faults = append(v.report.Faults, f.Fault)
	}
	return &v.report, nil
}

type verifier struct {
	files  FileSystem
	folder string
	known  *record
	there  []bool // each goroutine sets its own frame's

	mutex  sync.Mutex
	report Report
	faults []numbered
	// Frames with one key have the same bytes. So each frame but the first of them need only be compared: that
	// spares inflating most of a piece. The sums are of a family drawn at random, of 64 bits.
	seed  maphash.Seed
	sound map[string]uint64
}

// numbered is a fault and the frame that it comes before in the report.
type numbered struct {
	n int
	Fault
}

func (v *verifier) fault(n int, where, what, remedy string) {
	v.mutex.Lock()
	defer v.mutex.Unlock()
	v.faults = append(v.faults, numbered{n, Fault{where, what, remedy}})
}

// all checks the frames: first one of each key, then those that need only be compared with it.
func (v *verifier) all(frames []fs.DirEntry, jobs int) {
	seen := make(map[string]bool)
	var first, rest []fs.DirEntry
	for _, e := range frames {
		n, _ := number(e.Name())
		if key := v.known.keys[n-1]; seen[key] {
			rest = append(rest, e)
		} else {
			seen[key] = true
			first = append(first, e)
		}
	}
	checkers := sync.Pool{New: func() any { return pngfile.NewChecker() }}
	for _, some := range [][]fs.DirEntry{first, rest} {
		parallel(jobs, len(some), never, func(i int) error {
			checker := checkers.Get().(*pngfile.Checker)
			defer checkers.Put(checker)
			v.frame(checker, some[i])
			return nil
		})
	}
}

// frame checks one frame's file.
func (v *verifier) frame(checker *pngfile.Checker, entry fs.DirEntry) {
	n, _ := number(entry.Name())
	v.there[n-1] = true
	where := join(v.folder, entry.Name())
	what := v.wrong(checker, where, n)
	if what != "" {
		v.fault(n, where, what, "remove it, then give the same colonnade render again")
		return
	}
	v.mutex.Lock()
	defer v.mutex.Unlock()
	v.report.Frames++
}

// wrong tells what is wrong with frame n, or nothing.
func (v *verifier) wrong(checker *pngfile.Checker, name string, n int) string {
	key := v.known.keys[n-1]
	v.mutex.Lock()
	sum, another := v.sound[key]
	v.mutex.Unlock()
	if another && v.equal(name, sum) {
		return ""
	}
	file, err := v.files.Open(name)
	if err != nil {
		return "it cannot be read: " + cause(err)
	}
	defer file.Close()
	var hash maphash.Hash
	hash.SetSeed(v.seed)
	frame, err := checker.Check(io.TeeReader(file, &hash))
	var fault pngfile.Fault
	switch {
	case errors.As(err, &fault):
		return fault.Text
	case err != nil:
		return "it cannot be read: " + cause(err)
	case frame.Key == "":
		return "it has no key, so colonnade did not write it"
	case frame.Width != v.known.Width || frame.Height != v.known.Height:
		return fmt.Sprintf("it has %d x %d pixels, %d x %d wanted", frame.Width, frame.Height, v.known.Width, v.known.Height)
	case key == "":
		return fmt.Sprintf("it is left from another piece: %s wants no such frame yet", RecordName)
	case frame.Key[:keyPrefix] != key:
		return fmt.Sprintf("it is another frame than the one wanted: its key begins with %s, %s wanted", frame.Key[:keyPrefix], key)
	}
	v.mutex.Lock()
	defer v.mutex.Unlock()
	v.sound[key] = hash.Sum64()
	return ""
}

// equal tells whether a file has the sum of a frame that was found to be sound.
func (v *verifier) equal(name string, sum uint64) bool {
	file, err := v.files.Open(name)
	if err != nil {
		return false
	}
	defer file.Close()
	var hash maphash.Hash
	hash.SetSeed(v.seed)
	_, err = io.CopyBuffer(&hash, struct{ io.Reader }{file}, make([]byte, copyPiece))
	return err == nil && hash.Sum64() == sum
}

// missing tells of the frames that are not there: those that a render was asked for, and those of parts of the
// piece that no render was asked for yet.
func (v *verifier) missing() {
	for n, there := range v.there {
		if there {
			v.report.Last = n + 1
			if v.report.First == 0 {
				v.report.First = n + 1
			}
		}
	}
	for _, s := range spans(v.known.Frames, func(n int) bool { return !v.there[n-1] && v.known.keys[n-1] != "" }) {
		v.fault(s.first, v.folder, s.words()+" missing", "give the same colonnade render again")
	}
	for _, s := range spans(v.known.Frames, func(n int) bool { return !v.there[n-1] && v.known.keys[n-1] == "" }) {
		v.fault(s.first, v.folder, s.words()+" not rendered yet", fmt.Sprintf("colonnade render with --frames %d-%d, or the shards that hold them", s.first, s.last))
	}
}

func (s span) words() string {
	if s.first == s.last {
		return fmt.Sprintf("frame %d is", s.first)
	}
	return fmt.Sprintf("frames %d to %d are", s.first, s.last)
}

// claim tells of a process that writes in the folder now.
func (v *verifier) claim(c claim) {
	release, err := v.files.Lock(join(v.folder, c.name()))
	if err == nil {
		release()
	} else if errors.Is(err, errLocked) {
		v.fault(0, v.folder, fmt.Sprintf("process %d writes frames %v there", c.process, c.frames), "wait for it, then verify again")
	}
}

// cause is the innermost words of an error of the file system.
func cause(err error) string {
	for {
		inner := errors.Unwrap(err)
		if inner == nil {
			return err.Error()
		}
		err = inner
	}
}

func plainError(where string, err error) error {
	return fmt.Errorf("%s: %s; name a folder that colonnade rendered into", where, cause(err))
}
