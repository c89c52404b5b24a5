package strip

import "colonnade/masks"

// touch finds the columns on which the filtered bytes of each pixel depend, row by row from the top.
//
// A pixel depends on the columns whose mask is not 0 there, and on no others below one that covers it wholly; on
// none where all photos are like the base plate.
// Every filter of PNG reads at most the pixel, the one to its left, the one above and the one above left: the
// union of the four holds for all filters.
type touch struct {
	columns   []*masks.Mask
	differ    *differences
	sets      *sets
	above     []int32 // sets of the pixels in the row above, the border left of the picture first
	row       []int32
	dependent []int32
}

func newTouch(width int, columns []*masks.Mask, d *differences, s *sets) *touch {
	return &touch{columns, d, s, make([]int32, width+1), make([]int32, width+1), make([]int32, width)}
}

// next is the sets that the filtered pixels of row y depend on. It holds until the next call.
func (t *touch) next(y int) []int32 {
	t.above, t.row = t.row, t.above
	clear(t.row)
	differ := t.differ.row(y)
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
	var last [4]int32
	set := int32(static)
	for x := range t.dependent {
		near := [4]int32{t.row[x], t.row[x+1], t.above[x], t.above[x+1]}
		if near != last {
			last = near
			set = t.sets.union(t.sets.union(near[0], near[1]), t.sets.union(near[2], near[3]))
		}
		t.dependent[x] = set
	}
	return t.dependent
}
