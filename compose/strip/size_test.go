package strip

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math"
	"math/rand/v2"
	"testing"

	"colonnade/analyze/levels"
	"colonnade/compose/light"
	"colonnade/compose/picture"
)

// encoded is the size of a frame as image/png writes it.
func (s *stage) encoded(t *testing.T, tuple []levels.Level, level png.CompressionLevel) int {
	p := picture.New(s.Base.Width, s.Base.Height)
	s.Compose(p, tuple)
	var file bytes.Buffer
	encode(t, &file, p, level)
	return file.Len()
}

func TestFramesOfPhotosAreAsSmallAsUsualPNGFiles(t *testing.T) {
	for _, columns := range []int{1, 6} {
		s := photographed(360, 200, columns, 4)
		c := s.coder(t, Options{})
		for _, tuple := range tuples(columns, 4)[1:3] {
			size := len(s.frame(t, c, tuple))
			if usual := s.encoded(t, tuple, png.DefaultCompression); size > usual*103/100 {
				t.Errorf("%d columns: a frame takes %d bytes, image/png's default %d", columns, size, usual)
			}
			if fast := s.encoded(t, tuple, png.BestSpeed); size > fast {
				t.Errorf("%d columns: a frame takes %d bytes, image/png's BestSpeed %d", columns, size, fast)
			}
		}
	}
}

// In black and white all is in matches, those of other columns are missed, and what is above in the columns counts.
func TestFramesOfBlackAndWhitePhotosStaySmall(t *testing.T) {
	s := photographed(600, 300, 6, 4)
	for _, p := range append(s.Photos, s.Base) {
		grey(p)
	}
	c := s.coder(t, Options{})
	for _, tuple := range tuples(6, 4) {
		s.check(t, c, tuple)
		size := len(s.frame(t, c, tuple))
		if usual := s.encoded(t, tuple, png.DefaultCompression); size > usual*115/100 {
			t.Errorf("a frame takes %d bytes, image/png's default %d", size, usual)
		}
		if fast := s.encoded(t, tuple, png.BestSpeed); size > fast {
			t.Errorf("a frame takes %d bytes, image/png's BestSpeed %d", size, fast)
		}
	}
}

// drawn is a stage of one colour, or one of upright stripes, on which flat discs of others lie on each other, or blocks.
func drawn(width, height, columns int, blocks, stripes bool) *stage {
	var photos []*picture.Picture
	for k := range 5 {
		p := picture.New(width, height)
		for y := range height {
			for x := range width {
				grey := uint8(210)
				if stripes {
					grey += uint8(x / 9 % 4)
				}
				column, disc := columns*x/width, 5*(height-1-y)/height
				dx := float64(2*columns*x-(2*column+1)*width) / float64(width) / 0.7
				dy := float64(y-height+(2*disc+1)*height/10) / float64(height/11)
				if disc < k && (blocks && dx*dx < 1 && dy*dy < 1 || dx*dx+dy*dy < 1) {
					grey = uint8(50 + 20*disc + 7*column)
				}
				copy(p.Row(y)[3*x:], []uint8{grey, grey + 5, grey + 10})
			}
		}
		photos = append(photos, p)
	}
	return newStage(photos[0], photos, upright(width, height, columns, 80, 2), light.SRGB())
}

// A drawing's bytes are few, so that the ends of extents show: the more, the narrower columns are.
func TestFramesOfDrawingsStaySmall(t *testing.T) {
	for _, test := range []struct {
		width, height, columns int
		blocks, stripes        bool
	}{
		{320, 240, 4, false, false},
		{640, 360, 4, false, false},
		{640, 360, 4, true, false},
		{640, 360, 4, true, true},
		{1280, 720, 6, false, false},
		{1920, 1080, 24, true, false},
		{1280, 720, 24, true, false}, // each column is narrower than the longest match
	} {
		s := drawn(test.width, test.height, test.columns, test.blocks, test.stripes)
		c := s.coder(t, Options{})
		all, allUsual := 0, 0
		for _, tuple := range append(tuples(test.columns, 5), make([]levels.Level, test.columns)) {
			s.check(t, c, tuple)
			size, usual := len(s.frame(t, c, tuple)), s.encoded(t, tuple, png.DefaultCompression)
			if 100*size > 150*usual {
				t.Errorf("%+v: at levels %v a drawn frame takes %d bytes, image/png's default %d", test, tuple, size, usual)
			}
			all += size
			allUsual += usual
		}
		if 100*all > 130*allUsual {
			t.Errorf("%+v: drawn frames take %d bytes, image/png's default %d", test, all, allUsual)
		}
	}
}

// What is above a column's objects shows the empty stage at most levels, so that it counts more than once.
func TestDrawingsThatAreEmptyButForOneObjectStaySmall(t *testing.T) {
	s := drawn(640, 360, 4, false, false)
	one := []levels.Level{0, 0, 1000, 0}
	size, usual := len(s.frame(t, s.coder(t, Options{}), one)), s.encoded(t, one, png.DefaultCompression)
	if 100*size > 122*usual {
		t.Errorf("the stage with one object takes %d bytes, image/png's default %d", size, usual)
	}
}

// What is repeated of a slope of colour lies some rows above, in the same column. image/png looks at many more places for it: such
// frames take twice as much, a tenth more without a search of their own.
func TestFramesOfSlopesStaySmall(t *testing.T) {
	const width, height, columns = 960, 540, 4 // eleven rows lie in the window
	var photos []*picture.Picture
	for k := range 4 {
		p := picture.New(width, height)
		for y := range height {
			for x := range width {
				down, across := 60000+50000*y/height, 80000*x/width
				colour := []uint8{uint8((down + across) / 1000), uint8((down + across*4/5) / 1000), uint8((down + across*3/5) / 1000)}
				if column := columns * x / width; y/100 > 4-k && x-column*width/columns > 80 && x-column*width/columns < 160 {
					colour = []uint8{50, uint8(100 + 30*column), uint8(20 * k)}
				}
				copy(p.Row(y)[3*x:], colour)
			}
		}
		photos = append(photos, p)
	}
	s := newStage(photos[0], photos, upright(width, height, columns, 120, 2), light.SRGB())
	c := s.prepared(t, Options{})
	if kind := c.full.blocks[len(c.full.blocks)/2].kind; kind != kindSlope {
		t.Errorf("the middle is taken for another kind: %d", kind)
	}
	for _, tuple := range append(tuples(columns, 4), make([]levels.Level, columns)) {
		s.check(t, c, tuple)
		size, usual := len(s.frame(t, c, tuple)), s.encoded(t, tuple, png.DefaultCompression)
		if 100*size > 250*usual {
			t.Errorf("at levels %v a frame takes %d bytes, image/png's default %d", tuple, size, usual)
		}
	}
}

// A sky in a file of low quality leaves literals like a slope's, but is smaller by whole pixels.
func TestSkiesOfLowQualityAreParsedByPixels(t *testing.T) {
	const width, height = 960, 540
	random := rand.New(rand.NewPCG(47, 48))
	sky := image.NewRGBA(image.Rect(0, 0, width, height))
	for y := range height {
		for x := range width {
			value := 90 + 100*float64(y)/height + 8*math.Sin(float64(x)/61)*math.Cos(float64(y)/43) + 2.5*random.NormFloat64()
			sky.SetRGBA(x, y, color.RGBA{uint8(0.6 * value), uint8(0.8 * value), uint8(value), 255})
		}
	}
	var file bytes.Buffer
	if err := jpeg.Encode(&file, sky, &jpeg.Options{Quality: 75}); err != nil {
		t.Fatal(err)
	}
	decoded, err := jpeg.Decode(&file)
	if err != nil {
		t.Fatal(err)
	}
	p := picture.New(width, height)
	for y := range height {
		for x := range width {
			c := color.RGBAModel.Convert(decoded.At(x, y)).(color.RGBA)
			copy(p.Row(y)[3*x:], []uint8{c.R, c.G, c.B})
		}
	}
	s := newStage(p, nil, nil, light.SRGB())
	c := s.prepared(t, Options{})
	if kind := c.empty.blocks[len(c.empty.blocks)/2].kind; kind != kindGrey {
		t.Errorf("the middle is taken for another kind: %d", kind)
	}
	s.check(t, c, nil)
	if size, usual := len(s.frame(t, c, nil)), s.encoded(t, nil, png.DefaultCompression); 100*size > 95*usual {
		t.Errorf("the sky takes %d bytes, image/png's default %d", size, usual)
	}
}

// Eight rows that are coded by themselves, as a JPEG file's are, begin where the picture is unlike what is above. Wherever that is
// it is found; in a picture that has none, none are.
func TestRowsAtWhichBlocksBeginAreFound(t *testing.T) {
	for _, width := range []int{320, 1280, 1600} { // the wider, the less rows are sampled, at 1600 not each as often
		testBlockRows(t, width)
	}
}

func testBlockRows(t *testing.T, width int) {
	const height = 192
	from := smooth(3, width, height+2*seams)
	for seam := noSeam; seam < seams; seam++ {
		p := picture.New(width, height)
		for y := range height {
			row := y
			if seam != noSeam {
				row = (y + seams - seam) / seams * seams
			}
			for x, value := range from.Row(row) {
				p.Row(y)[x] = value + uint8(x*x*7+y*y*13+x*y*5)%5
			}
		}
		s := newStage(p, nil, nil, light.SRGB())
		c := s.prepared(t, Options{})
		for b := range c.empty.blocks {
			if got := c.empty.blocks[b].seam; got != seam {
				t.Errorf("band %d of a picture %d pixels wide whose blocks begin at row %d: %d is found", b, width, seam, got)
			}
		}
		s.check(t, c, nil)
	}
}
