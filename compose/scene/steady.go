package scene

import (
	"encoding/binary"
	"io"
	"sync"

	"colonnade/compose/photos"
	"colonnade/compose/picture"
)

// steadyVersion is part of every key of a steadied scene. It changes whenever a photo would be measured or corrected
// in another way.
const steadyVersion = "steady 1"

// Steady brings each photo to the base plate's light and place, right after it is decoded and before the view is
// taken of it. The base plate stays as it is.
type Steady struct {
	Light, Shift bool
	// Measure makes the base plate ready, when the first photo is decoded, and gives what tells by how much a photo is off.
	// level is -1 for a photo that is not of the set. It gives a correction of nothing where it is not sure.
	Measure func(base *picture.Picture) func(photo *picture.Picture, level int) photos.Correction
}

// steadier holds what a steadied scene knows of its photos. Each is measured once, even when it is decoded again.
type steadier struct {
	Steady
	base func() (*picture.Picture, error)

	ready       sync.Once
	measure     func(photo *picture.Picture, level int) photos.Correction
	mutex       sync.Mutex
	corrections map[*photos.Photo]photos.Correction
}

// SetSteady makes the scene correct its photos. It is called before anything else is asked of the scene, for the
// frames' keys change.
func (s *Scene) SetSteady(steady Steady) {
	if !steady.Light && !steady.Shift {
		return
	}
	s.steady = &steadier{Steady: steady, corrections: make(map[*photos.Photo]photos.Correction)}
	s.steady.base = sync.OnceValues(s.Base.Pixels)
	s.digest = s.sum()
}

// digest adds the choices to what the scene's digest is made of. What is measured follows from the photos and the regions, which it holds already.
func (s *steadier) digest(w io.Writer) {
	if s == nil {
		return
	}
	io.WriteString(w, steadyVersion)
	binary.Write(w, binary.LittleEndian, []bool{s.Light, s.Shift})
}

// corrected is a photo of the set as it is to be used; decoded is what its file holds.
func (s *Scene) corrected(photo *photos.Photo, decoded picture.Reader) (picture.Reader, error) {
	t := s.steady
	if t == nil || photo.Digest == s.Base.Digest {
		return decoded, nil
	}
	pixels := picture.Whole(decoded)
	base, err := t.base()
	if err != nil {
		return nil, err
	}
	t.ready.Do(func() { t.measure = t.Measure(base) })
	t.mutex.Lock()
	correction, known := t.corrections[photo]
	t.mutex.Unlock()
	if !known {
		correction = t.measure(pixels, s.levelOf(photo))
		t.mutex.Lock()
		t.corrections[photo] = correction
		t.mutex.Unlock()
	}
	if !t.Light {
		correction.Gain = [3]int64{}
	}
	if !t.Shift {
		correction.Shift = [2]int64{}
	}
	return correction.Apply(pixels, base, s.profile.Curve), nil
}

func (s *Scene) levelOf(photo *photos.Photo) int {
	for level, other := range s.Set.Photos {
		if other == photo {
			return level
		}
	}
	return -1
}
