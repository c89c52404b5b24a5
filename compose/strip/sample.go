package strip

import (
	"math/bits"
	"slices"

	"colonnade/analyze/levels"
	"colonnade/compose/picture"
)

// A sample of a band's rows tells its filter and its code: sampleBytes in whole rows, six at a width of 1920 pixels,
// but at least sampleRows. A third more make files of photographs a four-hundredth smaller, for a thirtieth of the time.
//
// A flat band is soon looked through, and its code must know where edges are: sampleFlat is all flatRows up to a width of 341
// pixels, 40 of them at 1920. Where drawings are full of soft slopes, or JPEG has left noise about their edges, only as much is taken as has
// about sampleFlatBits bits. The stretches are spread over the band: the middle alone makes files up to a tenth larger. Twice as much would make
// some a few parts in a hundred smaller, and the first frame would take a tenth longer.
//
// What columns put there is taken from the first photo and the last: between them are all objects and all that is behind
// them. Of each of the two only half as many rows are taken, from other places in the band: that makes files no larger. In
// drawn bands all rows are taken, and the middle photo as well: without it files are up to a hundredth larger.
//
// Above its objects a column shows the empty stage whatever its level is, and of a drawing that is the part for which codes are soon too
// long: in drawn bands it counts resting times. Frames with few objects are up to a twentieth smaller, others up to three parts in a
// hundred larger or smaller.
//
// In a sample less lies before each place than in the band, so that fewer matches are found. So of photographs the knownRows before it
// are known to the search, but are not parsed: files are three thousandths smaller, of black and white ones three parts in a hundred.
const (
	sampleBytes    = 34000
	sampleFlat     = 1 << 18
	sampleFlatBits = 32000
	sampleStretch  = 8
	sampleRows     = 6
	knownRows      = 3
	turns          = 2
	resting        = 4
	grouped        = 4 // bands of photographs that share a filter
)

// sampled is the levels at which a band's columns stand in its samples, the highest last. photos is their number, 1 or more.
func (b *band) sampled(photos int) []int {
	if b.drawn() {
		return slices.Compact([]int{0, photos / 2, photos - 1})
	}
	return slices.Compact([]int{0, photos - 1})
}

// sample is rows of a band, or of each of them the bytes from from to before to. Of whole rows it takes stretch at a time, of which each begins
// step rows after the one before. The known rows before it are to be known.
type sample struct{ first, rows, from, to, stretch, step, known int }

// spread tells whether it is taken in several stretches.
func (s sample) spread() bool { return s.stretch < s.rows }

// before is the rows before the sample that are to be known.
func (s sample) before() sample {
	s.first, s.rows, s.known = s.first-s.known, s.known, 0
	return s
}

// cut appends what lies in the sample of extents to dst. Stretches of whole rows are not parted.
func (s sample) cut(dst, extents []extent, stride int) []extent {
	height, step := s.stretch, s.step
	if s.from > 0 || s.to < stride {
		height, step = 1, 1
	}
	for _, e := range extents {
		row := s.first
		for left := s.rows; left > 0; left -= height {
			from, to := int32(row*stride+s.from), int32((row+min(left, height)-1)*stride+s.to)
			part := e
			if part.from < from {
				part.from, part.lead = from, 0
			}
			if part.to = min(part.to, to); part.from < part.to {
				dst = append(dst, part)
			}
			row += step
		}
	}
	return dst
}

// middle is a sample of so many bytes of a band, which tells the code of what depends on no column: its middle, or, if it is drawn,
// stretches that are spread over it.
func (l *layout) middle(b *band, size int) sample {
	rows := min(max(sampleRows, (size+l.stride-1)/l.stride), b.rows)
	s := sample{first: (b.rows - rows) / 2, rows: rows, to: l.stride, stretch: rows, step: rows}
	switch n := rows / sampleStretch; {
	case !b.drawn():
		s.known = min(knownRows, s.first)
	case rows < b.rows && n > 1:
		s.rows, s.stretch, s.step = n*sampleStretch, sampleStretch, b.rows/n
		s.first = (s.step - s.stretch) / 2
	}
	return s
}

// turn is the sample, of size bytes, of the nth of the levels that are sampled, and how many rows each of its rows stands for.
func (l *layout) turn(b *band, size, nth, levels int) (s sample, weight uint32) {
	s = l.middle(b, size)
	all := s.rows
	if !b.drawn() {
		s.rows = max(1, all/turns)
	}
	beside := b.rows - s.rows
	if s.spread() {
		beside = s.step - s.stretch
	}
	s.first = beside * (2*nth + 1) / (2 * levels)
	if odd := (s.first + (seams-1)*nth*s.rows) % seams; !b.drawn() && odd <= s.first {
		s.first -= odd // two levels together show a seam about as often as there is one
	}
	if !b.drawn() {
		s.known = min(knownRows, s.first)
	}
	return s, uint32(all / s.rows)
}

// sampler renders samples of frames whose columns all stand at one level.
type sampler struct {
	c      *coding
	base   picture.Reader
	photos []picture.Reader // by level; those that are sampled are there
	level  int
}

// top is the highest level, at which all objects show.
func (s *sampler) top() int { return max(len(s.photos)-1, 0) }

// render does what set does, and puts the filtered bytes into w.filtered.
func (s *sampler) render(w *worker, b, i int, rows sample, as *block) {
	s.set(w, b, i, rows)
	w.render(s.c.layout, &s.c.layout.bands[b], as, w.extents)
}

// set puts the extents of part i of band b that lie in a sample into w.extents, after the w.known ones before it, and makes w.pixels those
// of its columns.
func (s *sampler) set(w *worker, b, i int, rows sample) {
	l := s.c.layout
	band := &l.bands[b]
	part := &band.parts[i]
	columns := l.sets.members[part.set]
	w.tuple = w.tuple[:0]
	for range columns {
		w.tuple = append(w.tuple, levels.Level(s.level)*levels.One)
	}
	w.pixels.set(&s.c.source, columns, w.tuple, s.base, s.photos)

	w.extents = rows.before().cut(w.extents[:0], part.extents, l.stride)
	w.known = len(w.extents)
	w.extents = rows.cut(w.extents, part.extents, l.stride)
}

// count parses the extents that have been rendered, but for the known ones, and adds their tokens to seen, each weight times.
func (w *worker) count(seen *counts, weight uint32, as *block) {
	w.begin(w.extents, as)
	for k := range w.known {
		w.parser.learn(k)
	}
	for k := w.known; k < len(w.extents); k++ {
		seen.count(w.parser.parse(k, as.table), weight)
	}
}

// entropy is the number of bits, in 65536ths, that the tokens counted need with the best code of single symbols, were it
// not bound to whole bits.
func (c *counts) entropy() int64 {
	e := entropy(c.symbols[:]) + entropy(c.distances[:])
	for symbol := firstLength; symbol < symbols; symbol++ {
		e += int64(c.symbols[symbol]) * int64(lengthExtra(symbol)) << 16
	}
	for symbol, n := range c.distances {
		e += int64(n) * int64(distanceExtra(symbol)) << 16
	}
	return e
}

// entropy is the same for symbols of one kind without extra bits.
func entropy(counts []uint32) int64 {
	total := int64(0)
	for _, n := range counts {
		total += int64(n)
	}
	e := total * log2(total)
	for _, n := range counts {
		e -= int64(n) * log2(int64(n))
	}
	return e
}

// log2 is the binary logarithm of v in 65536ths, rounded down; 0 for v 0.
func log2(v int64) int64 {
	if v == 0 {
		return 0
	}
	log := int64(bits.Len64(uint64(v)) - 1)
	x := uint64(v) << bits.LeadingZeros64(uint64(v)) // 1 to 2, with 63 bits of fraction
	for range 16 {
		x, _ = bits.Mul64(x, x) // twice the logarithm; 1 to 4, with 62 bits of fraction
		log = log<<1 | int64(x>>63)
		if x>>63 == 0 {
			x <<= 1
		}
	}
	return log
}
