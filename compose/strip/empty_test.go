package strip

import (
	"bytes"
	"image/png"
	"math/rand/v2"
	"testing"

	"colonnade/analyze/levels"
	"colonnade/compose/picture"
)

// With masks or without them, and whether the base plate is the first photo or another picture.
func TestTheEmptyStageIsCodedAsIfThereWereNoColumns(t *testing.T) {
	random := rand.New(rand.NewPCG(61, 62))
	own := overlapping()
	own.Base = own.Photos[0]
	stages := []*stage{overlapping(), own}
	for range 40 {
		stages = append(stages, randomStage(random))
	}
	for _, s := range stages {
		empty := make([]levels.Level, len(s.Masks))
		composed := picture.New(s.Base.Width, s.Base.Height)
		s.Compose(composed, empty)
		want := newStage(composed, nil, nil, s.Curve)
		c := s.coder(t, Options{})
		s.check(t, c, empty)
		if !bytes.Equal(s.frame(t, c, empty), want.frame(t, want.coder(t, Options{}), nil)) {
			t.Errorf("%d x %d, %d columns: the empty stage has other bytes than its picture", composed.Width, composed.Height, len(s.Masks))
		}
	}
}

func TestTheEmptyStageIsAsSmallAsUsualPNGFiles(t *testing.T) {
	for _, s := range []*stage{drawn(1280, 720, 24, false, true), drawn(640, 360, 6, true, false), photographed(640, 360, 6, 3)} {
		empty := make([]levels.Level, len(s.Masks))
		size, usual := len(s.frame(t, s.coder(t, Options{}), empty)), s.encoded(t, empty, png.DefaultCompression)
		if 100*size > 103*usual {
			t.Errorf("%d columns: the empty stage takes %d bytes, image/png's default %d", len(s.Masks), size, usual)
		}
	}
}
