// Package strip makes the PNG files of frames at about the speed at which memory is copied.
//
// TODO: idea
package strip

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"sync"

	"colonnade/analyze/levels"
	"colonnade/compose/light"
	"colonnade/compose/picture"
	"colonnade/masks"
)

// Source is what frames are made from. All pictures have the frame's size, and masks lie inside it.
//
// Base and Photo are called when a picture is needed, by one goroutine at a time; a picture may be asked for
// many times, so it is for the caller to keep it. Pictures are read only, and not kept.
type Source struct {
	Width, Height int
	Base          func() (*picture.Picture, error)
	Photo         func(level int) (*picture.Picture, error) // 0 to Photos-1
	Photos        int
	Masks         []*masks.Mask // by column, in the order in which columns are laid over each other
	Curve         *light.Curve
}

// Options says what a Coder may use. None of it changes what it makes.
type Options struct {
	// Memory is the most bytes that coded states may take, 0 for no bound. A state that had to go is coded again
	// when it is needed. The states of a frame being made are always held, so that less than one frame's
	// size is taken as one frame at a time.
	Memory int64
	// Workers is how many goroutines code at once; 0 for one a processor.
	Workers int
}

// Coder makes the PNG files of frames. All methods may be called by several goroutines at once.
type Coder struct {
	source Source
	layout *layout
	blocks []block // by band
	idle   chan *worker
	memo   memo
	frames sync.Pool // of *frame, what a call of Append needs
}

// New prepares to make frames: it finds which bytes depend on which columns, and the codes of all bands, for
// which it looks at every photo once. The codes depend on nothing but the source.
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
		layout: newLayout(source.Width, source.Height, source.Masks),
		idle:   make(chan *worker, workers),
	}
	for range workers {
		c.idle <- newWorker(c.layout)
	}
	c.frames.New = func() any { return c.newFrame() }
	c.memo.init(len(c.layout.sets.members), options.Memory)
	if err := c.chooseBlocks(ctx); err != nil {
		return nil, err
	}
	return c, nil
}

func (s *Source) check() error {
	if s.Width <= 0 || s.Height <= 0 {
		return fmt.Errorf("frame: size is %d x %d; both must be 1 or more", s.Width, s.Height)
	}
	if len(s.Masks) > 0 && s.Photos <= 0 {
		return errors.New("photos: there are none; a column needs at least one")
	}
	for i, m := range s.Masks {
		r := m.Rect
		if r.Min.X < 0 || r.Min.Y < 0 || r.Max.X > s.Width || r.Max.Y > s.Height {
			return fmt.Errorf("mask of column %d: lies at %v, outside the frame of %d x %d; cut it at the frame", i+1, r, s.Width, s.Height)
		}
		if len(m.Alpha) != r.Dx()*r.Dy() {
			return fmt.Errorf("mask of column %d: has %d values; %d x %d pixels need %d", i+1, len(m.Alpha), r.Dx(), r.Dy(), r.Dx()*r.Dy())
		}
	}
	return nil
}

// base is the base plate, its size checked.
func (s *Source) base() (*picture.Picture, error) {
	p, err := s.Base()
	if err != nil {
		return nil, err
	}
	return p, s.fits("base plate", p)
}

// photo is the photo of a level, its size checked.
func (s *Source) photo(level int) (*picture.Picture, error) {
	p, err := s.Photo(level)
	if err != nil {
		return nil, err
	}
	return p, s.fits(fmt.Sprintf("photo of level %d", level), p)
}

func (s *Source) fits(name string, p *picture.Picture) error {
	if p.Width != s.Width || p.Height != s.Height {
		return fmt.Errorf("%s: is %d x %d, the frame is %d x %d; fit it to the frame", name, p.Width, p.Height, s.Width, s.Height)
	}
	return nil
}

// fit tells whether a tuple is one of this source.
func (s *Source) fit(tuple []levels.Level) error {
	if len(tuple) != len(s.Masks) {
		return fmt.Errorf("frame: has %d levels; there are %d columns", len(tuple), len(s.Masks))
	}
	top := levels.Level(s.Photos-1) * levels.One
	for i, level := range tuple {
		if level < 0 || level > top {
			return fmt.Errorf("column %d: stands at level %v; the photos go from 0 to %d", i+1, float64(level)/float64(levels.One), s.Photos-1)
		}
	}
	return nil
}
