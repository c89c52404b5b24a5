package strip

import (
	"context"
	"slices"
	"sync/atomic"

	"colonnade/compose/picture"
)

// coding is how all frames of a source are coded, and what of them has been. It is prepared when the first of them is asked for.
type coding struct {
	source   Source
	crew     // shared with others
	prepared atomic.Bool
	layout   *layout
	blocks   []block  // by band
	states   []states // by set
	spare    chan *frame
}

// crew is the workers, and what is kept of their work.
type crew struct {
	idle chan *worker
	memo *memo
}

// spares is how many frames that are done are kept, as many as may well be made at once.
const spares = 64

func newCoding(source Source, crew crew) *coding {
	return &coding{source: source, crew: crew, spare: make(chan *frame, spares)}
}

// prepare finds which bytes depend on which columns, and the filter and codes of each band. After an error the next one tries again.
func (c *coding) prepare(ctx context.Context) error {
	if c.prepared.Load() {
		return nil
	}
	c.memo.turn.Lock()
	defer c.memo.turn.Unlock()
	if c.prepared.Load() {
		return nil
	}
	source := &c.source
	var ends []int
	if len(source.Masks) > 0 {
		ends = slices.Compact([]int{0, source.Photos - 1})
	}
	base, photos, err := source.load(ends)
	if err != nil {
		return err
	}
	textures, err := c.textures(ctx, base)
	if err != nil {
		return err
	}
	if base, photos, err = c.whole(ctx, textures, base, photos); err != nil {
		return err
	}
	differ, err := c.compare(ctx, textures, base, photos)
	if err != nil {
		return err
	}
	c.layout = newLayout(source.Width, source.Height, source.Masks, differ)
	if err := c.chooseBlocks(ctx, base, photos); err != nil {
		return err
	}
	c.states = make([]states, len(c.layout.sets.members))
	for i := range c.states {
		c.states[i] = states{}
	}
	c.prepared.Store(true)
	return nil
}

// whole has the photos of all levels at hand if a mask reaches drawn rows, and makes all pixels of what is read several times there: of the base
// plate, and of these photos. Where few rows are drawn it does not pay: they stay what they are read from.
func (c *coding) whole(
	ctx context.Context, textures []texture, base picture.Reader, photos []picture.Reader,
) (picture.Reader, []picture.Reader, error) {
	reached := c.source.drawn(textures)
	if reached {
		var all []int
		for level := range c.source.Photos {
			all = append(all, level)
		}
		var err error
		if _, photos, err = c.source.load(all); err != nil {
			return nil, nil, err
		}
	}
	drawn := 0
	for _, t := range textures {
		if t.drawn() {
			drawn++
		}
	}
	if 2*drawn <= len(textures) {
		return base, photos, nil
	}
	plate := picture.Whole(base)
	if !reached {
		return plate, photos, nil
	}
	err := c.each(ctx, len(photos), func(_ *worker, level int) {
		if photos[level] == base {
			photos[level] = plate
		} else {
			photos[level] = picture.Whole(photos[level])
		}
	})
	return plate, photos, err
}
