// Package sheet draws the contact sheet of a checked photo set: each photo with its regions and faults, curves of
// light and shift over the levels, and the faults in words.
package sheet

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"math"
	"path/filepath"
	"strings"

	"colonnade/analyze/pen"
	"colonnade/analyze/shoot"
)

// Measures of the sheet, in pixels.
const (
	border     = 24
	gap        = 18
	sheetWidth = 1600
	fewestWide = 360 // the least width of a photo, where the sheet has room for several
	chartTall  = 200
	lineTall   = 18
	mostLines  = 60 // of findings; what is more is counted
)

var (
	paper  = color.NRGBA{250, 250, 248, 255}
	ink    = color.NRGBA{32, 34, 38, 255}
	pale   = color.NRGBA{150, 152, 156, 255}
	good   = color.NRGBA{70, 190, 255, 255}
	bad    = color.NRGBA{230, 30, 40, 255}
	second = color.NRGBA{200, 120, 0, 255}
	band   = color.NRGBA{232, 240, 232, 255}
)

// Draw makes the sheet. title is the column file or the folder.
func Draw(title string, set shoot.Set, report *shoot.Report) (*image.RGBA, error) {
	letters, err := pen.Letters(letterSize)
	if err != nil {
		return nil, err
	}
	s := &canvas{letters: letters}
	grid := layOut(len(report.Photos), set.Base.Size())
	words := findings(s, report, sheetWidth-2*border)
	height := border + 2*lineTall + grid.tall + gap + chartTall + gap + lineTall*len(words) + border
	s.img = image.NewRGBA(image.Rect(0, 0, sheetWidth, height))
	draw.Draw(s.img, s.img.Rect, image.NewUniform(paper), image.Point{}, draw.Src)
	y := border + lineTall
	s.text(border, y, title, ink)
	y += lineTall
	for level := range report.Photos {
		at := grid.place(level).Add(image.Pt(border, y))
		s.photo(at, level, set, report)
	}
	y += grid.tall + gap
	half := (sheetWidth - 2*border - gap) / 2
	s.charts(image.Rect(border, y, border+half, y+chartTall), image.Rect(border+half+gap, y, sheetWidth-border, y+chartTall), set, report)
	y += chartTall + gap
	for _, line := range words {
		y += lineTall
		s.text(border, y, line.text, line.colour)
	}
	return s.img, nil
}

// grid is where the photos lie: each a picture with two lines of words below.
type grid struct {
	across, wide, high, tall int
}

func layOut(count int, photo image.Point) grid {
	room := sheetWidth - 2*border
	across := min(count, (room+gap)/(fewestWide+gap))
	wide := min((room-gap*(across-1))/across, 480)
	high := max(int(math.Round(float64(wide)*float64(photo.Y)/float64(photo.X))), 1)
	if high > 2*wide { // a very tall photo
		wide, high = max(2*wide*wide/high, 1), 2*wide
	}
	rows := (count + across - 1) / across
	return grid{across, wide, high, rows * (high + 2*lineTall + gap)}
}

func (g grid) place(i int) image.Rectangle {
	x, y := i%g.across*(g.wide+gap), i/g.across*(g.high+2*lineTall+gap)
	return image.Rect(x, y, x+g.wide, y+g.high)
}

// photo draws one photo with what is known of it.
func (s *canvas) photo(at image.Rectangle, level int, set shoot.Set, report *shoot.Report) {
	s.picture(at, set.Shots[level].Thumbnail())
	size := set.Base.Size()
	toSheet := func(x, y float64) (float64, float64) {
		return float64(at.Min.X) + x*float64(at.Dx())/float64(size.X), float64(at.Min.Y) + y*float64(at.Dy())/float64(size.Y)
	}
	for c, column := range set.Base.Columns() {
		state := report.Columns[c].Levels[level]
		colour, width := good, 1.5
		if state.Fault {
			colour, width = bad, 3
		}
		n := len(column.Region)
		left, bottom := math.Inf(1), math.Inf(-1)
		for i, a := range column.Region {
			b := column.Region[(i+1)%n]
			x0, y0 := toSheet(a.X, a.Y)
			x1, y1 := toSheet(b.X, b.Y)
			s.line(x0, y0, x1, y1, width, colour, at)
			left, bottom = min(left, x0), max(bottom, y0)
		}
		s.label(max(int(left), at.Min.X)+3, min(int(bottom), at.Max.Y)-5, column.Name, at) // at the foot, where no object is
		if state.SeamSeen {
			x, y := toSheet(float64(state.SeamAt[0]), float64(state.SeamAt[1]))
			s.ring(x, y, 9, 3, bad, at)
		}
	}
	photo := report.Photos[level]
	colour := pale
	if photo.Faulty {
		colour = bad
	}
	s.frame(at, colour, map[bool]float64{false: 1, true: 4}[photo.Faulty])
	m := photo.Measure
	s.text(at.Min.X, at.Max.Y+lineTall-3, fmt.Sprintf("%d  %s", level, filepath.Base(photo.Name)), ink)
	s.text(at.Min.X, at.Max.Y+2*lineTall-3, fmt.Sprintf("light %s  shift %s %s  sharp %.0f %%  noise %.1f",
		shoot.Signed(m.Light, 3), shoot.Signed(m.Shift[0], 2), shoot.Signed(m.Shift[1], 2), 100*m.Sharpness, m.Noise), pale)
}

// line is a line of words.
type line struct {
	text   string
	colour color.NRGBA
}

// findings are the faults and notes, wrapped to the sheet's width.
func findings(s *canvas, report *shoot.Report, width int) (lines []line) {
	if len(report.Faults) == 0 {
		lines = append(lines, line{"no fault that would show", ink})
	}
	add := func(list []shoot.Finding, mark string, colour color.NRGBA) {
		for _, f := range list {
			for i, text := range s.wrap(mark+f.String(), width) {
				if i > 0 {
					text = "      " + text
				}
				lines = append(lines, line{text, colour})
			}
		}
	}
	add(report.Faults, "", bad)
	add(report.Notes, "note: ", ink)
	if len(lines) > mostLines {
		more := len(lines) - mostLines
		lines = append(lines[:mostLines], line{fmt.Sprintf("and %d lines more: see colonnade check without --sheet", more), ink})
	}
	return lines
}

// wrap breaks a text between words.
func (s *canvas) wrap(text string, width int) (lines []string) {
	now := ""
	for _, word := range strings.Fields(text) {
		if next := strings.TrimSpace(now + " " + word); now == "" || s.wide(next) <= width-40 {
			now = next
			continue
		}
		lines = append(lines, now)
		now = word
	}
	return append(lines, now)
}
