// Package scene gathers all that decides a frame's pixels: the photos, the view of them that fills the frame,
// the columns' masks, the base plate and the light they are mixed in. It gives each frame its key and its bytes.
package scene

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"image"
	"runtime"
	"sync"

	"golang.org/x/sync/errgroup"

	"colonnade/analyze/levels"
	"colonnade/compose/light"
	"colonnade/compose/photos"
	"colonnade/compose/pngfile"
	"colonnade/compose/profile"
	"colonnade/masks"
)

// formatVersion is part of every key. It changes whenever the same inputs would give other bytes.
const formatVersion = "colonnade frame 17"

// Column is where a column stands, in pixels of the photo.
type Column struct {
	Region  masks.Region
	Feather float64 // standard deviation of the edge's blur; 0 for a hard edge
}

// Scene is a photo set with its columns, seen through a view.
type Scene struct {
	Set     *photos.Set
	View    photos.View
	Columns []Column // in the order they are laid over each other
	Base    *photos.Photo
	Encoded bool // mix codes as they are, not light

	profile *profile.Profile // of the photos
	steady  *steadier        // nil when photos are used as they are
	digest  [sha256.Size]byte
	masks   func() []*masks.Mask
	cache   cache
}

// New joins a scene together. base is the photo of the base plate: one of the set's, or one of the same size and colour
// profile, or the error says how they differ. encoded is Scene.Encoded. No pixel is decoded.
func New(set *photos.Set, view photos.View, columns []Column, base *photos.Photo, encoded bool) (*Scene, error) {
	if err := set.Agrees(base); err != nil {
		return nil, err
	}
	s := &Scene{Set: set, View: view, Columns: columns, Base: base, Encoded: encoded, profile: profile.Read(set.Profile())}
	s.digest = s.sum()
	s.masks = sync.OnceValue(s.makeMasks)
	s.cache.cores = make(chan struct{}, runtime.GOMAXPROCS(0))
	return s, nil
}

// Size is the frame's size in pixels.
func (s *Scene) Size() image.Point { return s.View.Size }

// Digest is the SHA-256, 64 hexadecimal digits, of all that decides the bytes of the frames but their levels: the photos'
// files, the base plate, view, regions, feathers, light and steadying.
func (s *Scene) Digest() string { return hex.EncodeToString(s.digest[:]) }

func (s *Scene) sum() (digest [sha256.Size]byte) {
	var b bytes.Buffer
	number := func(v any) { binary.Write(&b, binary.LittleEndian, v) } // a bytes.Buffer takes all
	b.WriteString(formatVersion)
	number(int64(len(s.Set.Photos)))
	for _, photo := range s.Set.Photos {
		b.Write(photo.Digest[:])
	}
	b.Write(s.Base.Digest[:])
	number([]float64{s.View.X, s.View.Y, s.View.Width, s.View.Height})
	number([]int64{int64(s.View.Size.X), int64(s.View.Size.Y)})
	number(s.Encoded)
	if s.profile.OwnCurve {
		// The photos' digests hold the profile, but not what is understood of it.
		b.WriteString("own curve")
		number(s.profile.Curve.Linear[:])
	}
	for _, column := range s.Columns {
		number(int64(len(column.Region)))
		number([]masks.Point(column.Region))
		number(column.Feather)
	}
	s.steady.digest(&b)
	return sha256.Sum256(b.Bytes())
}

// Key is the SHA-256, 64 hexadecimal digits, of the scene's digest and a tuple of levels: equal keys, equal frames. A column's name and band
// play no part in it.
func (s *Scene) Key(tuple []levels.Level) string {
	b := make([]byte, 0, sha256.Size+4*len(tuple))
	b = append(b, s.digest[:]...)
	for _, level := range tuple {
		b = binary.LittleEndian.AppendUint32(b, uint32(level))
	}
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

// Curve is the curve by which codes are mixed: that of the photos' profile, or the straight one.
func (s *Scene) Curve() *light.Curve {
	if s.Encoded {
		return light.Encoded()
	}
	return s.profile.Curve
}

// Profile is what is known of the photos' colours. Photos are resized in its light, however they are mixed.
func (s *Scene) Profile() *profile.Profile { return s.profile }

// Colour is the colour chunks of every frame.
func (s *Scene) Colour() pngfile.Colour { return pngfile.NewColour(s.Set.Profile()) }

// Masks are the columns' masks in the frame, in the columns' order, made when first asked for.
func (s *Scene) Masks() []*masks.Mask { return s.masks() }

func (s *Scene) makeMasks() []*masks.Mask {
	out := make([]*masks.Mask, len(s.Columns))
	var group errgroup.Group
	group.SetLimit(runtime.GOMAXPROCS(0))
	photo, frame := s.View.Photo(s.Set.Size), s.View.Frame()
	for i, column := range s.Columns {
		group.Go(func() error {
			out[i] = masks.Feathered(s.View.Region(column.Region), column.Feather*s.View.Scale(), photo, frame)
			return nil
		})
	}
	group.Wait()
	return out
}

// Sight tells where a column lies.
type Sight int

const (
	Seen         Sight = iota // some of the region is in the frame
	OutsideFrame              // in the photo, but not in the part of it that is shown
	OutsidePhoto              // wholly outside the photo
)

// CutOff is how far a column's region reaches beyond the frame though the photo shows it, in pixels of the photo.
func (s *Scene) CutOff(column int) float64 {
	minX, minY, maxX, maxY := s.Columns[column].Region.Bounds()
	width, height, v := float64(s.Set.Size.X), float64(s.Set.Size.Y), s.View
	return max(0, v.X-max(minX, 0), v.Y-max(minY, 0), min(maxX, width)-v.X-v.Width, min(maxY, height)-v.Y-v.Height)
}

// Sees tells whether a column's region can be seen.
func (s *Scene) Sees(column int) Sight {
	minX, minY, maxX, maxY := s.Columns[column].Region.Bounds()
	outside := func(x, y, width, height float64) bool {
		return maxX <= x || maxY <= y || minX >= x+width || minY >= y+height
	}
	switch v := s.View; {
	case outside(0, 0, float64(s.Set.Size.X), float64(s.Set.Size.Y)):
		return OutsidePhoto
	case outside(v.X, v.Y, v.Width, v.Height):
		return OutsideFrame
	}
	return Seen
}
