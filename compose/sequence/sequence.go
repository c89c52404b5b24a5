// Package sequence writes frames into a folder so that nothing is lost, and verifies such folders.
//
// What is on disk says what it is: each frame carries its key, the digest of all that decides its bytes. Write
// keeps the frames whose key is the wanted one and makes the others. A frame is written under a temporary name
// and synced to the disk before it takes its own name, so that a name always stands for a whole frame, through
// full disks, kills and power cuts. sequence.json beside the frames says what they are and how far they are
// safely on disk.
package sequence

import (
	"errors"
	"fmt"
	"time"

	"colonnade/analyze/levels"
)

// Coder makes the bytes of frames. It is used by several goroutines at once.
type Coder interface {
	// Key is the digest, 64 hexadecimal digits, of all that decides the bytes of the frame in which column i
	// stands at tuple[i]. The frame's file carries it in its key chunk (pngfile.KeyWord).
	Key(tuple []levels.Level) string
	// Append adds the frame's whole PNG file to dst.
	Append(dst []byte, tuple []levels.Level) ([]byte, error)
}

// Options say what to write, where and how.
type Options struct {
	Folder      string                     // made when missing, with its parents
	First, Last int                        // the frames wanted, inclusive, numbered from 1
	Count       int                        // frames of the whole piece
	Tuple       func(n int) []levels.Level // the levels of frame n, First <= n <= Last
	Coder       Coder
	Ready       func(missing []int) error // told which frames are to be made, if any are, before a file is changed; its error ends Write; may be nil
	Describe    Description
	Fresh       bool            // trust no frame that is there; take the folder over
	Repeats     string          // how frames equal to an earlier one are made: RepeatsAuto, RepeatsWrite or RepeatsLink; "" is auto
	Jobs        int             // frames made side by side; less than 1 is 1
	Progress    func(Progress)  // called from one goroutine, every 100 ms at the most and once at the end; may be nil
	Stop        <-chan struct{} // closed: finish the frames in hand, record them, return ErrStopped; may be nil
	system      fileSystem      // nil: the machine's own

	batch int // frames to a batch; 0: batchFrames
}

// How frames equal to an earlier one are made.
const (
	RepeatsAuto  = "auto"  // copy-on-write clones where the file system has them, otherwise written anew
	RepeatsWrite = "write" // written anew
	RepeatsLink  = "link"  // hard links where the file system has them, otherwise written anew
)

// Description is what sequence.json says of the frames beside their number.
type Description struct {
	Rate          string // frames a second as a ratio: "25/1", "24000/1001"
	Width, Height int
	Song          string  // file; empty when the levels came from a table
	SongStart     float64 // the second of the song at which frame 1 begins
	SongSeconds   float64
	Photos        []string // files, by level
	Scene         string   // digest of all that frames are made from but their levels
	Levels        string   // digest of the whole level table, or empty
	Columns       []string // names
	Version       string   // of the program
	Shards        *Shards  // how the frames are shared out among several; nil when they are not
}

// Shards says that frames First to Last are parted into Count shards: equal, contiguous, numbered from 1.
type Shards struct {
	Count int `json:"count"`
	First int `json:"first"`
	Last  int `json:"last"`
}

// Span is the first and the last frame of a shard. The last comes before the first where there are fewer frames than
// shards and this one has none.
func (s Shards) Span(shard int) (first, last int) {
	frames := s.Last - s.First + 1
	return s.First + frames*(shard-1)/s.Count, s.First + frames*shard/s.Count - 1
}

// of is the shard that holds frame n, 0 when none does.
func (s *Shards) of(n int) int {
	if s == nil || n < s.First || n > s.Last {
		return 0
	}
	frames := s.Last - s.First + 1
	return ((n-s.First+1)*s.Count-1)/frames + 1
}

const maxShards = 1_000_000

// Progress is how far a Write is.
type Progress struct {
	Done, Total             int // frames; Done is the sum of the next three
	Written, Kept, Repeated int
	Bytes                   int64   // written
	FramesPerSecond         float64 // over the last half minute or so, without the frames kept; 0 while unknown
	Left                    time.Duration
	Stage                   string // "reading", "checking", "writing", "finishing"
}

// Summary is what a Write did.
type Summary struct {
	Written, Kept, Repeated int   // frames written, found to be right, made from a file that held them
	Removed                 int   // frames of ours past the end of the piece
	Bytes                   int64 // written
	LinkWouldSave           int64 // bytes written for frames equal to an earlier one
	Seconds                 float64
}

var (
	// ErrStopped says that Options.Stop ended a Write: all frames made by then are recorded, and the same Write
	// goes on from there.
	ErrStopped = errors.New("stopped; the same command goes on from there")
	// ErrRefused says that the options are wrong or the folder is not for this Write: nothing was written.
	ErrRefused = errors.New("refused")
)

// refusal is an error that is ErrRefused and says only its own words.
type refusal struct{ text string }

func (r refusal) Error() string        { return r.text }
func (r refusal) Is(target error) bool { return target == ErrRefused }

func refusef(format string, args ...any) error { return refusal{fmt.Sprintf(format, args...)} }

// InUseError says that another process writes the same frames in the folder.
type InUseError struct {
	Folder  string
	Process int    // its id
	What    string // what it does there
}

func (e InUseError) Error() string {
	return fmt.Sprintf("%s: in use by process %d, which %s; wait for it or stop it", e.Folder, e.Process, e.What)
}

func (o *Options) check() error {
	switch {
	case o.Folder == "":
		return refusef("folder: an empty name; name a folder")
	case o.First < 1 || o.Last < o.First || o.Count < o.Last || o.Count > maxFrames:
		return refusef("frames %d to %d of %d: they are not a part of frames 1 to %d; give the first and the last within the piece", o.First, o.Last, o.Count, min(o.Count, maxFrames))
	case o.Repeats != "" && o.Repeats != RepeatsAuto && o.Repeats != RepeatsWrite && o.Repeats != RepeatsLink:
		return refusef("repeats: %q is not a way; give auto, write or link", o.Repeats)
	}
	return nil
}
