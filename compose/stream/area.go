package stream

import (
	"image"
	"iter"

	"colonnade/masks"
)

// run is a stretch of samples in row y of a plane: from to before to.
type run struct{ y, from, to int }

// area is all the samples, of all three planes, that depend on the same columns. One area, with no columns, is
// what is the same in every frame.
type area struct {
	columns []int           // rising
	luma    []run           // of Y'
	chroma  []run           // of Cb, and of Cr
	reach   image.Rectangle // the pixels that the samples are made from lie in it
	masks   []*masks.Mask   // of the columns, cut at reach and counted from its corner
}

// A plane of step 1 has a sample at each pixel; one of step 2 has a sample at every other pixel of every other
// pair of rows. The sample (x, y) of a plane is made from the pixels
//
//	step*x-(step-1) to step*x+(step-1) of the rows step*y to step*y+(step-1)
//
// of which the one left of the picture is not there.

// pixels is the pixels that a run of samples is made from.
func (r run) pixels(step int) image.Rectangle {
	return image.Rect(max(step*r.from-(step-1), 0), step*r.y, step*r.to, step*r.y+step)
}

// findAreas groups the samples of a frame by the columns that they depend on; step is that of the chroma planes.
func findAreas(width, height, step int, columns []*masks.Mask) []area {
	var s sets
	s.begin()
	rows := make([][]int, step)
	for i := range rows {
		rows[i] = make([]int, width)
	}
	row := make([]int, width/step)
	var luma, chroma [][]run // by set
	add := func(runs [][]run, set int, r run) [][]run {
		for set >= len(runs) {
			runs = append(runs, nil)
		}
		runs[set] = append(runs[set], r)
		return runs
	}
	for y := 0; y < height; y += step {
		for i := range rows {
			s.touching(rows[i], y+i, columns)
			for set, r := range stretches(y+i, rows[i]) {
				luma = add(luma, set, r)
			}
		}
		s.gathered(row, rows, step)
		for set, r := range stretches(y/step, row) {
			chroma = add(chroma, set, r)
		}
	}

	var areas []area
	for set, members := range s.members {
		a := area{columns: members}
		if set < len(luma) {
			a.luma = luma[set]
		}
		if set < len(chroma) {
			a.chroma = chroma[set]
		}
		if len(a.luma)+len(a.chroma) == 0 {
			continue
		}
		for _, r := range a.luma {
			a.reach = a.reach.Union(r.pixels(1))
		}
		for _, r := range a.chroma {
			a.reach = a.reach.Union(r.pixels(step))
		}
		for _, column := range members {
			a.masks = append(a.masks, cut(columns[column], a.reach))
		}
		areas = append(areas, a)
	}
	return areas
}

// cut is the part of a mask that lies in reach, counted from the corner of reach.
func cut(m *masks.Mask, reach image.Rectangle) *masks.Mask {
	rect := m.Rect.Intersect(reach)
	out := &masks.Mask{Rect: rect.Sub(reach.Min)}
	for y := rect.Min.Y; y < rect.Max.Y; y++ {
		out.Alpha = append(out.Alpha, m.Row(y)[rect.Min.X-m.Rect.Min.X:][:rect.Dx()]...)
	}
	return out
}

// stretches are the runs of equal sets in row y, each with its set.
func stretches(y int, row []int) iter.Seq2[int, run] {
	return func(yield func(int, run) bool) {
		for from := 0; from < len(row); {
			to := from + 1
			for to < len(row) && row[to] == row[from] {
				to++
			}
			if !yield(row[from], run{y, from, to}) {
				return
			}
			from = to
		}
	}
}

// sets gives every set of columns that occurs a number. Set 0 has no columns.
type sets struct {
	members [][]int        // columns of each set, rising
	joined  map[[2]int]int // the number of {set, column}: the set with a column added that comes after all of its own
}

func (s *sets) begin() {
	s.members = [][]int{nil}
	s.joined = map[[2]int]int{}
}

// join is the set with a column added that comes after all of its own.
func (s *sets) join(set, column int) int {
	n, ok := s.joined[[2]int{set, column}]
	if !ok {
		n = len(s.members)
		s.joined[[2]int{set, column}] = n
		own := s.members[set]
		s.members = append(s.members, append(own[:len(own):len(own)], column))
	}
	return n
}

// union is the set of all columns that are in a or in b.
func (s *sets) union(a, b int) int {
	if a == b || b == 0 {
		return a
	}
	if a == 0 {
		return b
	}
	out := 0
	for left, right := s.members[a], s.members[b]; len(left)+len(right) > 0; {
		switch {
		case len(right) == 0 || len(left) > 0 && left[0] < right[0]:
			out, left = s.join(out, left[0]), left[1:]
		case len(left) == 0 || right[0] < left[0]:
			out, right = s.join(out, right[0]), right[1:]
		default:
			out, left, right = s.join(out, left[0]), left[1:], right[1:]
		}
	}
	return out
}

// touching puts the set of columns that each pixel of row y depends on in row: those whose mask is not 0 there,
// and none that lies below one that covers the pixel wholly.
func (s *sets) touching(row []int, y int, columns []*masks.Mask) {
	clear(row)
	for column, m := range columns {
		alone := s.join(0, column)
		from, to := 0, alone // the last join: neighbours mostly have the same
		for x, alpha := range m.Row(y) {
			switch at := &row[m.Rect.Min.X+x]; {
			case alpha == 0:
			case alpha == masks.Full:
				*at = alone
			default:
				if *at != from {
					from, to = *at, s.join(*at, column)
				}
				*at = to
			}
		}
	}
}

// gathered puts the set that each sample of a chroma row depends on in row, from those of the pixels of the
// rows that it is made from.
func (s *sets) gathered(row []int, rows [][]int, step int) {
	for x := range row {
		set := rows[0][step*x]
		for _, pixels := range rows {
			for _, other := range pixels[max(step*x-(step-1), 0) : step*x+step] {
				if other != set {
					set = s.union(set, other)
				}
			}
		}
		row[x] = set
	}
}
