package shoot

import (
	"fmt"
	"slices"
	"strings"
)

// columns judges the columns, level by level, in the order that fits.
func (j *judge) columns() {
	for c, column := range j.Base.columns {
		report := ColumnReport{Name: column.Name}
		for _, s := range j.Shots {
			seam := s.seams[c]
			report.Levels = append(report.Levels, LevelReport{Seam: seam.steps, SeamAsIs: seam.asIs, SeamAt: [2]int{seam.x, seam.y}, SeamSeen: seam.seen, Grows: true, Still: true})
		}
		if len(j.steps) > 0 {
			steps := j.steps[c]
			j.quietShadows(c, steps)
			j.growth(c, column, steps, &report)
			j.moves(column, steps, &report)
		}
		j.edges(c, column, &report)
		for _, o := range j.Base.overlaps {
			if o.column == c {
				report.Overlap = max(report.Overlap, o.share)
			}
		}
		j.report.Columns = append(j.report.Columns, report)
	}
	if len(j.steps) > 0 {
		j.missing(j.steps)
	}
	j.neighbours()
}

// at names a column in a photo.
func (j *judge) at(column Column, e entry) string {
	return fmt.Sprintf("%s, column %q", j.Names[e.level], column.Name)
}

// shown are the places in line, from 1, whose level a column shows.
func (j *judge) shown(column Column) int {
	n := 0
	for n+1 < len(j.line) && j.line[n+1].place <= column.Top {
		n++
	}
	return n
}

// quietShadows takes back that something is gone where a shadow, or a hand, reached over the column's edge at the level before: it
// is named there. What stood before that as well is gone.
func (j *judge) quietShadows(c int, steps []levelStep) {
	for k := 2; k < len(j.line); k++ {
		if s := &steps[k-1]; s.Shrunk && !s.Fell && j.line[k-1].seams[c].seen {
			s.Shrunk = false
		}
	}
}

func (j *judge) growth(c int, column Column, steps []levelStep, report *ColumnReport) {
	shown, highest := j.shown(column), 0 // the last place at which something new is there
	for k := 1; k <= shown; k++ {
		if steps[k-1].Grows {
			highest = k
		}
	}
	if shown > 0 && highest == 0 {
		report.Levels[0].Fault = true
		j.fault(j.Places[c], fmt.Sprintf("nothing changes in the region of %q at any level", column.Name), "move the region over its stack")
		return
	}
	for k := 1; k <= shown; k++ {
		s, e := steps[k-1], j.line[k]
		level := &report.Levels[e.level]
		level.Grows = s.Grows
		switch {
		case s.Shrunk && !j.spoilt[e.level] && !j.spoilt[j.line[k-1].level]:
			level.Fault, level.Grows = true, false
			j.fault(j.at(column, e), fmt.Sprintf("some of what stood at level %d is gone at level %d", j.line[k-1].place, e.place), "photograph it again with the whole stack, or take the photo out")
		case !s.Grows && k < highest:
			level.Fault = true
			j.fault(j.at(column, e), fmt.Sprintf("nothing new is there at level %d", e.place), "photograph it again with the object in place")
		case !s.Grows && k == highest+1:
			level.Fault = true
			j.fault(j.at(column, e), fmt.Sprintf("nothing new is there from level %d on", e.place),
				fmt.Sprintf("set top = %d for this column, or photograph on with the objects in place", j.line[highest].place))
		}
	}
}

func (j *judge) moves(column Column, steps []levelStep, report *ColumnReport) {
	shown := j.shown(column)
	for k := 2; k <= shown; k++ {
		s, before, e := steps[k-1], j.line[k-1], j.line[k]
		if !s.Moved || s.Shrunk || j.spoilt[e.level] || j.spoilt[before.level] {
			continue
		}
		// A small shadow that reaches over the column's edge, which is named, has an edge of its own.
		if c := len(j.report.Columns); s.Little && (e.seams[c].seen || before.seams[c].seen) {
			continue
		}
		level := &report.Levels[e.level]
		level.Still, level.Fault = false, true
		j.fault(j.at(column, e), fmt.Sprintf("what stood at level %d has moved by level %d, at %s", before.place, e.place, place(s.Where)),
			fmt.Sprintf("put it back as it was and photograph on from here, or set top = %d for this column", before.place))
	}
}

// edges judges what shows along a column's edge: one fault for the worst level, with the others named.
func (j *judge) edges(c int, column Column, report *ColumnReport) {
	var worst *entry
	var seen []int
	for i, e := range j.line {
		seam := e.seams[c]
		if !seam.seen || j.spoilt[e.level] || e.place > column.Top || e.Uneven >= visibleUneven {
			continue
		}
		seen = append(seen, e.place)
		report.Levels[e.level].Fault = true
		if worst == nil || seam.steps > worst.seams[c].steps {
			worst = &j.line[i]
		}
	}
	if worst == nil {
		return
	}
	seam := worst.seams[c]
	what := fmt.Sprintf("its edge would show at %s: an object, a shadow or a reflection reaches over it, a step of %.1f 8-bit steps at (%d, %d)", levels(seen), seam.steps, seam.x, seam.y)
	remedy := "widen the region there, so that its feather lies where nothing changes"
	for _, spill := range worst.spills {
		if slices.Contains(spill.columns, c) {
			what += fmt.Sprintf(", and goes on outside at %s", place(spill.area))
			remedy = "widen the region over it, or light the stack from elsewhere and photograph again"
			break
		}
	}
	j.fault(j.at(column, *worst), what, remedy)
}

// levels says a list of levels in words.
func levels(list []int) string {
	if len(list) == 1 {
		return fmt.Sprintf("level %d", list[0])
	}
	if list[len(list)-1]-list[0] == len(list)-1 {
		return fmt.Sprintf("levels %d to %d", list[0], list[len(list)-1])
	}
	var words []string
	for _, k := range list {
		words = append(words, fmt.Sprint(k))
	}
	return "levels " + strings.Join(words, ", ")
}

// place says a box in words.
func place(a area) string {
	return fmt.Sprintf("(%d, %d) to (%d, %d)", a.Min.X, a.Min.Y, a.Max.X, a.Max.Y)
}

// missing tells where the columns rise by two objects at once.
func (j *judge) missing(all [][]levelStep) {
	for k := 1; k < len(j.line); k++ {
		sum, n, low := 0.0, 0.0, 0
		limit := doubleRise
		if k == 1 {
			limit = doubleFirst
		}
		for c, steps := range all {
			if j.line[k].place > j.Base.columns[c].Top {
				continue
			}
			if ratio := j.riseRatio(steps, k); ratio > 0 {
				sum, n = sum+ratio, n+1
				if ratio < (1+limit)/2 {
					low++
				}
			}
		}
		// A missing photo shows in all columns: two thirds must have risen well, not one alone very far.
		if n == 0 || sum < limit*n || float64(3*low) > n {
			continue
		}
		name := j.Names[j.line[k].level]
		what := fmt.Sprintf("the columns rise %.1f times as far as at the levels beside it: a photo seems to be missing before it", sum/n)
		const remedy = "add the missing photo and number the photos anew"
		if n < 2 { // one large object looks the same
			j.note(name, what, remedy)
			continue
		}
		j.fault(name, what, remedy)
		j.report.Photos[j.line[k].level].Faulty = true
	}
}

// riseRatio is how many times as far a column rises to place k as to the places beside it, 0 where one of them does
// not tell. The rise to the first level holds the shadow on the ground, and is asked only where no other is beside.
func (j *judge) riseRatio(steps []levelStep, k int) float64 {
	beside := 0
	for _, other := range []int{k - 1, k + 1} {
		if other < 1 || other > len(steps) || other == 1 && k+1 <= len(steps) {
			continue
		}
		if !j.tells(steps, other) {
			return 0
		}
		beside = max(beside, steps[other-1].rise)
	}
	if beside == 0 || !j.tells(steps, k) {
		return 0
	}
	return float64(steps[k-1].rise) / float64(beside)
}

// tells is whether the rise to place k is that of one object, as far as is known.
func (j *judge) tells(steps []levelStep, k int) bool {
	before, here := j.line[k-1], j.line[k]
	return steps[k-1].Grows && steps[k-1].rise > 0 && here.place == before.place+1 && !j.spoilt[here.level] && !j.spoilt[before.level]
}

// neighbours tells where a column would show what stands in another.
func (j *judge) neighbours() {
	for _, o := range j.Base.overlaps {
		worst, at := ghost{}, -1
		for level, s := range j.Shots {
			if level > j.Base.columns[o.column].Top {
				break
			}
			for _, g := range s.ghosts {
				if g.column == o.column && g.other == o.other && g.steps > worst.steps {
					worst, at = g, level
				}
			}
		}
		names := [2]string{j.Base.columns[o.column].Name, j.Base.columns[o.other].Name}
		if at >= 0 {
			j.fault(j.Places[o.column], fmt.Sprintf("the feather of %q reaches what stands in %q: at level %d it would show there by %.1f 8-bit steps at (%d, %d)", names[0], names[1], at, worst.steps, worst.x, worst.y),
				fmt.Sprintf("make the region narrower or its feather smaller, %.0f %% of it lies in %q", 100*o.share, names[1]))
		} else if o.share >= notedOverlap {
			j.note(j.Places[o.column], fmt.Sprintf("the feather of %q takes up to %.0f %% of pixels in the region of %q", names[0], 100*o.share, names[1]), "keep three feathers between regions")
		}
	}
}

// notedOverlap is the share from which an overlap in which nothing stands is mentioned.
const notedOverlap = 0.05

// outside tells what changes outside all regions and touches none: the base plate is shown there.
func (j *judge) outside() {
	for level, s := range j.Shots {
		if j.spoilt[level] || s.Uneven >= visibleUneven {
			continue
		}
		for _, spill := range s.spills {
			told := false
			for _, c := range spill.columns {
				told = told || s.seams[c].seen
			}
			if !told {
				j.note(j.Names[level], fmt.Sprintf("something changes outside all regions, at %s, by %.1f 8-bit steps", place(spill.area), spill.steps),
					"look there; the video shows the base plate in its place")
				break // the largest will do
			}
		}
	}
}

// wholePhotos judges a set without columns: whether anything is new from photo to photo.
func (j *judge) wholePhotos() {
	fresh := make([]int, len(j.line))
	for k := 1; k < len(j.line); k++ {
		for _, v := range j.Base.changed(j.line[k-1].Shot, j.line[k].Shot) {
			fresh[k] += int(v)
		}
		if fresh[k] < leastGrown {
			level := j.line[k].level
			j.report.Photos[level].Faulty = true
			j.fault(j.Names[level], fmt.Sprintf("nothing is new in it against %s", j.Names[j.line[k-1].level]), "take it out, or photograph it again with the objects in place")
		}
	}
	for k := 1; k < len(fresh); k++ {
		beside, limit := 0, doubleRise
		if k == 1 {
			limit = doubleFirst
		}
		for _, other := range []int{k - 1, k + 1} {
			if other >= 1 && other < len(fresh) {
				beside = max(beside, fresh[other])
				if fresh[other] < leastGrown {
					beside = len(j.Base.still) // tells nothing
				}
			}
		}
		if beside > 0 && float64(fresh[k]) >= limit*float64(beside) && j.line[k].place == j.line[k-1].place+1 {
			j.note(j.Names[j.line[k].level], fmt.Sprintf("%.1f times as much is new in it as in the photos beside it: one may be missing before it", float64(fresh[k])/float64(beside)),
				"look whether each stack has grown by one object")
		}
	}
}
