package strip

import (
	"bytes"
	"context"
	"image"
	"image/png"
	"math/rand/v2"
	"testing"

	"colonnade/analyze/levels"
	"colonnade/compose/light"
	"colonnade/compose/picture"
	"colonnade/compose/pngfile"
	"colonnade/masks"
)

// stage is a scene with the head of its frames.
type stage struct {
	*picture.Scene
	head []byte
}

func newStage(base *picture.Picture, photos []*picture.Picture, columns []*masks.Mask, curve *light.Curve) *stage {
	head := pngfile.AppendHead(nil, base.Width, base.Height, pngfile.NewColour(nil), "key")
	return &stage{&picture.Scene{Base: base, Photos: photos, Masks: columns, Curve: curve}, head}
}

func (s *stage) source() Source {
	return Source{
		Width: s.Base.Width, Height: s.Base.Height,
		Base:   func() (*picture.Picture, error) { return s.Scene.Base, nil },
		Photo:  func(level int) (*picture.Picture, error) { return s.Scene.Photos[level], nil },
		Photos: len(s.Photos), Masks: s.Masks, Curve: s.Curve,
	}
}

func (s *stage) coder(t testing.TB, options Options) *Coder {
	t.Helper()
	c, err := New(context.Background(), s.source(), options)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// checkFrame makes a frame and holds its decoded pixels against the plain compositor's.
func (s *stage) checkFrame(t testing.TB, c *Coder, tuple []levels.Level) []byte {
	t.Helper()
	size, err := c.Size(s.head, tuple)
	if err != nil {
		t.Fatal(err)
	}
	file, err := c.Append(nil, s.head, tuple)
	if err != nil {
		t.Fatal(err)
	}
	if len(file) != size {
		t.Errorf("the frame is %d bytes long, Size said %d", len(file), size)
	}
	decoded, err := png.Decode(bytes.NewReader(file))
	if err != nil {
		t.Fatalf("tuple %v: %v", tuple, err)
	}
	want := picture.New(s.Base.Width, s.Base.Height)
	s.Compose(want, tuple)
	if decoded.Bounds() != image.Rect(0, 0, want.Width, want.Height) {
		t.Fatalf("decoded picture is %v", decoded.Bounds())
	}
	for y := range want.Height {
		for x := range want.Width {
			r, g, b, _ := decoded.At(x, y).RGBA()
			p := want.Row(y)[3*x:]
			if uint8(r>>8) != p[0] || uint8(g>>8) != p[1] || uint8(b>>8) != p[2] {
				t.Fatalf("tuple %v: pixel (%d, %d) is %d %d %d, the plain compositor made %v", tuple, x, y, r>>8, g>>8, b>>8, p[:3])
			}
		}
	}
	return file
}

// noise is a picture of random bytes.
func noise(random *rand.Rand, width, height int) *picture.Picture {
	p := picture.New(width, height)
	for i := range p.Pix {
		p.Pix[i] = uint8(random.Uint32())
	}
	return p
}

// randomMask is a mask of any place, size and kind.
func randomMask(random *rand.Rand, width, height int) *masks.Mask {
	x, y := random.IntN(width), random.IntN(height)
	r := image.Rect(x, y, x+1+random.IntN(width-x), y+1+random.IntN(height-y))
	m := &masks.Mask{Rect: r, Alpha: make([]uint16, r.Dx()*r.Dy())}
	kind := random.IntN(3)
	for i := range m.Alpha {
		switch kind {
		case 0:
			m.Alpha[i] = masks.Full
		case 1:
			m.Alpha[i] = uint16(random.Uint32())
		default:
			m.Alpha[i] = [...]uint16{0, 1, 32767, 32768, masks.Full}[random.IntN(5)]
		}
	}
	return m
}

func randomTuple(random *rand.Rand, columns, photos int) []levels.Level {
	tuple := make([]levels.Level, columns)
	for i := range tuple {
		tuple[i] = levels.Level(random.IntN(int(levels.Level(photos-1)*levels.One) + 1))
		if random.IntN(2) == 0 {
			tuple[i] -= tuple[i] % levels.One
		}
	}
	return tuple
}

func TestRandomScenesDecodeToThePlainCompositorsPixels(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	for range 150 {
		width, height := 1+random.IntN(61), 1+random.IntN(90)
		var photos []*picture.Picture
		for range 1 + random.IntN(4) {
			photos = append(photos, noise(random, width, height))
		}
		var columns []*masks.Mask
		for range random.IntN(5) {
			columns = append(columns, randomMask(random, width, height))
		}
		s := newStage(noise(random, width, height), photos, columns, light.SRGB())
		c := s.coder(t, Options{})
		for range 3 {
			s.checkFrame(t, c, randomTuple(random, len(columns), len(photos)))
		}
	}
}
