package strip

import (
	"context"
	"image"
	"math/rand/v2"
	"testing"

	"colonnade/analyze/levels"
	"colonnade/compose/light"
	"colonnade/compose/picture"
	"colonnade/masks"
)

// dependent is how many pixels of each row depend on a column.
func (s *stage) dependent(t *testing.T, c *Coder) []int {
	t.Helper()
	textures, err := c.full.textures(context.Background(), s.Base)
	if err != nil {
		t.Fatal(err)
	}
	differ, err := c.full.compare(context.Background(), textures, s.Base, picture.Readers(s.Photos))
	if err != nil {
		t.Fatal(err)
	}
	touched := newTouch(s.Base.Width, s.Masks, differ, newSets())
	rows := make([]int, s.Base.Height)
	for y := range rows {
		x := 0
		for _, run := range touched.next(y) {
			if run.set != static {
				rows[y] += run.end - x
			}
			x = run.end
		}
	}
	return rows
}

func TestPixelsOfADrawingAtWhichAllPhotosAgreeDependOnNothing(t *testing.T) {
	base := picture.New(120, 70)
	for y := range base.Height { // its pixels are like the ones to their left, and unlike the ones above
		row := base.Row(y)
		for x := range row {
			row[x] = uint8(100 + y%2)
		}
	}
	photo := picture.New(120, 70)
	copy(photo.Pix, base.Pix)
	for y := 20; y < 30; y++ {
		for x := 3 * 66; x < 3*76; x++ {
			photo.Row(y)[x] ^= 1
		}
	}
	s := newStage(base, []*picture.Picture{base, photo}, upright(120, 70, 1, 90, 2), light.SRGB())
	c := s.coder(t, Options{})
	depends := 0
	for _, n := range s.dependent(t, c) {
		depends += n
	}
	if depends < 100 || depends > 150 {
		t.Errorf("%d pixels depend on the column; the photos differ in 100 and their neighbours", depends)
	}
	s.check(t, c, []levels.Level{1000})
	s.check(t, c, []levels.Level{250})
}

// In a drawing only the rows in which an object begins or ends depend on a column whose mask is upright, and those
// in which the mask begins and ends.
func TestPixelsThatAreLikeTheOnesAboveDependOnNothing(t *testing.T) {
	const width, height = 120, 90
	base := picture.New(width, height)
	for i := range base.Pix {
		base.Pix[i] = 200
	}
	photo := picture.New(width, height)
	copy(photo.Pix, base.Pix)
	for y := 20; y < 70; y++ {
		for x := 3 * 40; x < 3*80; x++ {
			photo.Row(y)[x] = 80
		}
	}
	side := filled(image.Rect(30, 10, 90, 80), func(x, _ int) uint16 { return uint16(min(x-29, 90-x) * masks.Full / 30) })
	s := newStage(base, []*picture.Picture{base, photo}, []*masks.Mask{side}, light.SRGB())
	c := s.coder(t, Options{})
	depends := 0
	for y, n := range s.dependent(t, c) {
		depends += n
		if n > 0 && y != 20 && y != 70 {
			t.Errorf("row %d: %d pixels depend on the column", y, n)
		}
	}
	if depends < 80 || depends > 100 {
		t.Errorf("%d pixels depend on the column; an object of 40 begins and ends", depends)
	}
	for _, level := range []levels.Level{0, 300, 1000} {
		s.check(t, c, []levels.Level{level})
	}
}

func TestOnlyDrawnObjectsHoldRowsToTwoFilters(t *testing.T) {
	const width, height = 120, 90
	random := rand.New(rand.NewPCG(47, 48))
	for _, test := range []struct {
		name  string
		pixel func() uint8
		want  texture
	}{
		{"one colour", func() uint8 { return 80 }, textureUpright},
		{"noise", func() uint8 { return uint8(random.Uint32()) }, textureFlat},
	} {
		base := picture.New(width, height)
		photo := picture.New(width, height)
		for y := 20; y < 85; y++ {
			for x := 3 * 10; x < 3*110; x++ {
				photo.Row(y)[x] = test.pixel()
			}
		}
		s := newStage(base, []*picture.Picture{base, photo}, []*masks.Mask{whole(image.Rect(0, 0, width, height))}, light.SRGB())
		c := s.prepared(t, Options{})
		for _, band := range c.full.layout.bands {
			if band.texture != test.want {
				t.Errorf("objects of %s: rows from %d on have texture %d, want %d", test.name, band.top, band.texture, test.want)
			}
		}
		s.check(t, c, []levels.Level{500})
	}
}

// The base plate alone changes from row to row, at either end of the rows, and shows through a mask.
func TestWhatTheBasePlateHasAtTheEndsOfRowsShowsThroughMasks(t *testing.T) {
	const width, height = 120, 70
	for _, x := range []int{0, width - 1} {
		s := newStage(picture.New(width, height), nil, []*masks.Mask{whole(image.Rect(0, 0, width, height))}, light.SRGB())
		for y := range height {
			s.Base.Row(y)[3*x] = uint8(200 * (y % 2))
		}
		for level := range 3 {
			s.Photos = append(s.Photos, picture.New(width, height))
			for i := range s.Photos[level].Pix {
				s.Photos[level].Pix[i] = uint8(50 + 40*level)
			}
		}
		for i := range s.Masks[0].Alpha {
			s.Masks[0].Alpha[i] = masks.Full / 2
		}
		c := s.prepared(t, Options{})
		if got := c.full.layout.bands[0].texture; got != textureUpright {
			t.Errorf("the rows have texture %d: this test needs upright ones", got)
		}
		for _, level := range []levels.Level{0, 1000, 1500, 2000} {
			s.check(t, c, []levels.Level{level})
		}
	}
}
