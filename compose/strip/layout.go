package strip

import (
	"colonnade/masks"
)

// bandRows is the number of rows that share a deflate block and its code. Fewer rows follow the picture more
// closely, more rows have fewer headers and more of the past to match.
const bandRows = 64

// extent is a stretch of the filtered bytes of a band, counted from the band's first byte.
type extent struct{ from, to int32 }

// part is all that one set of columns decides of a band.
type part struct {
	set     int32
	nth     int // number of bands before this one in which the set has a part
	extents []extent
}

// band is a run of rows. Its filtered bytes are the extents of its parts, taken in turn: order names the part
// that the next extent comes from. The first extent and the last, which may be empty, are static: the block's
// header goes before the one and its end after the other.
type band struct {
	top, rows int
	parts     []part // parts[0] is the static one
	order     []int32
}

// layout says which columns decide each byte of the filtered picture.
type layout struct {
	width, height int
	stride        int // filtered bytes of a row: the filter's number and three bytes a pixel
	sets          *sets
	bands         []band
	parts         []int   // by set: in how many bands it has a part
	bytes         []int64 // by set: how many filtered bytes it decides
	used          []int32 // sets that decide anything
}

func newLayout(width, height int, columns []*masks.Mask) *layout {
	l := &layout{width: width, height: height, stride: 3*width + 1, sets: newSets()}
	t := newTouch(width, columns, l.sets)
	for top := 0; top < height; top += bandRows {
		l.bands = append(l.bands, l.band(top, min(bandRows, height-top), t))
	}
	l.parts, l.bytes = make([]int, len(l.sets.members)), make([]int64, len(l.sets.members))
	for b := range l.bands {
		for i := range l.bands[b].parts {
			p := &l.bands[b].parts[i]
			p.nth = l.parts[p.set]
			l.parts[p.set]++
			for _, e := range p.extents {
				l.bytes[p.set] += int64(e.to - e.from)
			}
		}
	}
	for set, n := range l.parts {
		if n > 0 {
			l.used = append(l.used, int32(set))
		}
	}
	return l
}

// segment is an extent with the set that decides it.
type segment struct {
	set int32
	extent
}

func (l *layout) band(top, rows int, t *touch) band {
	var segments []segment
	add := func(set int32, from, to int) {
		last := len(segments) - 1
		if last >= 0 && segments[last].set == set {
			segments[last].to = int32(to)
			return
		}
		segments = append(segments, segment{set, extent{int32(from), int32(to)}})
	}
	for y := range rows {
		at := y * l.stride
		add(static, at, at+1) // the filter's number
		at++
		sets := t.next(top + y)
		for x := 0; x < l.width; {
			end := x + 1
			for end < l.width && sets[end] == sets[x] {
				end++
			}
			add(sets[x], at+3*x, at+3*end)
			x = end
		}
	}
	add(static, rows*l.stride, rows*l.stride)

	b := band{top: top, rows: rows}
	index := map[int32]int32{}
	for _, s := range segments {
		i, ok := index[s.set]
		if !ok {
			i = int32(len(b.parts))
			index[s.set] = i
			b.parts = append(b.parts, part{set: s.set})
		}
		b.parts[i].extents = append(b.parts[i].extents, s.extent)
		b.order = append(b.order, i)
	}
	return b
}

// touch finds the columns on which the filtered bytes of each pixel depend, row by row from the top.
//
// A pixel depends on the columns whose mask is not 0 there, and on no others below one that covers it wholly.
// Every filter of PNG reads at most the pixel, the one to its left, the one above and the one above left: the
// union of the four holds for all filters.
type touch struct {
	columns   []*masks.Mask
	sets      *sets
	above     []int32 // sets of the pixels in the row above, the border left of the picture first
	row       []int32
	dependent []int32
}

func newTouch(width int, columns []*masks.Mask, s *sets) *touch {
	return &touch{columns, s, make([]int32, width+1), make([]int32, width+1), make([]int32, width)}
}

// next is the sets that the filtered pixels of row y depend on. It holds until the next call.
func (t *touch) next(y int) []int32 {
	t.above, t.row = t.row, t.above
	clear(t.row)
	for i, m := range t.columns {
		own := t.sets.number([]int{i})
		row := t.row[1:][m.Rect.Min.X:]
		from, to := int32(static), own // the last union: neighbours mostly have the same
		for x, alpha := range m.Row(y) {
			switch {
			case alpha == 0:
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
