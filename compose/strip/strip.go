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
// The empty stage, which a song mostly begins and ends with, is a picture like any other: it is coded by itself, as if there were
// no columns, so that matches go across their borders and no other photo is looked at.
//
// The tables come from the photos alone, never from the frames asked for, and a state's bits from the tables and the
// photos alone. All of it is done in whole numbers. So a frame has the same bytes in a preview, a shard and a
// whole render, on any number of workers, with any memory and on any processor.
package strip

import (
	"context"
	"runtime"
	"slices"

	"colonnade/analyze/levels"
	"colonnade/compose/picture"
)

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
	full   *coding // of frames that show objects
	empty  *coding // of the others: those of a source without columns
}

// New makes a Coder, which looks at no picture before it has to. Errors are those of a source that does not fit together, such as a mask
// outside the frame.
func New(source Source, options Options) (*Coder, error) {
	if err := source.check(); err != nil {
		return nil, err
	}
	workers := options.Workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	crew := crew{idle: make(chan *worker, workers), memo: newMemo(options.Memory)}
	for range workers {
		crew.idle <- newWorker(source.Width)
	}
	c := &Coder{source: source, full: newCoding(source, crew)}
	c.empty = newCoding(Source{Width: source.Width, Height: source.Height, Base: c.emptyStage}, crew)
	return c, nil
}

// Prepare does what is else done when the first frame with an object is made, if one of the levels shown is above 0, or the first frame without
// one. For that it looks at the base plate and the first photo; for the other at these and the last photo, and, where a mask lies on rows in
// which the base plate is drawn, at all photos. Errors are those of Base and Photo, that of a picture of another size, and that of ctx, with which it ends early.
func (c *Coder) Prepare(ctx context.Context, shown []int) error {
	if slices.ContainsFunc(shown, func(level int) bool { return level > 0 }) {
		return c.full.prepare(ctx)
	}
	return c.empty.prepare(ctx)
}

// emptyStage is the frame in which all columns stand at level 0. Mostly that is the base plate, which mostly is the first photo.
func (c *Coder) emptyStage() (picture.Reader, error) {
	if len(c.source.Masks) == 0 {
		base, _, err := c.source.load(nil)
		return base, err
	}
	base, photos, err := c.source.load([]int{0})
	if err != nil || photos[0] == base {
		return base, err
	}
	var columns []int
	for column := range c.source.Masks {
		columns = append(columns, column)
	}
	stage := picture.New(c.source.Width, c.source.Height)
	err = c.empty.each(context.Background(), stage.Height, func(w *worker, y int) {
		w.pixels.set(&c.source, columns, make([]levels.Level, len(columns)), base, photos)
		w.pixels.row(stage.Row(y), y, 0, stage.Width)
	})
	return stage, err
}

// frame is what the tuple's frame is made from, its states being held until done, and how it is coded.
func (c *Coder) frame(ctx context.Context, tuple []levels.Level) (*coding, *frame, error) {
	if err := c.source.fits(tuple); err != nil {
		return nil, nil, err
	}
	of := c.full
	if !slices.ContainsFunc(tuple, func(level levels.Level) bool { return level > 0 }) {
		of, tuple = c.empty, nil
	}
	f, err := of.frame(ctx, tuple)
	return of, f, err
}

// Size is the number of bytes that Append adds for the same arguments. It codes states that are not in memory.
func (c *Coder) Size(head []byte, tuple []levels.Level) (int, error) {
	of, f, err := c.frame(context.Background(), tuple)
	if err != nil {
		return 0, err
	}
	defer of.done(f)
	size, err := of.dataSize(f)
	if err != nil {
		return 0, err
	}
	return len(head) + chunkSize + size + chunkSize, nil
}

// Append adds to dst the PNG file of the frame in which column i stands at tuple[i]: head, which is signature,
// header and all else that comes before the picture, then the picture in one IDAT chunk, then the end. It codes
// states that are not in memory, and allocates nothing when all are and dst has room. With an error dst comes
// back as it was.
func (c *Coder) Append(dst []byte, head []byte, tuple []levels.Level) ([]byte, error) {
	of, f, err := c.frame(context.Background(), tuple)
	if err != nil {
		return dst, err
	}
	defer of.done(f)
	return of.append(dst, head, f)
}
