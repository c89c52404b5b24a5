package scene

import (
	"runtime"
	"slices"
	"sync"

	"golang.org/x/sync/errgroup"

	"colonnade/compose/photos"
	"colonnade/compose/picture"
)

// cache holds the decoded photos. Each is decoded once however many ask for it at the same time, and again
// after it was dropped.
type cache struct {
	mutex   sync.Mutex
	entries map[*photos.Photo]*entry
}

type entry struct {
	once    sync.Once
	picture *picture.Picture
	err     error
}

// Photo is the photo of a level, 0 to Set.Top, as the frame sees it: corrected, cut and resized. It is shared and must
// not be changed. The error is that of photos.Photo.Pixels.
func (s *Scene) Photo(level int) (*picture.Picture, error) { return s.decoded(s.Set.Photos[level]) }

// BasePlate is the photo of the base plate as the frame sees it. It is shared and must not be changed.
func (s *Scene) BasePlate() (*picture.Picture, error) { return s.decoded(s.Base) }

func (s *Scene) decoded(photo *photos.Photo) (*picture.Picture, error) {
	s.cache.mutex.Lock()
	if s.cache.entries == nil {
		s.cache.entries = make(map[*photos.Photo]*entry)
	}
	e := s.cache.entries[photo]
	if e == nil {
		e = new(entry)
		s.cache.entries[photo] = e
	}
	s.cache.mutex.Unlock()
	e.once.Do(func() {
		pixels, err := photo.Pixels()
		if err == nil {
			pixels, err = s.corrected(photo, pixels)
		}
		if err == nil {
			e.picture = s.View.Apply(pixels, s.profile.Curve)
		}
		e.err = err
	})
	return e.picture, e.err
}

// decodeAll decodes every photo on all cores, for those who will ask for them one after the other. What is wrong with
// one is met when it is asked for.
func (s *Scene) decodeAll() {
	var group errgroup.Group
	group.SetLimit(runtime.GOMAXPROCS(0))
	all := s.Set.Photos
	if !slices.Contains(all, s.Base) { // two would wait for the same one, and a core with them
		all = append([]*photos.Photo{s.Base}, all...)
	}
	for _, photo := range all {
		group.Go(func() error {
			s.decoded(photo)
			return nil
		})
	}
	group.Wait()
}

// Decode decodes every photo, which the scene keeps, on all cores. An error is that of the lowest one that fails.
func (s *Scene) Decode() error {
	s.decodeAll()
	if _, err := s.BasePlate(); err != nil {
		return err
	}
	for level := range s.Set.Photos {
		if _, err := s.Photo(level); err != nil {
			return err
		}
	}
	return nil
}

// Drop forgets the decoded photos; they are decoded again when asked for.
func (s *Scene) Drop() {
	s.cache.mutex.Lock()
	defer s.cache.mutex.Unlock()
	s.cache.entries = nil
}
