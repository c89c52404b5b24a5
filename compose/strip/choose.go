package strip

import (
	"context"
	"sync"

	"colonnade/compose/picture"
)

// block is how a band is coded.
type block struct {
	filter int // of all rows but seams
	seam   int // rows whose number is this modulo seams take Sub; none do if it is noSeam
	kind   kind
	sample int // bytes of the band that tell the table
	table  *table
}

// kind is what a band is like, which decides how matches are looked for.
type kind uint8

const (
	kindPhoto  kind = iota // any other photograph (photoKinds)
	kindSmooth             // a photograph whose literals take less than two bits
	kindDense              // a photograph for which a third look at each place pays (photoKinds)
	kindGrey               // one of whole pixels: half of them are grey and next to 0, or it pays; or what is all grey of another (allGrey)
	kindDrawn
	kindSlope // a slope of colour without noise, drawn or not (slopeKinds): what is repeated is long, and lies some rows above
	kinds     = iota
)

// photographed tells whether a band of the kind is a photograph of which what is all grey is of another kind.
func (k kind) photographed() bool { return k < kindGrey }

// filterOf is the filter of row y of the picture.
func (b *block) filterOf(y int) int {
	if b.seam != noSeam && y%seams == b.seam {
		return filterSub
	}
	return b.filter
}

// chooseBlocks finds the filter and the code of each band from a sample of its rows, in frames whose columns all stand at one
// level. The filter is Up, or another that leaves less (choice); the code is the best one for all levels that are sampled, each counting
// alike, but for the empty stage of drawn bands. photos, by level, holds those.
func (c *coding) chooseBlocks(ctx context.Context, base picture.Reader, photos []picture.Reader) error {
	if err := c.chooseFilters(ctx, base, photos); err != nil {
		return err
	}
	type job struct {
		band, part int
		seen       counts
	}
	var jobs []job
	for b := range c.layout.bands {
		for i := range c.layout.bands[b].parts {
			jobs = append(jobs, job{band: b, part: i})
		}
	}
	err := c.each(ctx, len(jobs), func(w *worker, j int) {
		b, i := jobs[j].band, jobs[j].part
		band, first := &c.layout.bands[b], &c.blocks[b]
		at := band.sampled(max(len(photos), 1))
		s := sampler{c: c, base: base, photos: photos}
		rest := uint32(1) // as often as the empty stage counts
		if band.drawn() {
			rest = resting
		}
		if i == 0 { // of no column
			s.render(w, b, i, c.layout.middle(band, first.sample), first)
			w.count(&jobs[j].seen, uint32(len(at)-1)+rest, first)
			return
		}
		for nth, level := range at {
			s.level = level
			rows, weight := c.layout.turn(band, first.sample, nth, len(at))
			if level == 0 {
				weight *= rest
			}
			s.render(w, b, i, rows, first)
			w.count(&jobs[j].seen, weight, first)
		}
	})
	if err != nil {
		return err
	}
	seen := make([]counts, len(c.blocks))
	for j := range jobs {
		seen[jobs[j].band].add(&jobs[j].seen)
	}
	return c.each(ctx, len(c.blocks), func(_ *worker, b int) { c.blocks[b].table = newTable(&seen[b]) })
}

// filterOrder is the filters, those first that are chosen where several do as well.
var filterOrder = [filters]int{filterUp, filterPaeth, filterAverage, filterSub, filterNone}

// choice is the filter of a group of bands, and how matches are looked for in them, with a table for a parse from which the counts for a better
// one are taken.
//
// Which filter is best for literals can be told from the bytes alone, but Up leaves more that is repeated than others
// do. Where another is said to be best, both are tried. Of photographs a sixteenth of the width is enough to compare
// literals, another one in each band of the group, where all objects show and where none does in turn; fewer rows than a block of a JPEG
// file has are not. Matches want half the width, of one band, half of it with objects. With the filter that is best a photograph is then
// tried as each of photoKinds.
type choice struct {
	bands  []int
	mutex  sync.Mutex // of seen, grey and small
	drawn  bool
	seen   [filters][seams]literals // of the trial's rows by their number modulo seams; of drawn bands all are the first
	grey   int                      // greyness of what Up leaves
	small  int
	rivals []rival
}

// chooseFilters gives all bands of a group the same block.
func (c *coding) chooseFilters(ctx context.Context, base picture.Reader, photos []picture.Reader) error {
	l := c.layout
	s := sampler{c: c, base: base, photos: photos}
	choices := l.groups()
	type job struct{ group, nth, part int }
	var jobs []job
	for g := range choices {
		for nth, b := range choices[g].bands {
			for i := range l.bands[b].parts {
				jobs = append(jobs, job{g, nth, i})
			}
		}
	}
	err := c.each(ctx, len(jobs), func(w *worker, j int) {
		s.literals(w, choices[jobs[j].group], jobs[j].nth, jobs[j].part)
	})
	if err != nil {
		return err
	}
	seam := findSeam(choices)
	for _, g := range choices {
		g.shortlist(l.bands[g.bands[0]].texture, seam)
	}
	if err := s.compete(ctx, choices, filterContest(l.width)); err != nil {
		return err
	}
	for _, g := range choices {
		g.shortlistKinds()
	}
	if err := s.compete(ctx, choices, kindContest(l.width)); err != nil {
		return err
	}
	c.blocks = make([]block, len(l.bands))
	for _, g := range choices {
		best := &g.rivals[0]
		if best.seen != nil {
			best.table = newTable(best.seen) // a better one than that by whose prices they were parsed
		}
		for _, b := range g.bands {
			c.blocks[b] = best.block
		}
	}
	return nil
}

// groups is the bands, each drawn one by itself and the others by grouped or less that follow each other.
func (l *layout) groups() []*choice {
	var groups []*choice
	for b := range l.bands {
		drawn := l.bands[b].drawn()
		last := len(groups) - 1
		if b == 0 || len(groups[last].bands) == grouped || drawn || l.bands[b-1].drawn() {
			groups = append(groups, &choice{drawn: drawn})
			last++
		}
		groups[last].bands = append(groups[last].bands, b)
	}
	return groups
}

// narrow is which part of a photographed band's width tells of its literals.
const narrow = 16

// literals counts the bytes that each filter leaves of a part of the group's nth band.
func (s *sampler) literals(w *worker, g *choice, nth, part int) {
	l, b := s.c.layout, g.bands[nth]
	band := &l.bands[b]
	size := sampleBytes
	if g.drawn {
		size = sampleFlat
	}
	rows := l.trial(band, size)
	if !g.drawn {
		rows.from = (2*nth + 1) * l.stride / (2 * grouped)
		rows.to = min(rows.from+l.stride/narrow+1, l.stride)
	}
	t := *s
	if g.drawn || nth%2 == 0 {
		t.level = s.top()
	}
	t.set(w, b, part, rows)
	for i := range w.extents {
		w.extents[i].lead = 0 // it is counted where it is static
	}
	w.measure(l, w.extents)
	var seen [filters][seams]literals
	grey, small := 0, 0
	apart := seams // rows whose bytes are counted apart
	if g.drawn {
		apart = 1
	}
	w.rows(l, band, w.extents, func(y, from, to int) {
		if y == 0 && !g.drawn {
			return // nothing is above it: it says nothing of other rows
		}
		for kind := range filters {
			if !band.texture.allows(kind) {
				continue
			}
			at := from
			if at == 0 {
				seen[kind][y%apart][kind]++
				at++
			}
			out := w.line[:to-at]
			filter(kind, out, w.row, w.above, at-1, to-1)
			if kind == filterUp {
				pixels := out[min(len(out), 2-(at+1)%3):]
				more, moreSmall := greyness(pixels)
				grey, small = grey+more, small+moreSmall
			}
			seen := &seen[kind][y%apart]
			for _, value := range out {
				seen[value]++
			}
		}
	})
	g.mutex.Lock()
	defer g.mutex.Unlock()
	g.grey += grey
	g.small += small
	for kind := range seen {
		for row := range apart {
			for value, n := range seen[kind][row] {
				g.seen[kind][row][value] += n
			}
		}
	}
}

// greyness is how many whole pixels have three bytes that are the same, but not 0, less seven times those that have others; and how many
// more have such that are the same and at most greySmall from 0 than have not.
func greyness(pixels []byte) (grey, small int) {
	for i := 0; i+2 < len(pixels); i += 3 {
		value := pixels[i]
		same := value == pixels[i+1] && value == pixels[i+2]
		switch {
		case !same:
			grey -= 7
		case value != 0:
			grey++
		}
		if same && value+greySmall <= 2*greySmall {
			small++
		} else {
			small--
		}
	}
	return grey, small
}

// trial is the rows on which filters are tried, with a sample of size bytes: of drawn bands half of it, since all of it makes files no
// smaller; of others at least as many as a block of a JPEG file has.
func (l *layout) trial(b *band, size int) sample {
	s := l.middle(b, size)
	switch {
	case s.spread():
		s.rows, s.step = (s.rows/s.stretch+1)/2*s.stretch, 2*s.step
		return s
	case b.drawn():
		s.rows = (s.rows + 1) / 2
	default:
		s.rows, s.known = min(max(s.rows, seams), b.rows), 0
	}
	s.first, s.stretch = (b.rows-s.rows)/2, s.rows
	return s
}

// counts is the literals of a filter and a seam.
func (g *choice) counts(filter, seam int) *counts {
	seen := new(counts)
	for row := range seams {
		of := filter
		if row == seam {
			of = filterSub
		}
		for value, n := range g.seen[of][row] {
			seen.symbols[value] += n
		}
	}
	return seen
}
