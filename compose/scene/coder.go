package scene

import (
	"context"
	"slices"
	"sync"
	"sync/atomic"

	"golang.org/x/sync/errgroup"

	"colonnade/analyze/levels"
	"colonnade/compose/picture"
	"colonnade/compose/pngfile"
	"colonnade/compose/strip"
)

// Coder makes the bytes of a scene's frames. It is used by several goroutines at once. Nothing is decoded or
// coded before the first frame is asked for, so that a render with nothing left to do ends at once.
type Coder struct {
	scene  *Scene
	colour pngfile.Colour
	coder  func() (*strip.Coder, error)
	// since counts the frames made since a photo was last looked at.
	since atomic.Int64
}

// idleFrames is after how many frames that needed no photo the decoded photos are dropped: by then most of what a piece
// shows is coded, and a photo that is needed after all is decoded again.
const idleFrames = 500

// Coder makes a coder that holds at most memory bytes of coded pictures (0: no bound) and prepares them on
// workers cores.
func (s *Scene) Coder(memory int64, workers int) *Coder {
	c := &Coder{scene: s, colour: s.Colour()}
	c.coder = sync.OnceValues(func() (*strip.Coder, error) {
		return strip.New(strip.Source{
			Width: s.Size().X, Height: s.Size().Y, Base: c.base, Photo: c.photo, Photos: len(s.Set.Photos),
			Prepare: s.prepare, Masks: s.Masks(), Curve: s.Curve(),
		}, strip.Options{Memory: memory, Workers: workers})
	})
	return c
}

func (c *Coder) base() (picture.Reader, error) {
	c.since.Store(0)
	return c.scene.ReadBasePlate()
}

func (c *Coder) photo(level int) (picture.Reader, error) {
	c.since.Store(0)
	return c.scene.ReadPhoto(level)
}

// Ready decodes the photos that frames will show (levels.Shown) and prepares for coding, which otherwise is done when
// a frame needs it. An error is a photo's.
func (c *Coder) Ready(shown []int) error {
	first := []int{0} // what Prepare looks at, which goes on while the others are decoded
	if slices.ContainsFunc(shown, func(level int) bool { return level > 0 }) {
		first = append(first, c.scene.Set.Top())
	}
	var decoding errgroup.Group
	decoding.Go(func() error { return c.scene.Decode(append(first, shown...)) })
	coder, err := c.coder()
	if err == nil {
		err = coder.Prepare(context.Background(), shown)
	}
	if failed := decoding.Wait(); err == nil {
		err = failed
	}
	return err
}

// Key is the frame's key; see Scene.Key.
func (c *Coder) Key(tuple []levels.Level) string { return c.scene.Key(tuple) }

// Append adds the frame's whole PNG file to dst. The error is that of a photo that can not be decoded; then dst comes
// back as it was.
func (c *Coder) Append(dst []byte, tuple []levels.Level) ([]byte, error) {
	coder, err := c.coder()
	if err != nil {
		return dst, err
	}
	if c.since.Add(1) == idleFrames {
		c.scene.Drop()
	}
	size := c.scene.Size()
	frame, err := coder.Append(pngfile.AppendHead(dst, size.X, size.Y, c.colour, c.Key(tuple)), nil, tuple)
	if err != nil {
		return dst, err
	}
	return frame, nil
}
