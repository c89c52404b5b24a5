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
		Base:   func() (picture.Reader, error) { return s.Scene.Base, nil },
		Photo:  func(level int) (picture.Reader, error) { return s.Scene.Photos[level], nil },
		Photos: len(s.Photos), Masks: s.Masks, Curve: s.Curve,
	}
}

func (s *stage) coder(t testing.TB, options Options) *Coder {
	t.Helper()
	c, err := New(s.source(), options)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// prepared is a coder that has prepared for all frames.
func (s *stage) prepared(t testing.TB, options Options) *Coder {
	t.Helper()
	c := s.coder(t, options)
	for _, shown := range [][]int{{0, 1}, {0}} {
		if err := c.Prepare(context.Background(), shown); err != nil {
			t.Fatal(err)
		}
	}
	return c
}

// frame makes the frame of a tuple, and checks that Size tells its length.
func (s *stage) frame(t testing.TB, c *Coder, tuple []levels.Level) []byte {
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
	return file
}

// check makes the frame of a tuple and holds what image/png reads from it against the plain compositor's pixels.
func (s *stage) check(t testing.TB, c *Coder, tuple []levels.Level) {
	t.Helper()
	want := picture.New(s.Base.Width, s.Base.Height)
	s.Compose(want, tuple)
	decoded, err := png.Decode(bytes.NewReader(s.frame(t, c, tuple)))
	if err != nil {
		t.Fatalf("levels %v: %v", tuple, err)
	}
	if decoded.Bounds() != image.Rect(0, 0, want.Width, want.Height) {
		t.Fatalf("the frame reads as %v, it is %d x %d", decoded.Bounds(), want.Width, want.Height)
	}
	for y := range want.Height {
		for x := range want.Width {
			r, g, b, _ := decoded.At(x, y).RGBA()
			got, want := [3]uint8{uint8(r >> 8), uint8(g >> 8), uint8(b >> 8)}, [3]uint8(want.Row(y)[3*x:])
			if got != want {
				t.Fatalf("levels %v: pixel (%d, %d) reads %v, the plain compositor makes %v", tuple, x, y, got, want)
			}
		}
	}
}

// opaque is a picture as image/png takes it.
func opaque(p *picture.Picture) image.Image {
	m := image.NewNRGBA(image.Rect(0, 0, p.Width, p.Height))
	for i := range p.Width * p.Height {
		copy(m.Pix[4*i:], p.Pix[3*i:3*i+3])
		m.Pix[4*i+3] = 255
	}
	return m
}

// randomPicture is a picture of one of the kinds that a coder may meet: noise, one colour, few colours, smooth.
func randomPicture(random *rand.Rand, width, height int) *picture.Picture {
	p := picture.New(width, height)
	switch random.IntN(5) {
	case 0:
		return smooth(random.Uint32(), width, height)
	case 1: // black
	case 2: // white
		for i := range p.Pix {
			p.Pix[i] = 255
		}
	case 3:
		for i := range p.Pix {
			p.Pix[i] = uint8(random.IntN(3))
		}
	default:
		for i := range p.Pix {
			p.Pix[i] = uint8(random.Uint32())
		}
	}
	return p
}

// randomMask is a mask of any place, size and kind.
func randomMask(random *rand.Rand, width, height int) *masks.Mask {
	x, y := random.IntN(width), random.IntN(height)
	r := image.Rect(x, y, x+1+random.IntN(width-x), y+1+random.IntN(height-y))
	if random.IntN(4) == 0 {
		r = image.Rect(0, 0, width, height)
	}
	return filled(r, func(int, int) uint16 {
		switch len(r.String()) % 3 {
		case 0:
			return masks.Full
		case 1:
			return uint16(random.Uint32())
		}
		return [...]uint16{0, 0, 1, 32767, 32768, masks.Full - 1, masks.Full}[random.IntN(7)]
	})
}

// filled is a mask whose values are told by at.
func filled(r image.Rectangle, at func(x, y int) uint16) *masks.Mask {
	m := &masks.Mask{Rect: r, Alpha: make([]uint16, 0, r.Dx()*r.Dy())}
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			m.Alpha = append(m.Alpha, at(x, y))
		}
	}
	return m
}

func whole(r image.Rectangle) *masks.Mask {
	return filled(r, func(int, int) uint16 { return masks.Full })
}

func randomTuple(random *rand.Rand, columns, photos int) []levels.Level {
	tuple := make([]levels.Level, columns)
	if random.IntN(8) == 0 {
		return tuple // the empty stage
	}
	for i := range tuple {
		tuple[i] = levels.Level(random.IntN((photos-1)*int(levels.One) + 1))
		if random.IntN(2) == 0 {
			tuple[i] -= tuple[i] % levels.One
		}
	}
	return tuple
}

// randomStage is a stage of any kind, of up to 61 x 90 pixels.
func randomStage(random *rand.Rand) *stage {
	width, height := 1+random.IntN(61), 1+random.IntN(90)
	if random.IntN(3) == 0 {
		return randomDrawing(random, width, height)
	}
	base := randomPicture(random, width, height)
	var photos []*picture.Picture
	for range 1 + random.IntN(4) {
		photo := randomPicture(random, width, height)
		switch random.IntN(3) {
		case 0: // like the base but for some rows
			copy(photo.Pix[:random.IntN(len(photo.Pix))], base.Pix)
		case 1: // like the base but for a rectangle
			m := randomMask(random, width, height)
			drawn := picture.New(width, height)
			copy(drawn.Pix, base.Pix)
			for y := m.Rect.Min.Y; y < m.Rect.Max.Y; y++ {
				copy(drawn.Row(y)[3*m.Rect.Min.X:3*m.Rect.Max.X], photo.Row(y)[3*m.Rect.Min.X:])
			}
			photo = drawn
		}
		photos = append(photos, photo)
	}
	var columns []*masks.Mask
	for range random.IntN(6) {
		columns = append(columns, randomMask(random, width, height))
	}
	curve := light.SRGB()
	if random.IntN(2) == 0 {
		curve = light.Encoded()
	}
	if random.IntN(3) == 0 {
		for _, p := range append(photos, base) {
			grey(p)
		}
	}
	return newStage(base, photos, columns, curve)
}

// grey makes a picture black and white.
func grey(p *picture.Picture) {
	for i := 0; i < len(p.Pix); i += 3 {
		p.Pix[i+1], p.Pix[i+2] = p.Pix[i], p.Pix[i]
	}
}

// randomDrawing is a stage of upright stripes with rectangles of few colours before them.
func randomDrawing(random *rand.Rand, width, height int) *stage {
	colours := [][]uint8{{200, 205, 210}, {60, 90, 120}, {60, 91, 120}, {0, 0, 0}, {255, 255, 255}}
	fill := func(p *picture.Picture, r image.Rectangle) {
		colour := colours[random.IntN(len(colours))]
		for y := r.Min.Y; y < r.Max.Y; y++ {
			for x := r.Min.X; x < r.Max.X; x++ {
				copy(p.Row(y)[3*x:], colour)
			}
		}
	}
	base := picture.New(width, height)
	for x := 0; x < width; x += 1 + random.IntN(30) {
		fill(base, image.Rect(x, 0, width, height))
	}
	var photos []*picture.Picture
	for range 1 + random.IntN(4) {
		p := picture.New(width, height)
		copy(p.Pix, base.Pix)
		for range random.IntN(4) {
			fill(p, randomMask(random, width, height).Rect)
		}
		photos = append(photos, p)
	}
	if random.IntN(2) == 0 { // something stands there already
		fill(base, randomMask(random, width, height).Rect)
	}
	var columns []*masks.Mask
	for range random.IntN(6) {
		m := randomMask(random, width, height)
		if random.IntN(4) > 0 {
			m = filled(m.Rect, func(x, _ int) uint16 { return m.At(x, m.Rect.Min.Y) })
		}
		columns = append(columns, m)
	}
	return newStage(base, photos, columns, light.SRGB())
}

func TestRandomFramesReadAsThePlainCompositorsPixels(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	for range 250 {
		s := randomStage(random)
		c := s.coder(t, Options{})
		for range 3 {
			s.check(t, c, randomTuple(random, len(s.Masks), len(s.Photos)))
		}
	}
}

func TestFramesOfEdgeCasesReadAsThePlainCompositorsPixels(t *testing.T) {
	rect := image.Rect
	soft := func(r image.Rectangle) *masks.Mask {
		return filled(r, func(x, y int) uint16 { return uint16(x*9001 + y*4177) })
	}
	tests := []struct {
		name          string
		width, height int
		columns       []*masks.Mask
	}{
		{"one pixel, no column", 1, 1, nil},
		{"one pixel, one column", 1, 1, []*masks.Mask{whole(rect(0, 0, 1, 1))}},
		{"one pixel, three columns", 1, 1, []*masks.Mask{soft(rect(0, 0, 1, 1)), whole(rect(0, 0, 1, 1)), soft(rect(0, 0, 1, 1))}},
		{"one row", 61, 1, []*masks.Mask{soft(rect(3, 0, 20, 1)), whole(rect(30, 0, 61, 1))}},
		{"one pixel wide", 1, 47, []*masks.Mask{soft(rect(0, 10, 1, 20)), whole(rect(0, 40, 1, 47))}},
		{"the whole frame", 61, 47, []*masks.Mask{whole(rect(0, 0, 61, 47))}},
		{"left border", 61, 47, []*masks.Mask{soft(rect(0, 5, 9, 40))}},
		{"right border", 61, 47, []*masks.Mask{soft(rect(50, 5, 61, 40))}},
		{"top border", 61, 47, []*masks.Mask{soft(rect(20, 0, 30, 9))}},
		{"bottom border", 61, 47, []*masks.Mask{soft(rect(20, 30, 30, 47))}},
		{"every corner", 61, 47, []*masks.Mask{
			whole(rect(0, 0, 5, 5)), soft(rect(56, 0, 61, 5)), whole(rect(0, 42, 5, 47)), soft(rect(56, 42, 61, 47)),
		}},
		{"a gap of one pixel between", 61, 47, []*masks.Mask{whole(rect(5, 5, 20, 40)), whole(rect(21, 5, 40, 40))}},
		{"no gap between", 61, 47, []*masks.Mask{whole(rect(5, 5, 20, 40)), whole(rect(20, 5, 40, 40))}},
		{"two overlap", 61, 47, []*masks.Mask{soft(rect(5, 5, 30, 40)), soft(rect(20, 10, 50, 47))}},
		{"all overlap", 61, 47, []*masks.Mask{
			soft(rect(0, 0, 40, 40)), soft(rect(10, 5, 50, 45)), soft(rect(20, 0, 60, 47)), soft(rect(5, 20, 61, 30)),
		}},
		{"a whole one hides the one below", 61, 47, []*masks.Mask{soft(rect(5, 5, 30, 40)), whole(rect(0, 0, 61, 47))}},
		{"an all but whole one does not", 61, 47, []*masks.Mask{
			soft(rect(5, 5, 30, 40)), filled(rect(0, 0, 61, 47), func(int, int) uint16 { return masks.Full - 1 }),
		}},
		{"holes of one pixel", 61, 47, []*masks.Mask{
			filled(rect(0, 0, 61, 47), func(x, y int) uint16 { return masks.Full * uint16((x+y)%2) }),
		}},
		{"a mask of zeros", 61, 47, []*masks.Mask{filled(rect(5, 5, 30, 40), func(int, int) uint16 { return 0 })}},
		{"an empty mask", 61, 47, []*masks.Mask{{}}},
		{"three bands of rows, the last of one", 23, 2*bandRows + 1, []*masks.Mask{soft(rect(4, 60, 12, 2*bandRows+1))}},
		{"a column in the middle band only", 23, 3 * bandRows, []*masks.Mask{soft(rect(4, bandRows, 12, 2*bandRows))}},
		{"rows longer than a long extent", longExtent/3 + 50, 3, []*masks.Mask{soft(rect(100, 0, 200, 2))}},
		{"static parts longer than a long extent", 700, 2 * bandRows, []*masks.Mask{soft(rect(650, 50, 700, 90))}},
		{"forty columns", 61, 47, forty()},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			random := rand.New(rand.NewPCG(3, 4))
			var photos []*picture.Picture
			for range 3 {
				photos = append(photos, smooth(random.Uint32(), test.width, test.height))
			}
			s := newStage(smooth(9, test.width, test.height), photos, test.columns, light.SRGB())
			c := s.coder(t, Options{})
			for range 4 {
				s.check(t, c, randomTuple(random, len(test.columns), len(photos)))
			}
		})
	}
}

// forty is columns one pixel wide and one apart, more than there are streams, in a frame of 61 x 47.
func forty() []*masks.Mask {
	var columns []*masks.Mask
	for i := range 40 {
		x := i * 3 / 2
		columns = append(columns, whole(image.Rect(x, i, x+1, 47)))
	}
	return columns
}

func TestEveryFilterCodesEveryKindOfPicture(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 6))
	for kind := range filters {
		for range 12 {
			s := randomStage(random)
			c := s.prepared(t, Options{})
			for _, of := range []*coding{c.full, c.empty} {
				for b := range of.blocks {
					if of.layout.bands[b].texture.allows(kind) {
						of.blocks[b].filter = kind
					}
				}
			}
			s.check(t, c, randomTuple(random, len(s.Masks), len(s.Photos)))
			s.check(t, c, make([]levels.Level, len(s.Masks)))
		}
	}
}

// Each picture is made so that one filter leaves zeros, or next to nothing.
func TestTheFilterThatFitsIsChosen(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 8))
	steps := make([]uint8, 400)
	for i := range steps {
		steps[i] = uint8(random.Uint32())
	}
	tests := []struct {
		name   string
		filter int
		pixel  func(x, y int, left, above, corner uint8) uint8
	}{
		{"columns of any grey", filterUp, func(x, y int, left, above, corner uint8) uint8 { return steps[x] }},
		{"rows of one grey between rows of noise", filterSub, func(x, y int, left, above, corner uint8) uint8 {
			if y%2 == 0 {
				return steps[y]
			}
			return uint8(random.Uint32())
		}},
		{"means of neighbours", filterAverage, func(x, y int, left, above, corner uint8) uint8 {
			if x == 0 || y == 0 {
				return uint8(random.Uint32())
			}
			return uint8((int(left)+int(above))/2 + random.IntN(3))
		}},
		{"near neighbours", filterPaeth, func(x, y int, left, above, corner uint8) uint8 {
			if random.IntN(20) == 0 {
				return uint8(random.Uint32())
			}
			return paeth(left, above, corner) + uint8(random.IntN(3))
		}},
		{"two greys at random", filterNone, func(x, y int, left, above, corner uint8) uint8 { return 100 * uint8(random.IntN(2)) }},
	}
	for _, test := range tests {
		p := picture.New(130, 100)
		for y := range p.Height {
			for x := range p.Width {
				var left, above, corner uint8
				if x > 0 {
					left = p.Row(y)[3*x-3]
				}
				if y > 0 {
					above = p.Row(y - 1)[3*x]
				}
				if x > 0 && y > 0 {
					corner = p.Row(y - 1)[3*x-3]
				}
				grey := test.pixel(x, y, left, above, corner)
				copy(p.Row(y)[3*x:], []uint8{grey, grey, grey})
			}
		}
		s := newStage(p, nil, nil, light.SRGB())
		c := s.prepared(t, Options{})
		if got := c.empty.blocks[0].filter; got != test.filter {
			t.Errorf("%s: filter %d is chosen, %d fits", test.name, got, test.filter)
		}
		s.check(t, c, nil)
	}
}
