package strip

import (
	"context"

	"colonnade/analyze/levels"
	"colonnade/compose/picture"
)

// sampleRows is how many rows of each band tell its code.
const sampleRows = 8

// block is how a band is coded.
type block struct {
	filter int
	table  *table
}

// chooseBlocks finds the filter and the code of each band from a sample of its rows in the frames whose columns
// all stand at one level, for each level alike.
func (c *Coder) chooseBlocks(ctx context.Context) error {
	base, err := c.source.base()
	if err != nil {
		return err
	}
	c.blocks = make([]block, len(c.layout.bands))
	seen := make([]counts, len(c.blocks))
	err = c.each(ctx, len(c.blocks), func(w *worker, b int) {
		c.blocks[b].filter = filterUp
		w.pixels.set(&c.source, nil, nil, base, nil)
		w.sample(c, b, 0, &seen[b], uint32(max(c.source.Photos, 1)))
	})
	if err != nil {
		return err
	}
	for level := 0; level < c.source.Photos && len(c.source.Masks) > 0; level++ {
		photo, err := c.source.photo(level)
		if err != nil {
			return err
		}
		photos := map[int]*picture.Picture{level: photo}
		tuple := make([]levels.Level, len(c.source.Masks))
		for i := range tuple {
			tuple[i] = levels.Level(level) * levels.One
		}
		err = c.each(ctx, len(c.blocks), func(w *worker, b int) {
			for i, p := range c.layout.bands[b].parts {
				if p.set != static {
					columns := c.layout.sets.members[p.set]
					w.pixels.set(&c.source, columns, tuple[:len(columns)], base, photos)
					w.sample(c, b, i, &seen[b], 1)
				}
			}
		})
		if err != nil {
			return err
		}
	}
	return c.each(ctx, len(c.blocks), func(w *worker, b int) {
		c.blocks[b].table = newTable(&seen[b])
	})
}

// sample adds the sample rows of a part to the counts.
func (w *worker) sample(c *Coder, b, part int, seen *counts, weight uint32) {
	band := &c.layout.bands[b]
	rows := min(sampleRows, band.rows)
	first := (band.rows - rows) / 2
	from, to := int32(first*c.layout.stride), int32((first+rows)*c.layout.stride)
	w.extents = w.extents[:0]
	for _, e := range band.parts[part].extents {
		if e = (extent{max(e.from, from), min(e.to, to)}); e.from < e.to {
			w.extents = append(w.extents, e)
		}
	}
	w.render(c.layout, band, c.blocks[b].filter, w.extents)
	rest := w.filtered
	for _, e := range w.extents {
		data := rest[:e.to-e.from]
		rest = rest[len(data):]
		w.tokens = literals(w.tokens[:0], data)
		seen.count(w.tokens, weight)
	}
}
