package strip

import (
	"slices"

	"colonnade/masks"
)

// touch finds the columns on which the filtered bytes of each pixel depend, row by row from the top.
//
// A pixel depends on the columns whose mask is not 0 there, and on no others below one that covers it wholly; on
// none where, in drawn rows, all photos are like the base plate.
// Every filter of PNG reads at most the pixel, the one to its left, the one above and the one above left: the
// union of the four holds for all filters. In upright rows, whose filters are Up and Paeth, pixels at which nothing changes
// depend on none.
type touch struct {
	columns []*masks.Mask
	differ  *differences
	sets    *sets
	above   []int32 // sets of the pixels in the row above, the border left of the picture first
	row     []int32
	steady  bool  // row and above hold the same sets
	runs    []run // of the row, before they are thinned
	thinned []run
}

// run is pixels of a row whose filtered bytes depend on the same set: those from the last run's end to before end.
type run struct {
	set int32
	end int
}

func newTouch(width int, columns []*masks.Mask, d *differences, s *sets) *touch {
	return &touch{columns: columns, differ: d, sets: s, above: make([]int32, width+1), row: make([]int32, width+1)}
}

// next is the runs of row y, all rows in turn. It holds until the next call.
func (t *touch) next(y int) []run {
	if again := y > 0 && t.again(y); !again || !t.steady {
		t.above, t.row = t.row, t.above
		if again {
			copy(t.row, t.above)
		} else {
			t.find(y)
		}
		t.unite()
		t.steady = again
	}
	if t.differ.upright(y) {
		return t.thin(t.differ.row(t.differ.fromAbove, y))
	}
	return t.runs
}

// again tells whether masks and differences of row y are those of the row above, as they are in most rows of upright columns.
func (t *touch) again(y int) bool {
	if !slices.Equal(t.differ.row(t.differ.fromBase, y), t.differ.row(t.differ.fromBase, y-1)) {
		return false
	}
	for _, m := range t.columns {
		if here, above := m.Row(y), m.Row(y-1); (here == nil) != (above == nil) || !slices.Equal(here, above) {
			return false
		}
	}
	return true
}

// find finds the sets of the pixels of row y.
func (t *touch) find(y int) {
	clear(t.row)
	differ := t.differ.row(t.differ.fromBase, y)
	for i, m := range t.columns {
		own := t.sets.number([]int{i})
		left := m.Rect.Min.X
		row := t.row[1:][left:]
		from, to := int32(static), own // the last union: neighbours mostly have the same
		for x, alpha := range m.Row(y) {
			switch {
			case alpha == 0 || differ[(left+x)/64]>>((left+x)%64)&1 == 0:
			case alpha == masks.Full:
				row[x] = own
			case row[x] == from:
				row[x] = to
			default:
				from, to = row[x], t.sets.union(row[x], own)
				row[x] = to
			}
		}
	}
}

// unite finds the runs of the row, from its sets and those of the row above.
func (t *touch) unite() {
	t.runs = t.runs[:0]
	row, above := t.row, t.above[:len(t.row)]
	for x := 1; x < len(row); {
		end := x + 1
		if row[x-1] == row[x] && above[x-1] == above[x] {
			for end < len(row) && row[end] == row[x] && above[end] == above[x] {
				end++
			}
		}
		set := t.sets.union(t.sets.union(row[x-1], row[x]), t.sets.union(above[x-1], above[x]))
		if last := len(t.runs) - 1; last >= 0 && t.runs[last].set == set {
			t.runs[last].end = end - 1
		} else {
			t.runs = append(t.runs, run{set, end - 1})
		}
		x = end
	}
}

// thin is the runs, of which those pixels are static that with the ones to their left are like the ones above, whatever is shown:
// the filters that upright rows may have leave 0 of them.
func (t *touch) thin(fromAbove []uint64) []run {
	out := t.thinned[:0]
	add := func(set int32, end int) {
		if last := len(out) - 1; last >= 0 && out[last].set == set {
			out[last].end = end
			return
		}
		out = append(out, run{set, end})
	}
	x := 0
	for _, r := range t.runs {
		if r.set == static {
			add(static, r.end)
			x = r.end
			continue
		}
		for ; x < r.end; x++ {
			differs := fromAbove[x/64] >> (x % 64) & 1
			if x > 0 {
				differs |= fromAbove[(x-1)/64] >> ((x - 1) % 64) & 1
			}
			if differs == 0 {
				add(static, x+1)
			} else {
				add(r.set, x+1)
			}
		}
	}
	t.thinned = out
	return out
}
