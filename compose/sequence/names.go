package sequence

import (
	"fmt"
	"path/filepath"
	"strconv"
	"strings"
)

const (
	// Pattern is how frames are named, for fmt and for encoders alike: numbers from 1, six digits at the least.
	Pattern = "frame_%06d.png"
	// RecordName is the file that says what the frames are.
	RecordName = "sequence.json"

	// maxFrames is the longest piece: 46 hours at 60 frames a second.
	maxFrames = 10_000_000

	temporaryEnd = ".tmp"
	lockName     = ".colonnade-lock"
)

// Name is the file name of frame n.
func Name(n int) string { return fmt.Sprintf(Pattern, n) }

// temporary is the hidden name under which a file is written.
func temporary(name string) string { return "." + name + temporaryEnd }

// number tells which frame a file name stands for.
func number(name string) (int, bool) {
	digits, ok := strings.CutPrefix(name, "frame_")
	if !ok {
		return 0, false
	}
	digits, _ = strings.CutSuffix(digits, ".png")
	n, err := strconv.Atoi(digits)
	return n, err == nil && n >= 1 && Name(n) == name
}

// temporaryNumber tells which frame a temporary name was for.
func temporaryNumber(name string) (int, bool) {
	name, ok := strings.CutSuffix(name, temporaryEnd)
	if !ok || !strings.HasPrefix(name, ".") {
		return 0, false
	}
	return number(name[1:])
}

// ours tells whether a name is one that only this package makes.
func ours(name string) bool {
	_, frame := temporaryNumber(name)
	return frame || name == temporary(RecordName) || strings.HasPrefix(name, lockName)
}

// incidental tells whether a name is one that desktops, version control and file systems leave in folders.
func incidental(name string) bool {
	switch name {
	case "lost+found", "Thumbs.db", "desktop.ini":
		return true
	}
	return strings.HasPrefix(name, ".")
}

// path is a file in the folder.
func (o *Options) path(name string) string { return filepath.Join(o.Folder, name) }

// span is a run of frames, inclusive.
type span struct{ first, last int }

func (s span) String() string {
	if s.first == s.last {
		return strconv.Itoa(s.first)
	}
	return fmt.Sprintf("%d-%d", s.first, s.last)
}

func (s span) overlaps(t span) bool { return s.first <= t.last && t.first <= s.last }

func (s span) holds(n int) bool { return s.first <= n && n <= s.last }

// parseSpan reads what String writes.
func parseSpan(text string) (span, bool) {
	low, high, more := strings.Cut(text, "-")
	if !more {
		high = low
	}
	first, err := strconv.Atoi(low)
	last, err2 := strconv.Atoi(high)
	s := span{first, last}
	return s, err == nil && err2 == nil && first >= 1 && last >= first && s.String() == text
}

// spans are the runs of frames from 1 for which want holds.
func spans(count int, want func(n int) bool) []span {
	var all []span
	for n := 1; n <= count; n++ {
		if !want(n) {
			continue
		}
		if last := len(all) - 1; last >= 0 && all[last].last == n-1 {
			all[last].last = n
		} else {
			all = append(all, span{n, n})
		}
	}
	return all
}
