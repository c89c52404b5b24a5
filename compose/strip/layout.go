package strip

import "colonnade/masks"

// bandRows is the number of rows that share a deflate block and its code. Fewer rows follow the picture more
// closely, more rows have fewer headers and more of the past to match. From 32 to 128 files differ by some
// thousandths.
const bandRows = 64

// absorbed is the length below which static bytes between others are coded with those before them, once for each
// of their states: it costs some memory and saves a frame one extent, which takes as long as about a hundred bytes.
// In a flat band bytes cost next to nothing, and what costs are the ends of extents, at which every run ends: some
// sixteen bits each.
const (
	absorbed     = 256
	absorbedFlat = 8192
)

// longExtent is the length at which an extent ends and the next one of the same set begins. It bounds the memory
// that coding takes. A row of such a length is not parted.
const longExtent = 1 << 15

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
	flat      bool   // the base plate is drawn there rather than photographed
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
	extents       int     // of all bands
}

// newLayout finds the sets for columns with these masks, in the order in which they are laid. flat is by band.
func newLayout(width, height int, columns []*masks.Mask, d *differences, flat []bool) *layout {
	l := &layout{width: width, height: height, stride: 3*width + 1, sets: newSets()}
	t := newTouch(width, columns, d, l.sets)
	for top := 0; top < height; top += bandRows {
		l.bands = append(l.bands, l.band(top, min(bandRows, height-top), flat[top/bandRows], t))
	}
	l.parts, l.bytes = make([]int, len(l.sets.members)), make([]int64, len(l.sets.members))
	for b := range l.bands {
		l.extents += len(l.bands[b].order)
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

func (l *layout) band(top, rows int, flat bool, t *touch) band {
	segments := segments{absorbed: absorbed}
	if flat {
		segments.absorbed = absorbedFlat
	}
	for y := range rows {
		at := y * l.stride
		segments.add(static, at, at+1) // the filter's number
		at++
		x := 0
		for _, run := range t.next(top + y) {
			segments.add(run.set, at+3*x, at+3*run.end)
			x = run.end
		}
	}
	segments.add(static, rows*l.stride, rows*l.stride)

	b := band{top: top, rows: rows, flat: flat}
	index := map[int32]int32{}
	for _, s := range segments.list {
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

// segment is an extent with the set that decides it.
type segment struct {
	set int32
	extent
}

// segments are the extents of a band in their order.
type segments struct {
	list     []segment
	absorbed int32
}

// add adds the bytes from from to before to, which follow the last.
func (s *segments) add(set int32, from, to int) {
	last := len(s.list) - 1
	if set != static && last > 0 {
		if gap := s.list[last]; gap.set == static && gap.to-gap.from < s.absorbed {
			s.list = s.list[:last]
			last--
			s.list[last].to = gap.to
		}
	}
	if last >= 0 && s.list[last].set == set && to-int(s.list[last].from) <= longExtent {
		s.list[last].to = int32(to)
		return
	}
	s.list = append(s.list, segment{set, extent{int32(from), int32(to)}})
}
