package flash

import (
	"cmp"
	"slices"

	"colonnade/analyze/levels"
)

// counter counts the changes of places of one kind.
type counter struct {
	a      *analysis
	kind   Kind
	places []*place
	step   int
	turns  *events
	often  map[int]*events // by the frames of a second
}

func (a *analysis) newCounter(kind Kind, places []*place, step int) *counter {
	c := &counter{a: a, kind: kind, places: places, step: step, often: make(map[int]*events)}
	for number, p := range places {
		p.number = number
	}
	c.turns = turnEvents(places, len(a.table.Rows))
	for _, span := range []int{a.closed, a.open} {
		if c.often[span] == nil {
			c.often[span] = oftenEvents(places, len(a.table.Rows), span)
		}
	}
	return c
}

// find gives what is found in either way, by frame.
func (c *counter) find(which, span int) []finding {
	g := &c.a.grids[which]
	all := append(sustained(c.often[span], g, which, c.step), alternating(c.turns, g, which, span, c.step)...)
	slices.SortStableFunc(all, func(x, y finding) int { return cmp.Compare(x.frame, y.frame) })
	return all
}

// warnings joins findings less than a second apart.
func (c *counter) warnings(which int) []Warning {
	findings := c.find(which, c.a.closed)
	if len(findings) == 0 {
		return nil
	}
	certain := findings
	if c.a.open != c.a.closed {
		certain = c.find(which, c.a.open)
	}
	var out []Warning
	for len(findings) > 0 {
		end := 1
		for end < len(findings) && int(findings[end].frame-findings[end-1].frame) <= c.a.closed {
			end++
		}
		p := passage{counter: c, grid: &c.a.grids[which], which: which, findings: findings[:end]}
		w := p.warning()
		from, to := findings[0].frame, findings[end-1].frame
		w.AtLimit = !slices.ContainsFunc(certain, func(f finding) bool { return f.frame >= from && f.frame <= to })
		out = append(out, w)
		findings = findings[end:]
	}
	return out
}

// passage is a run of findings.
type passage struct {
	*counter
	grid     *grid
	which    int
	findings []finding
}

func (p *passage) warning() Warning {
	first, last := p.findings[0], p.findings[len(p.findings)-1]
	worst := first
	for _, f := range p.findings {
		if f.pixels > worst.pixels {
			worst = f
		}
	}
	a := p.a
	from, to := first.frame, int32(0)
	p.concerned(first, func(c concern) { from = min(from, c.first) })
	p.concerned(last, func(c concern) { to = max(to, c.last) })
	field := p.grid.place(worst.position)
	w := Warning{
		Standard: p.grid.standard, Kind: p.kind, First: a.table.First + int(from), Last: a.table.First + int(to),
		Columns: p.columns(worst), Changes: p.changes(), Share: p.grid.share(worst.pixels, p.step), Of: p.grid.of,
		Field: Field{field.Min.X, field.Min.Y, field.Dx(), field.Dy()},
		// With so many frames between them, seven changes take longer than a second.
		Hold: a.closed/mostChanges + 1,
	}
	w.From, w.To = a.table.Rate.Start(w.First), a.table.Rate.Start(w.Last+1)
	w.Flashes = float64(w.Changes) / 2
	w.Remedy = w.remedy(slices.ContainsFunc(a.table.Rows, hasPart))
	return w
}

// hasPart tells whether a column stands between two photos.
func hasPart(row []levels.Level) bool {
	return slices.ContainsFunc(row, func(level levels.Level) bool { return !level.Whole() })
}

// concern is a place that a finding is about.
type concern struct {
	place       *place
	changes     int32 // within the finding's second
	first, last int32 // frames of them
	pixels      int32 // in the finding's field
}

// concerned visits the places of a finding.
func (p *passage) concerned(f finding, visit func(concern)) {
	concerns := make([]concern, len(p.places))
	for frame := max(f.frame-int32(p.a.closed), 0); frame <= f.frame; frame++ {
		for _, e := range p.turns.in(int(frame)) {
			c := &concerns[e.place.number]
			if c.place == nil {
				c.place, c.first = e.place, frame
			}
			c.changes++
			c.last = frame
		}
	}
	for _, c := range concerns {
		if c.place == nil || f.changes == 0 && c.changes <= mostChanges {
			continue
		}
		for _, area := range c.place.areas[p.which] {
			if p.grid.holds(f.position, area.cell) {
				c.pixels += area.pixels
			}
		}
		if c.pixels > 0 {
			visit(c)
		}
	}
}

// turnsBetween is the changes from a frame to another, both in it.
func turnsBetween(turns []turn, from, to int32) []turn {
	byFrame := func(t turn, frame int32) int { return cmp.Compare(t.frame, frame) }
	first, _ := slices.BinarySearchFunc(turns, from, byFrame)
	end, _ := slices.BinarySearchFunc(turns, to+1, byFrame)
	return turns[first:end]
}

// changes is the most changes within a second: of a place, or of a field as a whole.
func (p *passage) changes() int {
	most := 0
	worst := finding{pixels: -1}
	for _, f := range p.findings {
		most = max(most, int(f.changes))
		if f.changes == 0 && f.pixels > worst.pixels {
			worst = f
		}
	}
	if worst.pixels < 0 {
		return most
	}
	first, last := p.findings[0].frame-int32(p.a.closed), p.findings[len(p.findings)-1].frame
	p.concerned(worst, func(c concern) {
		turns := turnsBetween(c.place.turns, first, last)
		begin := 0
		for end, t := range turns {
			for turns[begin].frame < t.frame-int32(p.a.closed) {
				begin++
			}
			most = max(most, end-begin+1)
		}
	})
	return most
}

// columns names those that make up a tenth or more of what flashes, as measured by the one with the most.
func (p *passage) columns(f finding) []string {
	weights := make([]int64, len(p.a.table.Names))
	p.concerned(f, func(c concern) {
		for _, column := range c.place.columns {
			weights[column] += int64(c.pixels) * int64(c.changes)
		}
	})
	var names []string
	for c, weight := range weights {
		if weight > 0 && 10*weight >= slices.Max(weights) {
			names = append(names, p.a.table.Names[c])
		}
	}
	return names
}
