// Package strip makes the PNG files of frames about as fast as memory is copied.
//
// Masks never move and levels are few, so most of what a PNG encoder would do for a frame has been done for an
// earlier one. A pixel of a frame depends on the levels of only those columns whose mask touches it. PNG filters each
// pixel by its neighbours to the left, above and above left, so a filtered byte depends on the columns that touch one
// of these four. Deflate then writes the byte as a code. With the filter of each row and the table of codes of each
// deflate block fixed for the whole render, the coded bits of a run of bytes in a row depend on the levels of those
// columns and on nothing else.
//
// So the filtered picture is cut into extents, runs of bytes that depend on the same set of columns, once for all
// frames (layout). All extents of one set, for one choice of levels of its columns, are a state. A state is coded
// when a frame first needs it, each of its extents into a string of bits, and kept (memo); a band in which another state
// of the set puts the same bytes is taken from there. A frame is then made
// by laying the strings of its states end to end (join): no pixel is looked at. What depends on no column is the
// state of the empty set; the headers of the blocks are part of its strings.
//
// What else a PNG file holds adds up as well. A byte's place in the picture never moves, so the Adler-32 of
// the whole is the sum of the shares of the states (share), and so is the length. Only the CRC-32 has to be taken
// over the file's own bytes.
//
// Three things keep this as small as usual compression. Matches, too, are made, but only from bytes of the same state,
// or static ones before it, to bytes of the same state (parser). The filter and the table of a band of rows are chosen
// from a sample of what the base plate, the first photo and the last put there, of drawings the middle one as well (choice,
// sample); rows at which the blocks of JPEG files begin have a filter of their own (findSeam). And extents are few: short static runs
// are coded along with their neighbours.
// Where a stage is drawn rather than photographed, pixels at which all photos agree depend on nothing
// (differences), extents also end where that costs least (layout), and what is like the pixel above whatever is
// shown depends on nothing either (touch): only the edges of objects do.
//
// The tables come from the photos alone, never from the frames asked for, and a state's bits from the tables and the
// photos alone. All of it is done in whole numbers. So a frame has the same bytes in a preview, a shard and a
// whole render, on any number of workers, with any memory and on any processor.
package strip

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"slices"

	"colonnade/analyze/levels"
	"colonnade/compose/light"
	"colonnade/compose/picture"
	"colonnade/masks"
)

// Source is what frames are made from. All pictures have the frame's size, and masks lie inside it.
//
// Base and Photo are called whenever a picture is needed, by one goroutine at a time. The same picture is asked for
// several times, so it is for the caller to keep it. The Coder only reads it, on all its workers at once, and does not hold it for longer than
// one call.
type Source struct {
	Width, Height int // pixels
	Base          func() (picture.Reader, error)
	Photo         func(level int) (picture.Reader, error) // 0 to Photos-1
	Photos        int
	// Prepare, where it is not nil, is told before they are asked for that the base plate and the photos of some levels are
	// needed next, so that they can be decoded side by side.
	Prepare func(levels []int)
	Masks   []*masks.Mask // by column, in the order in which columns are laid over each other
	Curve   *light.Curve  // in whose light pictures are mixed
}

// Options says what a Coder may use. It has no influence on the bytes that are made.
type Options struct {
	// Memory is the most bytes that coded states may take, 0 for no bound. A state that has to go is coded
	// again when it is needed. The states of one frame are always held, even if they alone take more.
	Memory int64
	// Workers is how many goroutines code at once, 0 for one a processor.
	Workers int
}

// Coder makes the PNG files of frames. Its methods may be called by several goroutines at once.
type Coder struct {
	source Source
	layout *layout
	blocks []block // by band
	memo   memo
	idle   chan *worker
	spare  chan *frame
}

// spares is how many frames that are done are kept, as many as may well be made at once.
const spares = 64

// maxWidth keeps places in a band of rows within 31 bits.
const maxWidth = 1 << 22

// New prepares to make frames: it finds which bytes depend on which columns, and the filter and codes of each band.
// It looks at the base plate, the first photo and the last, and, where a mask lies on rows in which the base plate is drawn, at
// all photos. Errors are those of a source that does not fit together (a mask outside the frame, a picture of another size),
// those of Base and Photo, and that of ctx, with which it ends early.
func New(ctx context.Context, source Source, options Options) (*Coder, error) {
	if err := source.check(); err != nil {
		return nil, err
	}
	workers := options.Workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	c := &Coder{
		source: source,
		idle:   make(chan *worker, workers),
		spare:  make(chan *frame, spares),
	}
	for range workers {
		c.idle <- newWorker(source.Width)
	}
	var ends, all []int
	if len(source.Masks) > 0 {
		ends = slices.Compact([]int{0, source.Photos - 1})
		for level := range source.Photos {
			all = append(all, level)
		}
	}
	base, photos, err := source.load(ends)
	if err != nil {
		return nil, err
	}
	textures, err := c.textures(ctx, base)
	if err != nil {
		return nil, err
	}
	if base, photos, err = c.whole(ctx, textures, base, photos, all); err != nil {
		return nil, err
	}
	differ, err := c.compare(ctx, textures, base, photos)
	if err != nil {
		return nil, err
	}
	c.layout = newLayout(source.Width, source.Height, source.Masks, differ)
	c.memo.init(len(c.layout.sets.members), options.Memory)
	if err := c.chooseBlocks(ctx, base, photos); err != nil {
		return nil, err
	}
	return c, nil
}

// whole makes all pixels of what is read several times where rows are drawn: of the base plate, and of the photos of all levels if a mask
// reaches there.
func (c *Coder) whole(
	ctx context.Context, textures []texture, base picture.Reader, photos []picture.Reader, all []int,
) (picture.Reader, []picture.Reader, error) {
	if !slices.ContainsFunc(textures, texture.drawn) {
		return base, photos, nil
	}
	plate := picture.Whole(base)
	if !c.source.drawn(textures) {
		return plate, photos, nil
	}
	_, photos, err := c.source.load(all)
	if err != nil {
		return nil, nil, err
	}
	err = c.each(ctx, len(photos), func(_ *worker, level int) {
		if photos[level] == base {
			photos[level] = plate
		} else {
			photos[level] = picture.Whole(photos[level])
		}
	})
	return plate, photos, err
}

func (s *Source) check() error {
	if s.Width <= 0 || s.Height <= 0 {
		return fmt.Errorf("frame: size is %d x %d; both must be 1 or more", s.Width, s.Height)
	}
	if s.Width > maxWidth {
		return fmt.Errorf("frame: is %d pixels wide; at most %d can be coded", s.Width, maxWidth)
	}
	if len(s.Masks) > 0 && s.Photos <= 0 {
		return errors.New("photos: there are none; a column needs at least one")
	}
	for i, m := range s.Masks {
		r := m.Rect
		if r.Min.X < 0 || r.Min.Y < 0 || r.Max.X > s.Width || r.Max.Y > s.Height {
			return fmt.Errorf("mask of column %d: lies at %v, outside the frame of %d x %d; cut it at the frame",
				i+1, r, s.Width, s.Height)
		}
		if len(m.Alpha) != r.Dx()*r.Dy() {
			return fmt.Errorf("mask of column %d: has %d values; %d x %d pixels need %d",
				i+1, len(m.Alpha), r.Dx(), r.Dy(), r.Dx()*r.Dy())
		}
	}
	return nil
}

// drawn tells whether a mask reaches into drawn rows. The row below a mask depends on it, too.
func (s *Source) drawn(textures []texture) bool {
	for _, m := range s.Masks {
		for b := m.Rect.Min.Y / bandRows; b < len(textures) && b*bandRows <= m.Rect.Max.Y; b++ {
			if textures[b].drawn() {
				return true
			}
		}
	}
	return false
}

// load is the base plate and the photos of levels, each in its level's place, their sizes checked.
func (s *Source) load(levels []int) (base picture.Reader, photos []picture.Reader, err error) {
	if s.Prepare != nil {
		s.Prepare(levels)
	}
	if base, err = s.base(); err != nil {
		return nil, nil, err
	}
	photos = make([]picture.Reader, s.Photos)
	for _, level := range levels {
		if photos[level], err = s.photo(level); err != nil {
			return nil, nil, err
		}
	}
	return base, photos, nil
}

// base is the base plate, its size checked.
func (s *Source) base() (picture.Reader, error) {
	p, err := s.Base()
	if err != nil {
		return nil, err
	}
	return p, s.size("base plate", p)
}

// photo is the photo of a level, its size checked.
func (s *Source) photo(level int) (picture.Reader, error) {
	p, err := s.Photo(level)
	if err != nil {
		return nil, err
	}
	return p, s.size(fmt.Sprintf("photo of level %d", level), p)
}

func (s *Source) size(name string, p picture.Reader) error {
	if width, height := p.Size(); width != s.Width || height != s.Height {
		return fmt.Errorf("%s: is %d x %d, the frame is %d x %d; fit it to the frame",
			name, width, height, s.Width, s.Height)
	}
	return nil
}

// fits tells whether a tuple is one of this source.
func (s *Source) fits(tuple []levels.Level) error {
	if len(tuple) != len(s.Masks) {
		return fmt.Errorf("frame: has %d levels; there are %d columns", len(tuple), len(s.Masks))
	}
	top := levels.Level(s.Photos-1) * levels.One
	for i, level := range tuple {
		if level < 0 || level > top {
			return fmt.Errorf("column %d: stands at level %v; the photos go from 0 to %d", i+1, level, s.Photos-1)
		}
	}
	return nil
}
