// Package chart draws what each column will do: its envelope, what counts as its top and its rest, and the levels that
// come of it, over the song's time, below the song's waveform. The same drawing is written as SVG or as PNG.
//
// Amplitudes are RMS on a straight scale from silence upward, since heights follow amplitude. Where several frames share
// a dot the drawing keeps the least and the greatest, so that no peak is lost.
package chart

import (
	"fmt"
	"math"
	"strings"

	"colonnade/analyze/envelope"
	"colonnade/analyze/levels"
	"colonnade/analyze/timing"
)

// Column is one row of the chart. Envelope and Levels have one entry a frame.
type Column struct {
	Name      string
	Follows   envelope.Part
	Envelope  []float64      // RMS amplitude
	Top, Rest float64        // RMS amplitudes at which the column reaches its top and its bottom level
	Levels    []levels.Level // shown
	Lowest    int            // level
	Highest   int            // level
}

// Chart is the whole drawing.
type Chart struct {
	Title    string
	Rate     timing.Rate
	First    int // number of the first frame
	Frames   int
	Columns  []Column
	Waveform *Waveform // nil: none is drawn
}

// Sizes in dots.
const (
	gutter     = 190 // names on the left
	plotWidth  = 1200
	margin     = 24
	titleTall  = 40
	waveTall   = 70
	rowTall    = 96
	rowGap     = 14
	axisTall   = 40
	letterTall = 13
)

// Colours: warm ink on paper, ochre for sound, slate for stones. They differ in lightness too, so that a print in greys
// reads as well.
const (
	paper    = "#fbf8f3"
	ink      = "#2e2a26"
	faint    = "#cfc6b8"
	sound    = "#dfb86c"
	stone    = "#3d5a66"
	topLine  = "#a3472f"
	restLine = "#8a8175"
)

// point is a place in dots, y down.
type point struct{ x, y float64 }

// canvas is what a drawing is made on.
type canvas interface {
	fill(points []point, colour string)
	stroke(points []point, colour string, width float64, dashed bool)
	// text is written from at, to its right, its left ("end") or on both sides ("middle").
	text(at point, anchor, colour string, size float64, text string)
}

func (c *Chart) height() float64 {
	wave := 0.0
	if c.Waveform != nil {
		wave = waveTall + rowGap
	}
	return margin + titleTall + wave + float64(len(c.Columns))*(rowTall+rowGap) + axisTall + margin
}

func width() float64 { return margin + gutter + plotWidth + margin }

// seconds the chart begins and ends at.
func (c *Chart) span() (from, to float64) {
	return c.Rate.Start(c.First), c.Rate.Start(c.First + c.Frames)
}

// x is where a time stands.
func (c *Chart) x(seconds float64) float64 {
	from, to := c.span()
	return margin + gutter + plotWidth*(seconds-from)/(to-from)
}

// draw puts everything on a canvas.
func (c *Chart) draw(on canvas) {
	on.fill([]point{{0, 0}, {width(), 0}, {width(), c.height()}, {0, c.height()}}, paper)
	on.text(point{margin, margin + 18}, "start", ink, 18, c.Title)
	on.text(point{width() - margin, margin + 18}, "end", ink, letterTall, "RMS amplitude; full-scale sine 0.707 (-3.0 dB)")
	y := float64(margin + titleTall)
	bottom := c.height() - margin - axisTall
	c.axis(on, y, bottom)
	if c.Waveform != nil {
		c.wave(on, y)
		y += waveTall + rowGap
	}
	for _, column := range c.Columns {
		c.row(on, column, y)
		y += rowTall + rowGap
	}
}

// axisSteps are distances between time marks, in seconds.
var axisSteps = []float64{0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 1200, 3600}

// axis draws the marks of time through all rows, about every hundred dots.
func (c *Chart) axis(on canvas, top, bottom float64) {
	from, to := c.span()
	step := axisSteps[len(axisSteps)-1]
	for _, s := range axisSteps {
		if s*plotWidth/(to-from) >= 80 {
			step = s
			break
		}
	}
	for i := math.Ceil(from/step - 1e-9); i*step <= to+1e-9; i++ {
		x := c.x(i * step)
		on.stroke([]point{{x, top}, {x, bottom + 4}}, faint, 1, false)
		on.text(point{x, bottom + 20}, "middle", ink, letterTall, minutes(i*step, step))
	}
}

// minutes writes a time as minutes and seconds, with a decimal where the marks are closer than a second.
func minutes(seconds, step float64) string {
	tenths := int(math.Round(seconds * 10))
	text := fmt.Sprintf("%d:%02d", tenths/600, tenths/10%60)
	if step < 1 {
		text += fmt.Sprintf(".%d", tenths%10)
	}
	return text
}

func (c *Chart) wave(on canvas, y float64) {
	on.text(point{margin, y + waveTall/2 + 5}, "start", ink, letterTall, "song")
	from, to := c.span()
	middle := y + waveTall/2
	var above, below []point
	for dot := range plotWidth {
		low, high := c.Waveform.between(from+(to-from)*float64(dot)/plotWidth, from+(to-from)*float64(dot+1)/plotWidth)
		x := margin + gutter + float64(dot) + 0.5
		above = append(above, point{x, middle - float64(high)*waveTall/2 - 0.5})
		below = append(below, point{x, middle - float64(low)*waveTall/2 + 0.5})
	}
	for i := range below {
		above = append(above, below[len(below)-1-i])
	}
	on.fill(above, sound)
}

// row draws one column.
func (c *Chart) row(on canvas, column Column, y float64) {
	label := column.Name
	if runes := []rune(label); len(runes) > 24 {
		label = string(runes[:23]) + "…"
	}
	on.text(point{margin, y + 34}, "start", ink, 15, label)
	kind := ""
	if column.Follows.Onset {
		kind = ", onsets"
	}
	on.text(point{margin, y + 54}, "start", ink, letterTall, follows(column.Follows)+kind)
	on.text(point{margin, y + 72}, "start", stone, letterTall, fmt.Sprintf("levels %d to %d", column.Lowest, column.Highest))

	loudest := column.Top
	for _, e := range column.Envelope {
		loudest = max(loudest, e)
	}
	if loudest <= 0 {
		loudest = 1
	}
	base := y + rowTall
	at := func(amplitude float64) float64 { return base - (rowTall-4)*amplitude/loudest }
	left, right := float64(margin+gutter), float64(margin+gutter+plotWidth)

	area := []point{{left, base}}
	for _, run := range c.dots(func(frame int) float64 { return column.Envelope[frame] }) {
		area = append(area, point{run.from, at(run.high)}, point{run.to, at(run.high)})
	}
	on.fill(append(area, point{right, base}), sound)
	on.stroke([]point{{left, base}, {right, base}}, ink, 1, false)
	if column.Top > 0 {
		on.stroke([]point{{left, at(column.Top)}, {right, at(column.Top)}}, topLine, 1, true)
		on.stroke([]point{{left, at(column.Rest)}, {right, at(column.Rest)}}, restLine, 1, true)
		on.text(point{left - 6, at(column.Top) + 4}, "end", topLine, 11, "top "+decibels(column.Top))
		if at(column.Rest)-at(column.Top) > 24 {
			on.text(point{left - 6, min(at(column.Rest)+4, base)}, "end", restLine, 11, "rest "+decibels(column.Rest))
		}
	}

	// The levels share the scale: the lowest stands at rest, the highest at the top, or the row's where there is no sound.
	top, rest := column.Top, column.Rest
	if top <= 0 {
		top, rest = loudest, 0
	}
	lowest, highest := float64(column.Lowest), float64(column.Highest)
	for _, level := range column.Levels { // one set by hand may lie outside
		v := float64(level) / float64(levels.One)
		lowest, highest = min(lowest, v), max(highest, v)
	}
	levelAt := func(level float64) float64 {
		return at(rest + (top-rest)*(level-lowest)/max(highest-lowest, 1))
	}
	var steps []point
	for _, run := range c.dots(func(frame int) float64 { return float64(column.Levels[frame]) / float64(levels.One) }) {
		steps = append(steps, point{run.from, levelAt(run.first)})
		if run.low != run.high {
			steps = append(steps, point{run.from, levelAt(run.low)}, point{run.from, levelAt(run.high)})
		}
		steps = append(steps, point{run.from, levelAt(run.last)}, point{run.to, levelAt(run.last)})
	}
	on.stroke(steps, stone, 1.5, false)
}

// run is what the frames behind one dot, or the dots of one frame, hold.
type run struct {
	from, to               float64 // dots
	first, last, low, high float64
}

// dots gathers a value a frame: a run for each frame when frames are wider than a dot, else a run for each dot.
func (c *Chart) dots(value func(frame int) float64) []run {
	var runs []run
	perDot := float64(c.Frames) / plotWidth
	left := float64(margin + gutter)
	for i := range c.Frames {
		v := value(i)
		from := left + math.Floor(float64(i)/math.Max(perDot, 1))*math.Max(1/perDot, 1)
		if len(runs) == 0 || from != runs[len(runs)-1].from {
			runs = append(runs, run{from: from, first: v, low: v, high: v})
		}
		r := &runs[len(runs)-1]
		r.last, r.low, r.high = v, min(r.low, v), max(r.high, v)
	}
	for i := range runs {
		runs[i].to = left + plotWidth
		if i+1 < len(runs) {
			runs[i].to = runs[i+1].from
		}
	}
	return runs
}

// follows names the band and the channel of a part.
func follows(part envelope.Part) string {
	band := hertz(part.Band.LowHz) + " to " + hertz(part.Band.HighHz)
	if part.Band.IsEverything() {
		band = "whole song"
	}
	switch part.Channel {
	case envelope.Left:
		band += ", left"
	case envelope.Right:
		band += ", right"
	}
	return band
}

func hertz(v float64) string {
	if v >= 1000 {
		return strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%.2f", v/1000), "0"), ".") + " kHz"
	}
	return fmt.Sprintf("%g Hz", math.Round(v*10)/10)
}

// decibels is 20 log10 of an RMS amplitude.
func decibels(amplitude float64) string {
	if amplitude <= 0 {
		return "silence"
	}
	return fmt.Sprintf("%.1f dB", 20*math.Log10(amplitude))
}

// description tells in words what the drawing shows.
func (c *Chart) description() string {
	from, to := c.span()
	var b strings.Builder
	fmt.Fprintf(&b, "%s, from %s to %s.", c.Title, minutes(from, 0.1), minutes(to, 0.1))
	for _, column := range c.Columns {
		lowest, highest, sum := math.Inf(1), 0.0, 0.0
		for _, l := range column.Levels {
			v := float64(l) / float64(levels.One)
			lowest, highest, sum = min(lowest, v), max(highest, v), sum+v
		}
		if len(column.Levels) == 0 {
			continue
		}
		part := follows(column.Follows)
		if column.Follows.Onset {
			part = "onsets of " + part
		}
		fmt.Fprintf(&b, " %s, %s: levels %g to %g, %.1f on average; top at %s.", column.Name, part,
			lowest, highest, sum/float64(len(column.Levels)), decibels(column.Top))
	}
	return b.String()
}
