package strip

import (
	"context"
	"math"
	"math/bits"

	"colonnade/analyze/levels"
	"colonnade/compose/picture"
)

// A sample of a band's rows tells its filter and its code: sampleBytes in whole rows, eight at a width of 1920 pixels, but at
// least sampleRows. Twice as many gain some thousandths on photographs. A flat band is soon looked through, and its
// code must know where edges are: sampleFlat is all flatRows up to a width of 682 pixels, 92 of them at 1920. All of them
// would gain two parts in a hundred there and six at twice that width, and take twice the time.
//
// Photos of one stage are much alike. So of each level only a part of as many rows is taken, one in turns, and each from
// another place in the band: that makes files no larger. In flat bands all are taken.
const (
	sampleBytes = 46000
	sampleFlat  = 1 << 19
	sampleRows  = 4
	turns       = 4
)

// sample is rows of a band.
type sample struct{ first, rows int }

// middle is the sample that tells the filter.
func (l *layout) middle(b *band) sample {
	size := sampleBytes
	if b.flat {
		size = sampleFlat
	}
	rows := min(max(sampleRows, (size+l.stride-1)/l.stride), b.rows)
	return sample{(b.rows - rows) / 2, rows}
}

// turn is the sample of one level of photos, and how many rows each of its rows stands for.
func (l *layout) turn(b *band, level, photos int) (s sample, weight uint32) {
	s = l.middle(b)
	all := s.rows
	if !b.flat {
		s.rows = max(1, all/turns)
	}
	s.first = (b.rows - s.rows) * (2*level + 1) / (2 * photos)
	return s, uint32(all / s.rows)
}

// block is how a band is coded.
type block struct {
	filter int
	table  *table
}

// chooseBlocks finds the filter and the code of each band from a sample of its rows. The filter is the one that
// leaves the least entropy in the frame whose columns all stand at the middle photo; the code is the best one for
// the frames whose columns all stand at one level, every level counting alike.
func (c *Coder) chooseBlocks(ctx context.Context) error {
	base, err := c.source.base()
	if err != nil {
		return err
	}
	c.blocks = make([]block, len(c.layout.bands))
	seen := make([]counts, len(c.blocks))
	middle := sampler{c: c, base: base, photos: make([]*picture.Picture, c.source.Photos), level: c.source.Photos / 2}
	if len(c.source.Masks) > 0 {
		if middle.photos[middle.level], err = c.source.photo(middle.level); err != nil {
			return err
		}
	}
	err = c.each(ctx, len(c.blocks), func(w *worker, b int) {
		c.blocks[b] = middle.block(w, b)
		middle.render(w, b, 0, c.layout.middle(&c.layout.bands[b]), c.blocks[b].filter)
		w.count(&seen[b], uint32(max(c.source.Photos, 1)), c.blocks[b].table)
	})
	for level := 0; err == nil && level < c.source.Photos && len(c.source.Masks) > 0; level++ {
		s := sampler{c: c, base: base, photos: make([]*picture.Picture, c.source.Photos), level: level}
		if s.photos[level], err = c.source.photo(level); err != nil {
			return err
		}
		err = c.each(ctx, len(c.blocks), func(w *worker, b int) {
			band := &c.layout.bands[b]
			rows, weight := c.layout.turn(band, level, c.source.Photos)
			for i := 1; i < len(band.parts); i++ {
				s.render(w, b, i, rows, c.blocks[b].filter)
				w.count(&seen[b], weight, c.blocks[b].table)
			}
		})
	}
	if err != nil {
		return err
	}
	return c.each(ctx, len(c.blocks), func(_ *worker, b int) {
		c.blocks[b].table = newTable(&seen[b])
	})
}

// sampler renders samples of frames whose columns all stand at one level.
type sampler struct {
	c      *Coder
	base   *picture.Picture
	photos []*picture.Picture // by level; that of the sampler's is there
	level  int
}

// render puts the extents of part i of band b that lie in some rows into w.extents, and their filtered bytes into w.filtered.
func (s *sampler) render(w *worker, b, i int, rows sample, filter int) {
	l := s.c.layout
	band := &l.bands[b]
	part := &band.parts[i]
	columns := l.sets.members[part.set]
	w.tuple = w.tuple[:0]
	for range columns {
		w.tuple = append(w.tuple, levels.Level(s.level)*levels.One)
	}
	w.pixels.set(&s.c.source, columns, w.tuple, s.base, s.photos)

	from, to := int32(rows.first*l.stride), int32((rows.first+rows.rows)*l.stride)
	w.extents = w.extents[:0]
	for _, e := range part.extents {
		if e.from < from {
			e.from, e.lead = from, 0
		}
		if e.to = min(e.to, to); e.from < e.to {
			w.extents = append(w.extents, e)
		}
	}
	w.render(l, band, filter, w.extents)
}

// filterOrder is the filters, those first that are chosen where several do as well.
var filterOrder = [filters]int{filterUp, filterPaeth, filterAverage, filterSub, filterNone}

// block finds the filter of band b and a table for a parse from which the counts for a better one are taken.
func (s *sampler) block(w *worker, b int) block {
	var best block
	least := int64(math.MaxInt64)
	for _, filter := range filterOrder {
		var seen counts
		for i := range s.c.layout.bands[b].parts {
			s.render(w, b, i, s.c.layout.middle(&s.c.layout.bands[b]), filter)
			for _, value := range w.filtered {
				seen.symbols[value]++
			}
		}
		if e := entropy(seen.symbols[:endOfBlock]); e < least {
			least = e
			best = block{filter, firstTable(&seen)}
		}
	}
	return best
}

// firstTable is the table for counts of literals alone. It takes for granted that every fortieth token is a match
// of the shortest length, and that each two steps of length are half as frequent.
func firstTable(seen *counts) *table {
	total := uint32(0)
	for _, n := range seen.symbols {
		total += n
	}
	for i := range symbols - firstLength {
		seen.symbols[firstLength+i] = total / 40 >> (i / 2)
	}
	return newTable(seen)
}

// count parses the extents that have been rendered and adds their tokens to seen, each weight times.
func (w *worker) count(seen *counts, weight uint32, t *table) {
	w.parser.begin(w.filtered, w.extents)
	for k := range w.extents {
		seen.count(w.parser.parse(k, t), weight)
	}
}

// entropy is the number of bits, in 65536ths, that the best code of single symbols would need, were it not bound to
// whole bits.
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
