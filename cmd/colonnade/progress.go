package main

import (
	"encoding/json"
	"fmt"
	"io"
	"os"
	"strings"
	"sync"
	"time"

	"golang.org/x/term"

	"colonnade/analyze/flash"
	"colonnade/compose/sequence"
)

// plainEvery is the time between two lines of plain progress: a night's log stays readable.
const plainEvery = 30 * time.Second

// progress shows how far a render is: a line that redraws itself on a terminal, a line now and then elsewhere,
// or JSON lines.
type progress struct {
	kind   string // "bar", "plain", "json", "none"
	w      io.Writer
	width  int
	last   time.Time
	active bool // a bar stands on the terminal

	mutex sync.Mutex
	state sequence.Progress // the latest
}

func newProgress(kind string, w io.Writer) *progress {
	p := &progress{kind: kind, w: w, last: time.Now()}
	if w == io.Discard {
		p.kind = "none"
	}
	if p.kind == "auto" {
		p.kind = "plain"
		if file, ok := w.(*os.File); ok && term.IsTerminal(int(file.Fd())) && redraws(file) {
			p.kind = "bar"
			if p.width, _, _ = term.GetSize(int(file.Fd())); p.width < 20 {
				p.width = 80
			}
		}
	}
	return p
}

func (p *progress) update(s sequence.Progress) {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	p.state = s
	switch p.kind {
	case "bar":
		p.bar(s)
	case "plain":
		if time.Since(p.last) >= plainEvery && s.Done < s.Total {
			p.last = time.Now()
			fmt.Fprintln(p.w, plain(s))
		}
	case "json":
		if time.Since(p.last) >= time.Second || s.Done == s.Total {
			p.last = time.Now()
			p.line(map[string]any{"type": "progress", "done": s.Done, "total": s.Total, "written": s.Written, "kept": s.Kept, "repeated": s.Repeated,
				"bytes": s.Bytes, "frames_per_second": s.FramesPerSecond, "seconds_left": s.Left.Seconds()})
		}
	}
}

// flashing prints warnings of flashing between two looks at the progress.
func (p *progress) flashing(warnings []flash.Warning) {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	if p.kind == "json" {
		for _, warning := range warnings {
			p.line(map[string]any{"type": "flashing", "warning": warning})
		}
		return
	}
	if p.active && len(warnings) > 0 {
		fmt.Fprint(p.w, "\r\x1b[K")
	}
	tell(p.w, flash.Notes(warnings))
}

// report says where the work stands, whatever kind of progress is shown.
func (p *progress) report() {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	if p.active {
		fmt.Fprint(p.w, "\r\x1b[K")
	}
	fmt.Fprintln(os.Stderr, plain(p.state))
}

func plain(s sequence.Progress) string {
	return fmt.Sprintf("frame %d/%d, %d written, %d kept, %d repeated, %.1f frames/s, %s left", s.Done, s.Total, s.Written, s.Kept, s.Repeated, s.FramesPerSecond, left(s))
}

func (p *progress) bar(s sequence.Progress) {
	words := fmt.Sprintf(" %d/%d  %.0f frames/s  %s left", s.Done, s.Total, s.FramesPerSecond, left(s))
	room := max(p.width-len(words)-1, 0)
	filled := 0
	if s.Total > 0 {
		filled = room * s.Done / s.Total
	}
	line := strings.Repeat("=", filled) + strings.Repeat(" ", room-filled) + words
	fmt.Fprintf(p.w, "\r%.*s\x1b[K", max(p.width-1, 1), line)
	p.active = true
}

// end clears the bar, or says in JSON what was done.
func (p *progress) end(s sequence.Summary) {
	if p.active {
		fmt.Fprint(p.w, "\r\x1b[K")
	}
	if p.kind == "json" {
		p.line(map[string]any{"type": "summary", "written": s.Written, "kept": s.Kept, "repeated": s.Repeated, "removed": s.Removed,
			"bytes": s.Bytes, "seconds": s.Seconds, "link_would_save": s.LinkWouldSave})
	}
}

func (p *progress) line(v map[string]any) {
	text, err := json.Marshal(v)
	if err == nil { // numbers and words alone: it always is
		fmt.Fprintf(p.w, "%s\n", text)
	}
}

func left(s sequence.Progress) string {
	if s.FramesPerSecond == 0 {
		return "?"
	}
	return s.Left.Round(time.Second).String()
}

// shellQuote puts a name in single quotes where a shell would read more than a name in it.
func shellQuote(name string) string {
	for _, r := range name {
		plain := r == '/' || r == '.' || r == '_' || r == '-' || r == '%' || r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z'
		if !plain {
			return "'" + strings.ReplaceAll(name, "'", `'\''`) + "'"
		}
	}
	return name
}
