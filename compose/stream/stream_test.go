package stream

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"io"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"colonnade/analyze/levels"
	"colonnade/compose/light"
	"colonnade/compose/picture"
	"colonnade/masks"
)

// scene is the pictures behind a Source, in memory; asked counts the photos asked for.
type scene struct {
	picture.Scene
	asked int
}

func (s *scene) source() Source {
	return Source{
		Width: s.Base.Width, Height: s.Base.Height,
		Base:   func() (picture.Reader, error) { return s.Scene.Base, nil },
		Photo:  func(level int) (picture.Reader, error) { s.asked++; return s.Scene.Photos[level], nil },
		Photos: len(s.Photos), Masks: s.Masks, Curve: s.Curve,
	}
}

func noise(random *rand.Rand, width, height int) *picture.Picture {
	p := picture.New(width, height)
	for i := range p.Pix {
		p.Pix[i] = uint8(random.IntN(256))
	}
	return p
}

// randomMask is of any place and kind: a feathered region, or values without order, many of them 0 or Full.
func randomMask(random *rand.Rand, width, height int) *masks.Mask {
	frame := image.Rect(0, 0, width, height)
	x, y := random.IntN(width), random.IntN(height)
	right, down := x+1+random.IntN(width-x), y+1+random.IntN(height-y)
	if random.IntN(3) > 0 {
		region := masks.Region{{X: float64(x), Y: float64(y)}, {X: float64(right), Y: float64(y)}, {X: float64(right), Y: float64(down)}, {X: float64(x), Y: float64(down)}}
		return masks.Feathered(region, random.Float64()*2, frame, frame)
	}
	m := &masks.Mask{Rect: image.Rect(x, y, right, down)}
	for range m.Rect.Dx() * m.Rect.Dy() {
		m.Alpha = append(m.Alpha, []uint16{0, 0, masks.Full, uint16(random.IntN(masks.Full + 1))}[random.IntN(4)])
	}
	return m
}

func randomScene(random *rand.Rand, width, height, photos, columns int) *scene {
	s := &scene{Scene: picture.Scene{Base: noise(random, width, height), Curve: light.SRGB()}}
	for range photos {
		s.Photos = append(s.Photos, noise(random, width, height))
	}
	for range columns {
		s.Masks = append(s.Masks, randomMask(random, width, height))
	}
	return s
}

// change moves some of the columns, to whole levels and to others.
func change(random *rand.Rand, tuple []levels.Level, photos int) {
	for i := range tuple {
		switch random.IntN(4) {
		case 0:
			tuple[i] = levels.Level(random.IntN(photos)) * levels.One
		case 1:
			tuple[i] = levels.Level(random.IntN((photos-1)*int(levels.One) + 1))
		}
	}
}

func open(t testing.TB, s *scene, options Options) *Stream {
	t.Helper()
	options.RateNum, options.RateDen = 25, 1
	stream, err := New(s.source(), options)
	if err != nil {
		t.Fatal(err)
	}
	return stream
}

func frame(t testing.TB, stream *Stream, tuple []levels.Level) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := stream.Write(&out, tuple); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func TestAnyOrderOfFramesEqualsEachFrameFromScratch(t *testing.T) {
	for _, c := range []struct {
		name          string
		width, height int
		columns       int
		chroma        int
	}{
		{"one pixel", 1, 1, 1, 444},
		{"one chroma sample", 2, 2, 2, 420},
		{"a line across", 37, 1, 3, 444},
		{"a line down", 1, 23, 3, 444},
		{"two rows", 38, 2, 4, 420},
		{"two pixels wide", 2, 30, 4, 420},
		{"odd width and height", 33, 17, 5, 444},
		{"halves that are odd", 34, 18, 5, 420},
		{"many columns over each other", 40, 24, 9, 420},
		{"many columns, chroma of each pixel", 40, 24, 9, 444},
		{"no columns", 12, 8, 0, 420},
	} {
		t.Run(c.name, func(t *testing.T) {
			for seed := range uint64(4) {
				random := rand.New(rand.NewPCG(seed, uint64(c.width*c.height)))
				s := randomScene(random, c.width, c.height, 3, c.columns)
				roomy := open(t, s, Options{Chroma: c.chroma})
				tight := open(t, s, Options{Chroma: c.chroma, Memory: 1 + int64(c.width*c.height), Workers: 3})
				tuple := make([]levels.Level, c.columns)
				for range 12 {
					change(random, tuple, len(s.Photos))
					want := fromScratch(&s.Scene, tuple, c.chroma)
					if got := frame(t, roomy, tuple); !bytes.Equal(got, want) {
						t.Fatalf("seed %d, levels %v: %s", seed, tuple, difference(got, want, c.width, c.height, c.chroma))
					}
					if got := frame(t, tight, tuple); !bytes.Equal(got, want) {
						t.Fatalf("seed %d, levels %v, little memory: %s", seed, tuple, difference(got, want, c.width, c.height, c.chroma))
					}
					if tight.cache.size > tight.cache.limit {
						t.Fatalf("keeps %d bytes of tiles; may keep %d", tight.cache.size, tight.cache.limit)
					}
				}
			}
		})
	}
}

// Masks that end at the borders, cover everything, nothing, or only what another covers wholly.
func TestMasksOfEveryShapeAndPlace(t *testing.T) {
	const width, height = 16, 12
	flat := func(rect image.Rectangle, value uint16) *masks.Mask {
		m := &masks.Mask{Rect: rect}
		for range rect.Dx() * rect.Dy() {
			m.Alpha = append(m.Alpha, value)
		}
		return m
	}
	half := uint16(masks.Full / 2)
	for name, columns := range map[string][]*masks.Mask{
		"empty":                          {{}},
		"nothing of it":                  {flat(image.Rect(3, 3, 9, 9), 0)},
		"the whole frame":                {flat(image.Rect(0, 0, width, height), masks.Full)},
		"the whole frame, twice":         {flat(image.Rect(0, 0, width, height), masks.Full), flat(image.Rect(0, 0, width, height), half)},
		"hidden below another":           {flat(image.Rect(4, 4, 6, 6), half), flat(image.Rect(2, 2, 9, 9), masks.Full)},
		"first and last pixel":           {flat(image.Rect(0, 0, 1, 1), half), flat(image.Rect(width-1, height-1, width, height), half)},
		"first and last line down":       {flat(image.Rect(0, 0, 1, height), masks.Full), flat(image.Rect(width-1, 0, width, height), masks.Full)},
		"an odd pixel, read by a filter": {flat(image.Rect(5, 5, 6, 6), masks.Full)},
		"an even pixel":                  {flat(image.Rect(6, 6, 7, 7), masks.Full)},
		"neighbours":                     {flat(image.Rect(3, 0, 7, height), masks.Full), flat(image.Rect(7, 0, 11, height), masks.Full)},
	} {
		for _, chroma := range []int{420, 444} {
			random := rand.New(rand.NewPCG(uint64(len(name)), 3))
			s := randomScene(random, width, height, 2, 0)
			s.Masks = columns
			stream := open(t, s, Options{Chroma: chroma})
			for _, level := range []levels.Level{0, 1000, 250, 1000, 0} {
				for i := range columns {
					tuple := make([]levels.Level, len(columns))
					tuple[i] = level
					if got, want := frame(t, stream, tuple), fromScratch(&s.Scene, tuple, chroma); !bytes.Equal(got, want) {
						t.Errorf("%s, levels %v: %s", name, tuple, difference(got, want, width, height, chroma))
					}
				}
			}
		}
	}
}

// The columns that decide a pixel end at one that takes its photo whole: what lies below is never composed.
func TestNothingDependsOnAColumnHiddenBelowAnother(t *testing.T) {
	s := randomScene(rand.New(rand.NewPCG(8, 8)), 8, 8, 2, 0)
	cover := &masks.Mask{Rect: image.Rect(2, 2, 7, 7)}
	for range 5 * 5 {
		cover.Alpha = append(cover.Alpha, masks.Full)
	}
	s.Masks = []*masks.Mask{{Rect: image.Rect(4, 4, 6, 6), Alpha: []uint16{9, 99, 999, 9999}}, cover}
	for _, a := range open(t, s, Options{Chroma: 420}).areas {
		if slices.Contains(a.columns, 0) {
			t.Errorf("samples from the pixels in %v depend on columns %v; column 0 is hidden", a.reach, a.columns)
		}
	}
}

func TestTilesNotUsedForLongestGoFirst(t *testing.T) {
	c := newCache(2)
	c.put("a", []byte{1})
	c.put("b", []byte{2})
	c.get("a")
	c.put("c", []byte{3})
	if c.get("a") == nil || c.get("b") != nil || c.get("c") == nil {
		t.Errorf("kept are a %v, b %v, c %v; want a and c", c.get("a"), c.get("b"), c.get("c"))
	}
}

func TestATileIsMadeOnceWhileMemoryLasts(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 7))
	for _, c := range []struct {
		name   string
		memory int64
		again  bool
	}{{"room for all", 0, false}, {"room for none", 1, true}} {
		s := randomScene(random, 24, 16, 2, 3)
		stream := open(t, s, Options{Chroma: 420, Memory: c.memory})
		low, high := []levels.Level{0, 0, 0}, []levels.Level{1000, 1000, 1000}
		first := frame(t, stream, low)
		frame(t, stream, high)
		before := s.asked
		if !bytes.Equal(frame(t, stream, low), first) {
			t.Errorf("%s: the same levels gave other bytes", c.name)
		}
		if again := s.asked > before; again != c.again {
			t.Errorf("%s: photos were asked for again: %v, want %v", c.name, again, c.again)
		}
		before = s.asked
		if frame(t, stream, low); s.asked != before {
			t.Errorf("%s: a frame that repeats the last one asked for photos", c.name)
		}
	}
}

// The words of the header are those of the format as MultimediaWiki describes it: YUV4MPEG2.
func TestHeader(t *testing.T) {
	base := picture.New(1920, 1080)
	s := scene{Scene: picture.Scene{Base: base, Curve: light.SRGB()}}
	for _, c := range []struct {
		num, den int64
		chroma   int
		want     string
	}{
		{30000, 1001, 420, "YUV4MPEG2 W1920 H1080 F30000:1001 Ip A1:1 C420mpeg2 XCOLORRANGE=LIMITED\n"},
		{25, 1, 444, "YUV4MPEG2 W1920 H1080 F25:1 Ip A1:1 C444 XCOLORRANGE=LIMITED\n"},
	} {
		stream, err := New(s.source(), Options{RateNum: c.num, RateDen: c.den, Chroma: c.chroma})
		if err != nil {
			t.Fatal(err)
		}
		if got := stream.Header(); got != c.want {
			t.Errorf("header is %q, want %q", got, c.want)
		}
		size := len("FRAME\n") + 1920*1080*map[int]int{420: 3, 444: 6}[c.chroma]/2
		if got := frame(t, stream, nil); len(got) != size || !strings.HasPrefix(string(got), "FRAME\n") {
			t.Errorf("%d: a frame has %d bytes and begins with %q; want %d", c.chroma, len(got), got[:6], size)
		}
	}
}

func TestWhatIsRefused(t *testing.T) {
	random := rand.New(rand.NewPCG(4, 4))
	source := func(width, height int) Source { return randomScene(random, width, height, 2, 1).source() }
	good := Options{RateNum: 25, RateDen: 1, Chroma: 420}
	outside, short, none := source(8, 8), source(8, 8), source(8, 8)
	outside.Masks = []*masks.Mask{{Rect: image.Rect(4, 4, 9, 8), Alpha: make([]uint16, 20)}}
	short.Masks = []*masks.Mask{{Rect: image.Rect(4, 4, 8, 8), Alpha: make([]uint16, 15)}}
	none.Photos = 0
	for _, c := range []struct {
		source  Source
		options Options
		want    string
	}{
		{source(1919, 1079), good, "frame: is 1919 x 1079, and a stream of 4:2:0 video needs an even width and height; crop the photos, or set --size 1918x1078"},
		{source(8, 7), good, "crop the photos, or set --size 8x6"},
		{source(1, 2), good, "--size 2x2"},
		{source(8, 8), Options{RateNum: 25, RateDen: 1, Chroma: 422}, "stream: chroma 422 is not known; choose 420 or 444"},
		{source(8, 8), Options{RateNum: 25, RateDen: 0, Chroma: 420}, "stream: frame rate 25/0 is not above 0"},
		{source(8, 8), Options{RateNum: -25, RateDen: 1, Chroma: 420}, "stream: frame rate -25/1 is not above 0"},
		{Source{Width: 0, Height: 8}, good, "frame: is 0 x 8; both must be 1 or more"},
		{outside, good, "mask of column 1: lies at (4,4)-(9,8), outside the frame of 8 x 8"},
		{short, good, "mask of column 1: has 15 values, and 4 x 4 pixels need 16"},
		{none, good, "photos: there are none"},
	} {
		if _, err := New(c.source, c.options); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("error is %v, want %q", err, c.want)
		}
	}
}

func TestAFrameThatCannotBeMadeWritesNothing(t *testing.T) {
	random := rand.New(rand.NewPCG(9, 9))
	s := randomScene(random, 16, 8, 3, 2)
	source := s.source()
	lost := errors.New("photos: level 2 is lost")
	source.Photo = func(level int) (picture.Reader, error) {
		switch level {
		case 2:
			return nil, lost
		case 1:
			return noise(random, 8, 8), nil
		}
		return s.Photos[level], nil
	}
	stream, err := New(source, Options{RateNum: 25, RateDen: 1, Chroma: 420})
	if err != nil {
		t.Fatal(err)
	}
	for range 2 { // before the first frame and after it
		for _, c := range []struct {
			tuple []levels.Level
			want  string
		}{
			{[]levels.Level{0, 2000}, lost.Error()},
			{[]levels.Level{0, 1500}, "photo of level 1: is 8 x 8, the frame is 16 x 8"},
			{[]levels.Level{0}, "frame: has 1 levels, and there are 2 columns"},
			{[]levels.Level{0, 2001}, "column 2: stands at level 2.001, and the photos go from 0 to 2"},
			{[]levels.Level{-1, 0}, "column 1: stands at level -0.001"},
		} {
			var out bytes.Buffer
			if err := stream.Write(&out, c.tuple); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("levels %v: error is %v, want %q", c.tuple, err, c.want)
			}
			if out.Len() > 0 {
				t.Errorf("levels %v: %d bytes were written", c.tuple, out.Len())
			}
		}
		tuple := []levels.Level{0, 0}
		if got, want := frame(t, stream, tuple), fromScratch(&s.Scene, tuple, 420); !bytes.Equal(got, want) {
			t.Error("after errors: ", difference(got, want, 16, 8, 420))
		}
	}
}

type failing struct{ err error }

func (f failing) Write([]byte) (int, error) { return 0, f.err }

func TestAnErrorOfTheWriterIsToldAsItIs(t *testing.T) {
	stream := open(t, randomScene(rand.New(rand.NewPCG(1, 1)), 4, 4, 1, 1), Options{Chroma: 444})
	if err := stream.Write(failing{io.ErrClosedPipe}, []levels.Level{0}); !errors.Is(err, io.ErrClosedPipe) {
		t.Errorf("error is %v, want one that wraps %v", err, io.ErrClosedPipe)
	}
}

// difference says where two frames first differ.
func difference(got, want []byte, width, height, chroma int) string {
	if len(got) != len(want) {
		return fmt.Sprintf("%d bytes, want %d", len(got), len(want))
	}
	for i := range got {
		if got[i] == want[i] {
			continue
		}
		at, name := i-len(frameMark), "Y'"
		if at >= width*height {
			at, name = at-width*height, "Cb"
			if chroma == 420 {
				width, height = width/2, height/2
			}
			if at >= width*height {
				at, name = at-width*height, "Cr"
			}
		}
		return fmt.Sprintf("%s at (%d, %d) is %d, want %d", name, at%width, at/width, got[i], want[i])
	}
	return "no difference"
}
