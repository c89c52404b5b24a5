package scene

import (
	"sync"

	"colonnade/compose/photos"
	"colonnade/compose/picture"
)

// cache holds the decoded photos. Each is decoded once however many ask for it at the same time, and again
// after it was dropped.
type cache struct {
	mutex   sync.Mutex
	entries map[*photos.Photo]*entry
	cores   chan struct{} // taken by what prepare decodes
}

type entry struct {
	mutex  sync.Mutex
	pixels picture.Reader // nil before the photo is decoded
	err    error
}

// Photo is the photo of a level, 0 to Set.Top, as the frame sees it: corrected, cut and resized. It is shared and must
// not be changed. The error is that of photos.Photo.Decode.
func (s *Scene) Photo(level int) (*picture.Picture, error) { return s.whole(s.Set.Photos[level]) }

// BasePlate is the photo of the base plate as the frame sees it. It is shared and must not be changed.
func (s *Scene) BasePlate() (*picture.Picture, error) { return s.whole(s.Base) }

// ReadPhoto is Photo for those who read stretches. A JPEG photo that is neither turned, corrected, cut nor resized stays as its samples,
// which mostly take half the memory.
func (s *Scene) ReadPhoto(level int) (picture.Reader, error) { return s.reader(s.Set.Photos[level]) }

// ReadBasePlate is BasePlate for those who read stretches.
func (s *Scene) ReadBasePlate() (picture.Reader, error) { return s.reader(s.Base) }

// whole is a photo's pixels. Once they are asked for, the scene keeps them in the place of what they are read from.
func (s *Scene) whole(photo *photos.Photo) (*picture.Picture, error) {
	e, _ := s.cache.entry(photo)
	if _, err := s.decode(photo, e); err != nil {
		return nil, err
	}
	e.mutex.Lock()
	defer e.mutex.Unlock()
	pixels := picture.Whole(e.pixels)
	e.pixels = pixels
	return pixels, nil
}

// entry is the photo's, and whether it is new.
func (c *cache) entry(photo *photos.Photo) (e *entry, isNew bool) {
	c.mutex.Lock()
	defer c.mutex.Unlock()
	if c.entries == nil {
		c.entries = make(map[*photos.Photo]*entry)
	}
	if e = c.entries[photo]; e == nil {
		e, isNew = new(entry), true
		c.entries[photo] = e
	}
	return e, isNew
}

func (s *Scene) reader(photo *photos.Photo) (picture.Reader, error) {
	e, _ := s.cache.entry(photo)
	return s.decode(photo, e)
}

// decode gives the photo's entry its pixels, once, or its error.
func (s *Scene) decode(photo *photos.Photo, e *entry) (picture.Reader, error) {
	e.mutex.Lock()
	defer e.mutex.Unlock()
	if e.pixels != nil || e.err != nil {
		return e.pixels, e.err
	}
	pixels, err := photo.Decode()
	if err == nil {
		pixels, err = s.corrected(photo, pixels)
	}
	if err != nil {
		e.err = err
		return nil, err
	}
	e.pixels = s.View.Apply(pixels, s.profile.Curve)
	return e.pixels, nil
}

// prepare decodes the base plate and the photos of levels on all cores, in this order, for those who will ask for them one
// after the other. It leaves out what others have begun with. What is wrong with one is met when it is asked for.
func (s *Scene) prepare(levels []int) {
	needed := []*photos.Photo{s.Base}
	for _, level := range levels {
		needed = append(needed, s.Set.Photos[level])
	}
	var group sync.WaitGroup
	for _, photo := range needed {
		e, isNew := s.cache.entry(photo)
		if !isNew {
			continue
		}
		s.cache.cores <- struct{}{}
		group.Go(func() {
			s.decode(photo, e)
			<-s.cache.cores
		})
	}
	group.Wait()
}

// Decode decodes the base plate and the photos of levels, which the scene keeps, on all cores. The error is that of the
// first one that fails, the base plate being the first of all.
func (s *Scene) Decode(levels []int) error {
	s.prepare(levels)
	if _, err := s.ReadBasePlate(); err != nil {
		return err
	}
	for _, level := range levels {
		if _, err := s.ReadPhoto(level); err != nil {
			return err
		}
	}
	return nil
}

// Levels is the levels of all photos, rising.
func (s *Scene) Levels() []int {
	all := make([]int, len(s.Set.Photos))
	for level := range all {
		all[level] = level
	}
	return all
}

// Drop forgets the decoded photos; they are decoded again when asked for.
func (s *Scene) Drop() {
	s.cache.mutex.Lock()
	defer s.cache.mutex.Unlock()
	s.cache.entries = nil
}
