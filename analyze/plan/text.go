package plan

import (
	"fmt"
	"io"
	"math"
	"strings"
)

// line is a figure with what it rests on; its fields are what the page's template sees.
type line struct{ Name, Value, Note string }

// lines are the plan's figures for people.
func (s *Shoot) lines() []line {
	all := []line{
		{"photos", fmt.Sprint(s.Photos()), "the empty stage, and one for each row of objects"},
		{"objects", fmt.Sprint(s.Total()), s.each()},
	}
	if s.Frames > 0 {
		what := "of " + s.Song
		if s.Song == "" {
			what = "of song"
		}
		all = append(all, line{"frames", fmt.Sprint(s.Frames), fmt.Sprintf("%s %s at %s a second, %d x %d pixels", minutes(s.Seconds), what, s.Rate, s.Size.X, s.Size.Y)})
		smooth, usual, rough := s.Storage()
		fast, slow := s.RenderTime()
		all = append(all,
			line{"storage", "about " + bytes(usual), fmt.Sprintf("assuming %g bytes a pixel; %s for smooth pictures, %s for grainy ones; hard links for frames that repeat save more than half", usualBytes, bytes(smooth), bytes(rough))},
			line{"render", "about " + duration(fast), fmt.Sprintf("assuming a disk that takes %.0f MB a second, which is what it waits for; %s at %.0f MB a second", diskRate/1e6, duration(slow), slowDiskRate/1e6)})
	} else {
		all = append(all, line{"frames", "unknown", "give --song FILE or --length TIME to learn of frames, storage and render"})
	}
	noon, afternoon := s.Interval()
	return append(all, line{"interval", "at most " + duration(afternoon),
		fmt.Sprintf("from one exposure to the next, by daylight from a clear sky in mid-morning or mid-afternoon; %s around noon. All photos then lie within %.0f %% of light, about what an eye sees, by the sun's course alone; clouds and haze are quicker. By lamps any: warm them up for half an hour, and shut daylight out", duration(noon), 100*visibleStep)})
}

// each says how many objects each column needs.
func (s *Shoot) each() string {
	same := true
	words := make([]string, s.Columns())
	for i, n := range s.Objects {
		same = same && n == s.Objects[0]
		words[i] = fmt.Sprintf("%d for stack %d", n, i+1)
	}
	switch {
	case s.Columns() == 1:
		return "in one stack"
	case same:
		return fmt.Sprintf("%d for each of %d stacks", s.Objects[0], s.Columns())
	}
	return strings.Join(words, ", ")
}

// Write writes the plan as plain text, no line wider than a terminal where words allow it.
func (s *Shoot) Write(w io.Writer) error {
	var b strings.Builder
	for _, line := range s.lines() {
		wrap(&b, fmt.Sprintf("%-9s %-14s ", line.Name, line.Value), line.Note)
	}
	b.WriteString("\nBands, left to right (a suggestion; see the column file)\n")
	for i, band := range Bands(s.Columns()) {
		fmt.Fprintf(&b, "  stack %-3d %g-%g Hz%s\n", i+1, band.LowHz, band.HighHz, named(band))
	}
	b.WriteString("\nShot list, in this order\n")
	for _, shot := range s.Shots() {
		fmt.Fprintf(&b, "  [ ] %s  %s", shot.File, shot.Do)
		if shot.Level > 0 {
			fmt.Fprintf(&b, " (%d of %d objects stand)", shot.Standing, s.Total())
		}
		b.WriteByte('\n')
	}
	b.WriteString("\nLock on the camera\n")
	for _, line := range settings() {
		wrap(&b, "  [ ] ", line)
	}
	b.WriteString("\nCautions\n")
	for _, line := range cautions() {
		wrap(&b, "  - ", line)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// named is a band's name, to follow its edges, where it tells more than they do.
func named(band Band) string {
	if strings.HasSuffix(band.Name, "Hz") {
		return ""
	}
	return ", " + band.Name
}

// lineWidth is where lines of text break, in characters.
const lineWidth = 100

// wrap writes text behind a lead, broken between words and indented to the lead's width.
func wrap(b *strings.Builder, lead, text string) {
	indent := len([]rune(lead))
	b.WriteString(lead)
	at := indent
	for i, word := range strings.Fields(text) {
		length := len([]rune(word))
		switch {
		case i > 0 && at+1+length > lineWidth:
			b.WriteString("\n" + strings.Repeat(" ", indent))
			at = indent
		case i > 0:
			b.WriteByte(' ')
			at++
		}
		b.WriteString(word)
		at += length
	}
	b.WriteByte('\n')
}

// bytes is a size in units of 1000, as disks are sold, with two digits: more would claim too much.
func bytes(v float64) string {
	for _, unit := range []string{"B", "kB", "MB", "GB"} {
		if v < 1000 {
			return twoDigits(v) + " " + unit
		}
		v /= 1000
	}
	return twoDigits(v) + " TB"
}

func twoDigits(v float64) string {
	if v <= 0 {
		return "0"
	}
	unit := math.Pow(10, math.Floor(math.Log10(v))-1)
	return fmt.Sprintf("%.10g", math.Round(v/unit)*unit)
}

// duration is a length of time in words, with two digits or so.
func duration(seconds float64) string {
	switch {
	case seconds < 100:
		return fmt.Sprintf("%.0f s", math.Max(1, math.Round(seconds)))
	case seconds < 100*60:
		return fmt.Sprintf("%.0f min", seconds/60)
	default:
		return fmt.Sprintf("%.1f hours", seconds/3600)
	}
}

// minutes is a length of song, as a player shows it.
func minutes(seconds float64) string {
	whole := int64(math.Round(seconds))
	if whole >= 3600 {
		return fmt.Sprintf("%d:%02d:%02d", whole/3600, whole/60%60, whole%60)
	}
	return fmt.Sprintf("%d:%02d", whole/60, whole%60)
}
