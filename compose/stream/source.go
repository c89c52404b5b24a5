package stream

import (
	"errors"
	"fmt"

	"colonnade/analyze/levels"
	"colonnade/compose/light"
	"colonnade/compose/picture"
	"colonnade/masks"
)

// Source is what frames are made from. All pictures have the frame's size, and the masks lie inside it.
//
// Base and Photo are called when a picture is needed, one at a time; a picture may be asked for many times, so
// it is for the caller to keep it. Pictures are read only, and not kept.
type Source struct {
	Width, Height int
	Base          func() (picture.Reader, error)
	Photo         func(level int) (picture.Reader, error) // 0 to Photos-1
	Photos        int
	Masks         []*masks.Mask // by column, in the order in which columns are laid over each other
	Curve         *light.Curve
}

func (s *Source) check() error {
	if s.Width <= 0 || s.Height <= 0 {
		return fmt.Errorf("frame: is %d x %d; both must be 1 or more", s.Width, s.Height)
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
			return fmt.Errorf("mask of column %d: has %d values, and %d x %d pixels need %d; make one for each pixel", i+1, len(m.Alpha), r.Dx(), r.Dy(), r.Dx()*r.Dy())
		}
	}
	return nil
}

// base is the base plate, its size checked.
func (s *Source) base() (picture.Reader, error) {
	p, err := s.Base()
	if err != nil {
		return nil, err
	}
	return p, s.fits("base plate", p)
}

// photo is the photo of a level, its size checked.
func (s *Source) photo(level int) (picture.Reader, error) {
	p, err := s.Photo(level)
	if err != nil {
		return nil, err
	}
	return p, s.fits(fmt.Sprintf("photo of level %d", level), p)
}

func (s *Source) fits(name string, p picture.Reader) error {
	if width, height := p.Size(); width != s.Width || height != s.Height {
		return fmt.Errorf("%s: is %d x %d, the frame is %d x %d; fit it to the frame", name, width, height, s.Width, s.Height)
	}
	return nil
}

// fit tells whether a tuple is one of this source.
func (s *Source) fit(tuple []levels.Level) error {
	if len(tuple) != len(s.Masks) {
		return fmt.Errorf("frame: has %d levels, and there are %d columns; give one level for each", len(tuple), len(s.Masks))
	}
	top := s.Photos - 1
	for i, level := range tuple {
		if level < 0 || level > levels.Level(top)*levels.One {
			return fmt.Errorf("column %d: stands at level %v, and the photos go from 0 to %d; keep it between them", i+1, float64(level)/float64(levels.One), top)
		}
	}
	return nil
}
