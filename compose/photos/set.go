package photos

import (
	"bytes"
	"fmt"
	"image"
	"runtime"

	"golang.org/x/sync/errgroup"
)

// Set is a photo set: photos in level order, all of one size and colour profile.
type Set struct {
	Photos []*Photo
	Size   image.Point
}

// OpenSet finds a set, a folder or a glob (see Find), and opens its photos (see Open); no pixel is decoded. Of several
// errors it gives that of the lowest level. It also refuses photos that differ in size or colour profile.
func OpenSet(where string) (*Set, error) {
	files, err := Find(where)
	if err != nil {
		return nil, err
	}
	set := &Set{Photos: make([]*Photo, len(files))}
	var group errgroup.Group
	group.SetLimit(runtime.GOMAXPROCS(0))
	failed := make([]error, len(files)) // the first in level order is reported, whichever worker met one first
	for i, file := range files {
		group.Go(func() error {
			set.Photos[i], failed[i] = Open(file)
			return nil
		})
	}
	group.Wait()
	for _, err := range failed {
		if err != nil {
			return nil, err
		}
	}
	set.Size = set.Photos[0].Size
	for _, photo := range set.Photos[1:] {
		if err := set.Agrees(photo); err != nil {
			return nil, err
		}
	}
	return set, nil
}

// Agrees says how a photo differs from the set in size or profile, nil when it does not.
func (s *Set) Agrees(photo *Photo) error {
	first := s.Photos[0]
	if photo.Size != s.Size {
		// The odd one out may be the first.
		same := 0
		for _, other := range s.Photos {
			if other.Size == photo.Size {
				same++
			}
		}
		odd, size := photo, s.Size
		if 2*same > len(s.Photos) {
			odd, size = first, photo.Size
		}
		return fmt.Errorf("photos: %s is %d x %d, the others are %d x %d; all photos of a set have one size and orientation: take it out or export it again",
			Quote(odd.Path), odd.Size.X, odd.Size.Y, size.X, size.Y)
	}
	if !bytes.Equal(photo.Profile, first.Profile) {
		return fmt.Errorf("photos: %s has another colour profile than %s; export all photos with the same one", Quote(photo.Path), Quote(first.Path))
	}
	return nil
}

// Top is the highest level of the set.
func (s *Set) Top() int { return len(s.Photos) - 1 }

// Profile is the set's ICC profile, nil when its photos carry none.
func (s *Set) Profile() []byte { return s.Photos[0].Profile }
