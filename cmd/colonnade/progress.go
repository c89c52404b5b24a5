package main

import (
	"fmt"
	"io"
	"os"
	"strings"
	"sync"
	"time"

	"golang.org/x/term"

	"colonnade/analyze/flash"
	"colonnade/compose/photos"
	"colonnade/compose/sequence"
)

// A log of plain lines says much while one may still be looking on, and stays readable in the morning: the time between
// two lines is a tenth of what has passed, within these.
const (
	plainEvery   = 30 * time.Second
	plainSeldom  = 10 * time.Minute
	plainShare   = 10
	jsonEvery    = time.Second
	lookAround   = time.Second // an error that is found within this stands alone
	dateAndTime  = "2006-01-02 15:04:05"
	hourOfTheDay = "15:04"
)

// progress shows how far a render is: a line that redraws itself on a terminal, a dated line now and then elsewhere,
// or JSON lines.
type progress struct {
	kind   string // "bar", "plain", "json", "none"
	w      io.Writer
	width  int
	now    func() time.Time
	begun  time.Time
	last   time.Time // of the latest line
	work   *work     // what is still to be said at the beginning; nil once it is
	active bool      // a bar stands on the terminal
	told   bool      // it was said what is to be done
	quiet  bool      // nothing is told until it is known whether it can be done

	mutex sync.Mutex
	state sequence.Progress // the latest
}

// work is what a render sets out to do.
type work struct {
	frames        span
	width, height int
	rate          string // as a ratio
	folder        string // "" for a stream
}

func newProgress(kind string, w io.Writer) *progress {
	p := &progress{kind: kind, w: w, now: time.Now, begun: time.Now(), last: time.Now()}
	if w == io.Discard {
		p.kind = "none"
	}
	if p.kind == "auto" {
		p.kind = "plain"
		if file, ok := w.(*os.File); ok && onTerminal(file) && redraws(file) {
			p.kind = "bar"
			if p.width, _, _ = term.GetSize(int(file.Fd())); p.width < 20 {
				p.width = 80
			}
		}
	}
	return p
}

// onTerminal is whether what is written goes to a terminal.
func onTerminal(w io.Writer) bool {
	if to, ok := w.(*results); ok {
		w = to.Writer
	}
	file, ok := w.(*os.File)
	return ok && term.IsTerminal(int(file.Fd()))
}

// start takes in what is to be done. Time counts from here: what went before, such as decoding photos, may have been long.
func (p *progress) start(w *work) {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	p.work, p.begun = w, p.now()
}

// quietly does what may turn out not to be possible, which then stands alone.
func (p *progress) quietly(do func() error) error {
	hush := func(quiet bool) {
		p.mutex.Lock()
		defer p.mutex.Unlock()
		p.quiet = quiet
		if !p.told {
			p.begun = p.now()
		}
	}
	hush(true)
	defer hush(false)
	return do()
}

func (p *progress) update(s sequence.Progress) {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	p.state = s
	if p.quiet {
		return
	}
	now := p.now()
	if s.Done > 0 || now.Sub(p.begun) >= lookAround {
		p.begin()
	}
	switch p.kind {
	case "bar":
		p.bar(s)
	case "plain":
		every := min(max(now.Sub(p.begun)/plainShare, plainEvery), plainSeldom)
		if now.Sub(p.last) >= every && s.Done < s.Total {
			p.last = now
			p.dated(p.plain(s))
		}
	case "json":
		if p.work == nil && (now.Sub(p.last) >= jsonEvery || s.Done == s.Total) { // what is to be done comes first
			p.last = now
			p.progressLine(s)
		}
	}
}

// begin says what is to be done, once.
func (p *progress) begin() {
	if p.work == nil {
		return
	}
	w := p.work
	p.work, p.told = nil, true
	switch p.kind {
	case "plain":
		to := "into " + photos.Quote(w.folder)
		if w.folder == "" {
			to = "as a stream"
		}
		p.dated(fmt.Sprintf("frames %d to %d, %d x %d, %s a second, %s; colonnade %s", w.frames.first, w.frames.last, w.width, w.height, strings.TrimSuffix(w.rate, "/1"), to, Version))
	case "json":
		p.line(map[string]any{"type": "start", "time": p.now().Format(time.RFC3339), "version": Version, "folder": w.folder,
			"first": w.frames.first, "last": w.frames.last, "width": w.width, "height": w.height, "fps": w.rate})
	}
}

// dated prints a line with the time at its head.
func (p *progress) dated(text string) {
	fmt.Fprintf(p.w, "%s  %s\n", p.now().Format(dateAndTime), text)
}

// notes prints what was noticed on the way.
func (p *progress) notes(notes []string) {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	p.tell(notes)
}

func (p *progress) tell(notes []string) {
	if p.kind == "json" {
		for _, note := range notes {
			p.line(map[string]any{"type": "note", "text": note})
		}
		return
	}
	if p.active && len(notes) > 0 {
		fmt.Fprint(p.w, "\r\x1b[K")
	}
	tell(p.w, notes)
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
	p.tell(flash.Notes(warnings))
}

// report says where the work stands, whatever kind of progress is shown.
func (p *progress) report() {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	if p.kind == "json" {
		p.progressLine(p.state)
		return
	}
	if p.kind == "plain" {
		p.dated(p.plain(p.state))
		return
	}
	if p.active {
		fmt.Fprint(p.w, "\r\x1b[K")
	}
	fmt.Fprintln(os.Stderr, p.plain(p.state))
}

// words is where other things are said beside the progress: JSON lines stand alone.
func (p *progress) words() io.Writer {
	if p.kind == "json" {
		return io.Discard
	}
	return p.w
}

// plain is one line on where the work stands.
func (p *progress) plain(s sequence.Progress) string {
	text := fmt.Sprintf("frame %d/%d, %d written, %d kept, %d repeated, ", s.Done, s.Total, s.Written, s.Kept, s.Repeated)
	if s.FramesPerSecond == 0 {
		if s.Stage != "" {
			return text + s.Stage
		}
		return text + "no speed yet"
	}
	return text + fmt.Sprintf("%.1f frames/s, %s left, done about %s", s.FramesPerSecond, left(s), p.now().Add(s.Left).Format(hourOfTheDay))
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

// end clears the bar, and says when the work ended and what was done. join is the command that makes a video of the
// frames, "" where the work failed.
func (p *progress) end(s sequence.Summary, join string) {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	if p.active {
		fmt.Fprint(p.w, "\r\x1b[K")
	}
	switch {
	case p.kind == "plain" && p.told:
		word := "done"
		if join == "" {
			word = "ended early"
		}
		p.dated(fmt.Sprintf("%s: frame %d/%d after %s", word, p.state.Done, p.state.Total, took(s.Seconds)))
	case p.kind == "json":
		fields := map[string]any{"type": "summary", "time": p.now().Format(time.RFC3339), "written": s.Written, "kept": s.Kept, "repeated": s.Repeated, "removed": s.Removed,
			"bytes": s.Bytes, "seconds": s.Seconds, "link_would_save": s.LinkWouldSave}
		if join != "" {
			fields["encoder"] = join
		}
		p.line(fields)
	}
}

func (p *progress) progressLine(s sequence.Progress) {
	fields := map[string]any{"type": "progress", "stage": s.Stage, "done": s.Done, "total": s.Total, "written": s.Written, "kept": s.Kept, "repeated": s.Repeated,
		"bytes": s.Bytes, "frames_per_second": s.FramesPerSecond, "seconds_left": nil}
	if s.FramesPerSecond > 0 {
		fields["seconds_left"] = s.Left.Seconds()
	}
	p.line(fields)
}

func (p *progress) line(v map[string]any) {
	text, err := encodeJSON(v, "")
	if err == nil { // numbers and words alone: it always is
		p.w.Write(text)
	}
}

func left(s sequence.Progress) string {
	if s.FramesPerSecond == 0 {
		return "?"
	}
	return s.Left.Round(time.Second).String()
}

// took is how long something took, for people: tenths of a second matter only below a minute.
func took(seconds float64) string {
	if seconds < 60 {
		return fmt.Sprintf("%.1f s", seconds)
	}
	return time.Duration(seconds * float64(time.Second)).Round(time.Second).String()
}
