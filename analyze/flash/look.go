package flash

import (
	"cmp"
	"encoding/binary"
	"image"
	"math"
	"runtime"
	"slices"

	"golang.org/x/sync/errgroup"

	"colonnade/analyze/levels"
	"colonnade/compose/picture"
	"colonnade/masks"
)

// place is pixels that make the same changes in the same frames.
type place struct {
	number  int   // among those of its kind
	columns []int // whose levels they depend on
	turns   []turn
	areas   [][]cellArea // by grid: how many of them lie in which cell
}

// found is all places that change at all.
type found struct {
	bright, red []*place
	step        int // of the squares of which one pixel each is looked at
}

// look finds the places. Pixels that are touched by the same columns see the same course of levels; of those that can
// not change enough, whatever the levels, nothing is composed. The others are composed in each state that their columns
// take, and pixels whose states relate alike are one place.
func (a *analysis) look(effort int) found {
	f := found{step: (a.size.X + widest - 1) / widest}
	var groups []*group
	for {
		groups = a.scan(f.step)
		work := 0.0
		for _, g := range groups {
			a.follow(g)
			work += g.work()
		}
		if work <= float64(effort) {
			break
		}
		f.step = max(f.step+1, int(float64(f.step)*math.Sqrt(work/float64(effort))))
	}
	type result struct{ bright, red []*place }
	var results []*result
	var tasks errgroup.Group
	tasks.SetLimit(runtime.GOMAXPROCS(0))
	for _, g := range groups {
		if len(g.states) < 2 {
			continue
		}
		for pixels := range slices.Chunk(g.pixels, max(1, chunkBytes/(3*len(g.states)))) {
			r := new(result)
			results = append(results, r)
			tasks.Go(func() error {
				r.bright, r.red = a.examine(g, pixels)
				return nil
			})
		}
	}
	tasks.Wait()
	for _, r := range results {
		f.bright, f.red = append(f.bright, r.bright...), append(f.red, r.red...)
	}
	return f
}

// chunkBytes bounds the composed pixels that are held at a time by each worker.
const chunkBytes = 4 << 20

// group is pixels that are touched by the same columns and can change.
type group struct {
	columns []int
	pixels  []pixel
	states  [][]levels.Level // tuples of the columns' levels, in the order in which they come
	course  []change         // which state when
}

type pixel struct {
	x, y        int32
	bright, red bool // can change so
}

// fewStates is the most states whose relations are compared to join pixels into one place.
const fewStates = 32

// work is about how many times a pixel is looked at.
func (g *group) work() float64 {
	each := float64(len(g.states))
	if len(g.states) > fewStates {
		each += float64(len(g.course)) / 4 // each pixel is a place; a step of its course is a light look
	} else {
		each += float64(each*each) / 32
	}
	return each * float64(len(g.pixels))
}

// follow fills in the states that the group's columns take and when.
func (a *analysis) follow(g *group) {
	if g.course != nil {
		return
	}
	known := make(map[string]int32)
	last := int32(-1)
	key := make([]byte, 0, 4*len(g.columns))
	for n, row := range a.table.Rows {
		key = key[:0]
		for _, c := range g.columns {
			key = binary.LittleEndian.AppendUint32(key, uint32(row[c]))
		}
		state, ok := known[string(key)]
		if !ok {
			state = int32(len(g.states))
			known[string(key)] = state
			tuple := make([]levels.Level, len(g.columns))
			for i, c := range g.columns {
				tuple[i] = row[c]
			}
			g.states = append(g.states, tuple)
		}
		if state != last {
			g.course = append(g.course, change{int32(n), state})
			last = state
		}
	}
}

// scan finds the pixels that can change, by the columns that touch them. One pixel in the middle of each square of
// step x step is looked at.
func (a *analysis) scan(step int) []*group {
	rows := (a.size.Y - step/2 + step - 1) / step
	workers := max(1, min(runtime.GOMAXPROCS(0), rows))
	bands := make([]*sets, workers)
	var tasks errgroup.Group
	for w := range workers {
		tasks.Go(func() error {
			bands[w] = newSets()
			for i := rows * w / workers; i < rows*(w+1)/workers; i++ {
				a.scanRow(bands[w], step/2+i*step, step)
			}
			return nil
		})
	}
	tasks.Wait()
	var out []*group
	at := make(map[string]*group)
	for _, band := range bands { // in order, so that the order does not depend on the number of workers
		for _, g := range band.groups {
			if len(g.pixels) == 0 {
				continue
			}
			key := columnsKey(g.columns)
			if at[key] == nil {
				at[key] = g
				out = append(out, g)
			} else {
				at[key].pixels = append(at[key].pixels, g.pixels...)
			}
		}
	}
	return out
}

func columnsKey(columns []int) string {
	var b []byte
	for _, c := range columns {
		b = binary.AppendUvarint(b, uint64(c))
	}
	return string(b)
}

// sets numbers the sets of columns that touch a pixel: 0 is none, next[s, c] is set s with column c.
type sets struct {
	next   map[[2]int32]int32
	groups []*group
	row    []int32
	// Pixels of a row, those under masks alone: of the base plate, and by level of the photos.
	base   []uint8
	photos [][]uint8
}

func newSets() *sets {
	return &sets{next: make(map[[2]int32]int32), groups: []*group{{}}}
}

func (s *sets) with(set int32, column int) int32 {
	key := [2]int32{set, int32(column)}
	next, ok := s.next[key]
	if !ok {
		next = int32(len(s.groups))
		s.next[key] = next
		columns := append(slices.Clone(s.groups[set].columns), column)
		s.groups = append(s.groups, &group{columns: columns})
	}
	return next
}

func (a *analysis) scanRow(s *sets, y, step int) {
	width := a.size.X
	count := (width - step/2 + step - 1) / step
	if s.row == nil {
		s.row = make([]int32, count)
	}
	clear(s.row)
	for c, m := range a.scene.Masks {
		mask := m.Row(y)
		if len(mask) == 0 {
			continue
		}
		a.readRow(s, c, y, m.Rect.Min.X, m.Rect.Min.X+len(mask))
		before, after := int32(-1), int32(-1)
		for i := max(0, (m.Rect.Min.X-step/2+step-1)/step); i < count; i++ {
			x := step/2 + i*step - m.Rect.Min.X
			if x >= len(mask) {
				break
			}
			if mask[x] == 0 {
				continue
			}
			if s.row[i] != before {
				before = s.row[i]
				after = s.with(before, c)
			}
			s.row[i] = after
		}
	}
	for i, set := range s.row {
		if set == 0 {
			continue
		}
		g := s.groups[set]
		x := step/2 + i*step
		b := bounds{}
		copy(b.low[:], s.base[3*x:])
		b.high = b.low
		for _, c := range g.columns {
			for _, photo := range a.used[c] {
				for i, code := range s.photos[photo][3*x : 3*x+3] {
					b.low[i], b.high[i] = min(b.low[i], code), max(b.high[i], code)
				}
			}
		}
		if bright, red := a.colour.mayFlash(b); bright || red {
			g.pixels = append(g.pixels, pixel{int32(x), int32(y), bright, red})
		}
	}
}

// readRow reads pixels first to before last of row y of what column c may show.
func (a *analysis) readRow(s *sets, c, y, first, last int) {
	if s.base == nil {
		s.base, s.photos = make([]uint8, 3*a.size.X), make([][]uint8, len(a.scene.Photos))
	}
	a.scene.Base.Read(s.base[3*first:3*last], first, y)
	for _, photo := range a.used[c] {
		if s.photos[photo] == nil {
			s.photos[photo] = make([]uint8, 3*a.size.X)
		}
		a.scene.Photos[photo].Read(s.photos[photo][3*first:3*last], first, y)
	}
}

// compose gives the codes of pixels of a group in each of its states, 3 bytes a pixel.
func (a *analysis) compose(g *group, pixels []pixel) [][]uint8 {
	n := len(pixels)
	gather := func(from picture.Reader) *picture.Picture {
		to := picture.New(n, 1)
		for i := 0; i < n; {
			first, end := pixels[i], i+1
			for end < n && pixels[end].y == first.y && int(pixels[end].x-first.x) == end-i {
				end++
			}
			from.Read(to.Pix[3*i:3*end], int(first.x), int(first.y))
			i = end
		}
		return to
	}
	row := picture.Scene{Base: gather(a.scene.Base), Photos: make([]*picture.Picture, len(a.scene.Photos)), Curve: a.scene.Curve}
	for _, c := range g.columns {
		m := a.scene.Masks[c]
		alpha := make([]uint16, n)
		for i, p := range pixels {
			alpha[i] = m.At(int(p.x), int(p.y))
		}
		row.Masks = append(row.Masks, &masks.Mask{Rect: image.Rect(0, 0, n, 1), Alpha: alpha})
		for _, photo := range a.used[c] {
			if row.Photos[photo] == nil {
				row.Photos[photo] = gather(a.scene.Photos[photo])
			}
		}
	}
	codes := make([][]uint8, len(g.states))
	for state, tuple := range g.states {
		to := picture.New(n, 1)
		row.Compose(to, tuple)
		codes[state] = to.Pix
	}
	return codes
}

// examine finds the places among pixels of a group.
func (a *analysis) examine(g *group, pixels []pixel) (bright, red []*place) {
	codes := a.compose(g, pixels)
	luminances, hues := make([]int64, len(g.states)), make([]hue, len(g.states))
	brights := newPlaces(a, g, func() []turn { return luminanceTurns(g.course, luminances) },
		func(from, to int) bool { return isBrighter(luminances[from], luminances[to]) })
	reds := newPlaces(a, g, func() []turn { return redTurns(g.course, hues) },
		func(from, to int) bool { return isRedder(hues[from], hues[to]) })
	for i, p := range pixels {
		if p.bright {
			for state, code := range codes {
				luminances[state] = a.colour.luminanceOf(code[3*i : 3*i+3])
			}
			brights.add(p)
		}
		if p.red {
			for state, code := range codes {
				hues[state] = a.colour.hueOf(code[3*i : 3*i+3])
			}
			reds.add(p)
		}
	}
	return brights.finish(), reds.finish()
}

// places joins pixels whose states relate alike: which states are a change from which decides, with the course, in
// which frames a pixel changes.
type places struct {
	a       *analysis
	g       *group
	turns   func() []turn           // of the pixel at hand
	relates func(from, to int) bool // its states
	known   map[string]*place
	list    []*place
	key     []byte
}

func newPlaces(a *analysis, g *group, turns func() []turn, relates func(from, to int) bool) *places {
	return &places{a: a, g: g, turns: turns, relates: relates, known: make(map[string]*place)}
}

func (s *places) add(p pixel) {
	var at *place
	if n := len(s.g.states); n <= fewStates {
		s.key = s.key[:0]
		var bits uint64
		count := 0
		any := false
		for from := range n {
			for to := range n {
				bits <<= 1
				if s.relates(from, to) {
					bits |= 1
					any = true
				}
				if count++; count%64 == 0 {
					s.key = binary.LittleEndian.AppendUint64(s.key, bits)
				}
			}
		}
		if !any {
			return
		}
		s.key = binary.LittleEndian.AppendUint64(s.key, bits)
		at = s.known[string(s.key)]
	}
	if at == nil {
		turns := s.turns()
		at = &place{columns: s.g.columns, turns: turns, areas: make([][]cellArea, len(s.a.grids))}
		if len(s.g.states) <= fewStates {
			s.known[string(s.key)] = at
		}
		if len(at.turns) > 0 {
			s.list = append(s.list, at)
		}
	}
	if len(at.turns) == 0 {
		return
	}
	for i, grid := range s.a.grids {
		cell := grid.cell(int(p.x), int(p.y))
		if last := len(at.areas[i]) - 1; last >= 0 && at.areas[i][last].cell == cell {
			at.areas[i][last].pixels++
		} else {
			at.areas[i] = append(at.areas[i], cellArea{cell, 1})
		}
	}
}

// finish gives the places, each cell once.
func (s *places) finish() []*place {
	for _, p := range s.list {
		for i, areas := range p.areas {
			slices.SortFunc(areas, func(a, b cellArea) int { return cmp.Compare(a.cell, b.cell) })
			joined := areas[:0]
			for _, area := range areas {
				if last := len(joined) - 1; last >= 0 && joined[last].cell == area.cell {
					joined[last].pixels += area.pixels
				} else {
					joined = append(joined, area)
				}
			}
			p.areas[i] = joined
		}
	}
	return s.list
}
