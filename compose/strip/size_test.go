package strip

import (
	"bytes"
	"image/png"
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

// drawn is a stage of one colour on which flat discs of others lie on each other.
func drawn(width, height int) *stage {
	var photos []*picture.Picture
	for k := range 5 {
		p := picture.New(width, height)
		for y := range height {
			for x := range width {
				grey := uint8(210)
				column, disc := 4*x/width, 5*(height-1-y)/height
				dx, dy := float64(x-(2*column+1)*width/8)/float64(width/12+column), float64(y-height+(2*disc+1)*height/10)/float64(height/11)
				if disc < k && dx*dx+dy*dy < 1 {
					grey = uint8(50 + 20*disc + 7*column)
				}
				copy(p.Row(y)[3*x:], []uint8{grey, grey + 5, grey + 10})
			}
		}
		photos = append(photos, p)
	}
	return newStage(photos[0], photos, upright(width, height, 4, 80, 2), light.SRGB())
}

// A run ends at every column's border, which shows where a row is a few long runs; the more so the less there is else.
func TestFramesOfDrawingsStaySmall(t *testing.T) {
	s := drawn(640, 360)
	c := s.coder(t, Options{})
	all, allUsual := 0, 0
	for _, tuple := range tuples(4, 5) {
		s.check(t, c, tuple)
		size, usual := len(s.frame(t, c, tuple)), s.encoded(t, tuple, png.DefaultCompression)
		if size > usual*15/8 {
			t.Errorf("levels %v: a drawn frame takes %d bytes, image/png's default %d", tuple, size, usual)
		}
		all += size
		allUsual += usual
	}
	if all > allUsual*3/2 {
		t.Errorf("drawn frames take %d bytes, image/png's default %d", all, allUsual)
	}
}
