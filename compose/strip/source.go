package strip

import (
	"errors"
	"fmt"

	"colonnade/analyze/levels"
	"colonnade/compose/light"
	"colonnade/compose/picture"
	"colonnade/masks"
)

// Source is what frames are made from. All pictures have the frame's size, and masks lie inside it.
//
// Base and Photo are called whenever a picture is needed, by one goroutine at a time. The same picture is asked for
// several times, so it is for the caller to keep it. The Coder only reads it, on all its workers at once, and does not hold it for longer than
// one call. Pictures are compared by ==, which tells where a column shows the base plate's own photo.
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

// maxWidth keeps places in a band of rows below 1<<29 (spot).
const maxWidth = 1 << 21

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
