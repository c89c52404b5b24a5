package strip

import "colonnade/masks"

// bandRows is the number of rows that share a deflate block and its code. Fewer rows follow the picture more
// closely, more rows have fewer headers and more of the past to match. From 32 to 128 files differ by some
// thousandths.
//
// Flat rows take so few bytes that headers count: up to flatRows of them share a block, which makes files of drawings
// up to a tenth smaller. Of pictures so wide that it would take much memory, fewer do.
const (
	bandRows  = 64
	flatRows  = 4 * bandRows
	flatBytes = 1 << 23
)

// absorbed is the length below which static bytes between others are coded with those before them, once for each
// of their states: it costs some memory and saves a frame one extent, which takes as long as about a hundred bytes.
// In a flat band bytes cost next to nothing, and what costs are the ends of extents, at which every run ends.
const (
	absorbed     = 256
	absorbedFlat = 8192
)

// longExtent is the length at which an extent ends and the next one of the same set begins. It bounds the memory
// that coding takes. A row of such a length is not parted.
const longExtent = 1 << 15

// leads is the most static bytes before an extent that its matches may repeat, but no more than it is long. The window holds less than two
// rows of a picture of 24 megapixels: with the bytes between columns files are two parts in a hundred smaller there, one at 4K.
//
// In a flat band what costs are the ends of extents: leadsFlat are enough to begin with what the last one ended with. Patterns that come again
// after more bytes would be a thirtieth smaller with more, and the first frame would take a thirtieth longer.
const (
	leads     = 1024
	leadsFlat = 64
)

// extent is a stretch of the filtered bytes of a band, counted from the band's first byte. Its matches may also repeat
// the lead bytes before it, leads at most, leadsFlat in flat bands: these are static, and coded with the extent before.
type extent struct{ from, to, lead int32 }

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
	texture   texture
	parts     []part // parts[0] is the static one
	order     []int32
}

func (b *band) drawn() bool { return b.texture.drawn() }

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

// newLayout finds the sets for columns with these masks, in the order in which they are laid.
func newLayout(width, height int, columns []*masks.Mask, d *differences) *layout {
	l := &layout{width: width, height: height, stride: 3*width + 1, sets: newSets()}
	t := newTouch(width, columns, d, l.sets)
	textures := d.textures
	for top := 0; top < height; {
		rows, kind := bandRows, textures[top/bandRows]
		for kind.drawn() && rows < flatRows && rows*l.stride < flatBytes && top+rows < height {
			if textures[(top+rows)/bandRows] != kind {
				break
			}
			rows += bandRows
		}
		rows = min(rows, height-top)
		l.bands = append(l.bands, l.band(top, rows, kind, t))
		top += rows
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

func (l *layout) band(top, rows int, texture texture, t *touch) band {
	segments := segments{stride: int32(l.stride), drawn: texture.drawn()}
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

	b := band{top: top, rows: rows, texture: texture}
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
	list   []segment
	stride int32
	drawn  bool
}

// add adds the bytes from from to before to, which follow the last.
func (s *segments) add(set int32, from, to int) {
	next := segment{set, extent{from: int32(from), to: int32(to)}}
	limit := int32(absorbed)
	if s.drawn {
		limit = absorbedFlat
	}
	last := len(s.list) - 1
	if set != static && last > 0 && s.list[last].set == static && s.list[last].to-s.list[last].from < limit {
		gap := s.list[last].extent
		last--
		s.list = s.list[:last+1]
		end := gap.to
		if s.list[last].set != set {
			most := int32(leads)
			if s.drawn {
				end = s.divide(s.list[last].extent, gap)
				next.from, most = end, leadsFlat
			}
			next.lead = min(end-gap.from, most, next.to-next.from)
		}
		s.list[last].to = end
	} else if set != static && !s.drawn && s.list[last].set == static {
		next.lead = min(s.list[last].to-s.list[last].from, leads, next.to-next.from)
	}
	if last >= 0 && s.list[last].set == set && next.to-s.list[last].from <= longExtent {
		s.list[last].to = next.to
		return
	}
	s.list = append(s.list, next)
}

// divide is where an extent of a flat band ends, of the static bytes in gap which follow it, and the next one begins.
//
// Most rows of a drawing are all alike once they are filtered. Of such bytes an extent takes matches of the longest
// length, for three bits or so each, and one for the rest, which costs ten. So an extent ends where there is no
// rest; where gap has no such place, as soon as the next one has its lead, since short lengths have shorter codes. A match
// ends before a filter's number anyway: it is unlike the bytes around it.
func (s *segments) divide(before, gap extent) int32 {
	row := gap.to - gap.to%s.stride
	if row >= gap.from {
		return row
	}
	alike := before.from // where matches begin: there must be a byte that they repeat
	switch {
	case row >= before.from:
		alike = row + 2
	case before.lead == 0:
		alike++
	}
	if end := gap.to - (gap.to-alike)%longest; end >= gap.from+near {
		return end
	}
	return min(gap.from+near, gap.to)
}
