package sequence

import (
	"errors"
	"fmt"
	"hash/maphash"
	"io"
	"sort"
	"sync"

	"colonnade/compose/pngfile"
)

// Report is what Verify found.
type Report struct {
	Folder  string   `json:"folder"`            // the first of them
	Folders []string `json:"folders,omitempty"` // where there are several
	Frames  int      `json:"frames"`            // there, whole and sound
	First   int      `json:"first"`             // of the frames that are there; 0 when there are none
	Last    int      `json:"last"`
	Wanted  int      `json:"wanted"` // frames of the whole piece, of which a part may have been asked for
	Faults  []Fault  `json:"faults"`
}

// Fault is one thing wrong with a folder of frames.
type Fault struct {
	Where  string `json:"where"`
	What   string `json:"what"`
	Remedy string `json:"remedy"`
}

const (
	copyPiece = 256 << 10
	// mostFaults are told one by one. A record may name a million shards.
	mostFaults = 10_000
)

// Verify reads folders of frames whole and tells every fault: frames that are missing, of another size, broken in any byte,
// or in another's place. Several folders are those of one piece that several shards were rendered into: what one of
// them lacks another may have. It changes none of them. The error is that of a folder that cannot be read, has no record,
// or holds another piece than the first.
func Verify(jobs int, folders ...string) (*Report, error) {
	v, err := verify(disk{}, jobs, folders...)
	if err != nil {
		return nil, err
	}
	return &v.report, nil
}

func verify(files fileSystem, jobs int, folders ...string) (*verifier, error) {
	v := &verifier{files: files, seed: maphash.MakeSeed(), sound: make(map[string]sum)}
	v.report = Report{Folder: folders[0], Faults: []Fault{}}
	if len(folders) > 1 {
		v.report.Folders = folders
	}
	var frames []file
	for i, folder := range folders {
		entries, err := files.List(folder)
		if err != nil {
			return nil, plainError(folder, err)
		}
		known, err := readRecord(files, join(folder, RecordName))
		if err != nil {
			return nil, plainError(join(folder, RecordName), err)
		}
		switch {
		case known == nil:
			return nil, fmt.Errorf("%s: it has no %s; name a folder that colonnade rendered into", folder, RecordName)
		case i == 0:
			v.known, v.places = known, make([]string, known.Frames)
		case known.piece() != v.known.piece():
			return nil, fmt.Errorf("%s: it holds frames of another piece than %s; name folders of one render", folder, folders[0])
		default:
			v.known.join(known)
		}
		for _, e := range entries {
			n, ok := number(e.Name())
			switch {
			case ok && n <= known.Frames:
				frames = append(frames, file{n, join(folder, e.Name())})
			case ok:
				v.fault(n, join(folder, e.Name()), fmt.Sprintf("it follows the last of %d frames", known.Frames), "remove it")
			default:
				if c, ok := parseClaim(e.Name()); ok {
					v.claim(folder, c)
				}
			}
		}
	}
	v.report.Wanted = v.known.Frames
	v.all(frames, max(jobs, 1))
	v.leftOver(folders)
	v.missing()
	sort.SliceStable(v.faults, func(i, j int) bool { return v.faults[i].n < v.faults[j].n })
	for _, f := range v.faults {
		v.report.Faults = append(v.report.Faults, f.Fault)
	}
	if v.more > 0 {
		v.report.Faults = append(v.report.Faults,
			Fault{folders[0], fmt.Sprintf("%d more faults were found", v.more), "mend these first, then verify again"})
	}
	return v, nil
}

// file is a file under the name of frame n.
type file struct {
	n    int
	name string
}

type verifier struct {
	files fileSystem
	known *record // what all folders' records say together

	mutex  sync.Mutex
	report Report
	faults []numbered   // at most mostFaults
	more   int          // faults beyond them
	left   []file       // sound frames of another piece, which the record does not want
	tried  map[int]bool // frames of which there is a file, sound or not
	places []string     // by frame, the first file of it that was found to be sound
	// Frames with one key have the same bytes. So each frame but the first of them need only be compared: that
	// spares inflating most of a piece. The sums are of a family drawn at random, of 64 bits.
	seed  maphash.Seed
	sound map[string]sum
}

// sum stands for the bytes of a sound frame.
type sum struct {
	bytes uint64
	key   string // whole
	name  string // of its file
}

// numbered is a fault and the frame that it comes before in the report.
type numbered struct {
	n int
	Fault
}

func (v *verifier) fault(n int, where, what, remedy string) {
	v.mutex.Lock()
	defer v.mutex.Unlock()
	if len(v.faults) == mostFaults {
		v.more++
		return
	}
	v.faults = append(v.faults, numbered{n, Fault{where, what, remedy}})
}

// all checks the frames: first one of each key, then those that need only be compared with it.
func (v *verifier) all(frames []file, jobs int) {
	seen := make(map[string]bool)
	v.tried = make(map[int]bool)
	var first, rest []file
	for _, f := range frames {
		v.tried[f.n] = true
		if key := v.known.keys[f.n-1]; seen[key] {
			rest = append(rest, f)
		} else {
			seen[key] = true
			first = append(first, f)
		}
	}
	checkers := sync.Pool{New: func() any { return pngfile.NewChecker() }}
	for _, some := range [][]file{first, rest} {
		parallel(jobs, len(some), never, func(i int) error {
			checker := checkers.Get().(*pngfile.Checker)
			defer checkers.Put(checker)
			v.frame(checker, some[i])
			return nil
		})
	}
}

// frame checks one frame's file.
func (v *verifier) frame(checker *pngfile.Checker, f file) {
	what := v.wrong(checker, f.name, f.n)
	if what == isLeft {
		v.mutex.Lock()
		defer v.mutex.Unlock()
		v.left = append(v.left, f)
		return
	}
	if what != "" {
		v.fault(f.n, f.name, what, "remove it, then give the same colonnade render again")
		return
	}
	v.mutex.Lock()
	defer v.mutex.Unlock()
	if v.places[f.n-1] == "" {
		v.report.Frames++
	}
	if v.places[f.n-1] == "" || f.name < v.places[f.n-1] {
		v.places[f.n-1] = f.name
	}
}

// isLeft is what is wrong with a sound frame of another piece.
const isLeft = "left from another piece"

// leftOver tells of the frames that are left from another piece, a run at a time: where a part was rendered into the frames of a
// piece that has changed since, that is all the rest.
func (v *verifier) leftOver(folders []string) {
	for _, folder := range folders {
		here := make(map[int]bool)
		for _, f := range v.left {
			here[f.n] = here[f.n] || f.name == join(folder, Name(f.n))
		}
		for _, s := range spans(v.known.Frames, func(n int) bool { return here[n] }) {
			v.fault(s.first, folder, s.words()+" "+isLeft+": no such frame is wanted yet", "render that part too, which writes them anew, or remove them")
		}
	}
}

// wrong tells what is wrong with frame n, or nothing.
func (v *verifier) wrong(checker *pngfile.Checker, name string, n int) string {
	key := v.known.keys[n-1]
	v.mutex.Lock()
	known, another := v.sound[key]
	v.mutex.Unlock()
	if another && v.equal(name, known.bytes) {
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
		return isLeft
	case frame.Key[:keyPrefix] != key:
		return fmt.Sprintf("it is another frame than the one wanted: its key begins with %s, %s wanted", frame.Key[:keyPrefix], key)
	}
	v.mutex.Lock()
	defer v.mutex.Unlock()
	now := sum{hash.Sum64(), frame.Key, name}
	if known, ok := v.sound[key]; ok && (known.bytes != now.bytes || known.key != now.key) {
		return fmt.Sprintf("its bytes are not those of %s, though its key is the same", known.name)
	} else if ok {
		return ""
	}
	v.sound[key] = now
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

// missing tells of the frames that are nowhere: those that a render was asked for, and those between them and in
// shards that no render was asked for yet. What comes before and after was never wanted.
func (v *verifier) missing() {
	known := v.known
	asked := span{1, known.Frames}
	if some := spans(known.Frames, func(n int) bool {
		return v.tried[n] || known.keys[n-1] != "" || known.Shards.of(n) > 0
	}); len(some) > 0 {
		asked = span{some[0].first, some[len(some)-1].last}
	}
	for n := range v.tried {
		v.report.Last = max(v.report.Last, n)
		if v.report.First == 0 || n < v.report.First {
			v.report.First = n
		}
	}
	where := v.report.Folder
	if more := len(v.report.Folders) - 1; more > 0 {
		where = fmt.Sprintf("%s and %d more", where, more)
	}
	for _, s := range v.parts(func(n int) bool { return !v.tried[n] && known.keys[n-1] != "" }) {
		remedy := "give the same colonnade render again"
		if shard := known.Shards.of(s.first); shard > 0 {
			remedy = fmt.Sprintf("give the same colonnade render --shard %d/%d again", shard, known.Shards.Count)
		}
		v.fault(s.first, where, s.words()+" missing", remedy)
	}
	for _, s := range v.parts(func(n int) bool { return !v.tried[n] && known.keys[n-1] == "" && asked.holds(n) }) {
		what := s.words() + " not rendered yet"
		remedy := fmt.Sprintf("colonnade render with --frames %d-%d, or the shards that hold them", s.first, s.last)
		if shard := known.Shards.of(s.first); shard > 0 {
			what = fmt.Sprintf("shard %d of %d is missing: %s", shard, known.Shards.Count, what)
			remedy = fmt.Sprintf("colonnade render with --shard %d/%d", shard, known.Shards.Count)
		}
		v.fault(s.first, where, what, remedy)
	}
}

// parts are the runs of frames for which want holds, parted where a shard ends.
func (v *verifier) parts(want func(n int) bool) (parts []span) {
	for _, s := range spans(v.known.Frames, want) {
		for s.first <= s.last {
			part := s
			for n := s.first; n < s.last; n++ {
				if v.known.Shards.of(n) != v.known.Shards.of(n+1) {
					part.last = n
					break
				}
			}
			parts = append(parts, part)
			s.first = part.last + 1
		}
	}
	return parts
}

func (s span) words() string {
	if s.first == s.last {
		return fmt.Sprintf("frame %d is", s.first)
	}
	return fmt.Sprintf("frames %d to %d are", s.first, s.last)
}

// claim tells of a process that writes in the folder now.
func (v *verifier) claim(folder string, c claim) {
	release, err := v.files.Lock(join(folder, c.name()))
	if err == nil {
		release()
	} else if errors.Is(err, errLocked) {
		v.fault(0, folder, fmt.Sprintf("process %d writes frames %v there", c.process, c.frames), "wait for it, then verify again")
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
