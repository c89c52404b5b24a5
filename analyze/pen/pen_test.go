package pen

import (
	"image"
	"image/color"
	"math"
	"testing"
)

var red = color.RGBA{255, 0, 0, 255}

// painted is the area that is red, in pixels; a pixel that is red by half counts half.
func painted(img *image.RGBA) float64 {
	sum := 0.0
	for y := img.Rect.Min.Y; y < img.Rect.Max.Y; y++ {
		for x := img.Rect.Min.X; x < img.Rect.Max.X; x++ {
			sum += float64(img.RGBAAt(x, y).R) / 255
		}
	}
	return sum
}

func TestAreasAreThoseOfGeometry(t *testing.T) {
	ring := make([]Point, 360)
	for i := range ring {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / 360)
		ring[i] = Point{50 + 30*cos, 50 + 30*sin}
	}
	for _, c := range []struct {
		name string
		draw func(*image.RGBA)
		want float64
	}{
		{"a rectangle between pixels", func(d *image.RGBA) {
			Fill(d, red, Point{10.5, 10.25}, Point{20.5, 10.25}, Point{20.5, 12.75}, Point{10.5, 12.75})
		}, 25},
		{"a triangle", func(d *image.RGBA) { Fill(d, red, Point{0, 0}, Point{40, 0}, Point{0, 30}) }, 600},
		{"a circle", func(d *image.RGBA) { Fill(d, red, ring...) }, math.Pi * 900},
		{"a slanting line", func(d *image.RGBA) { Line(d, red, 2, Point{20, 20}, Point{50, 60}) }, 100},
		{"a line that leaves the picture", func(d *image.RGBA) { Line(d, red, 4, Point{-1e9, 50}, Point{1e9, 50}) }, 400},
		{"a line of no length", func(d *image.RGBA) { Line(d, red, 4, Point{5, 5}, Point{5, 5}) }, 0},
		{"a shape outside the picture", func(d *image.RGBA) { Fill(d, red, Point{200, 0}, Point{300, 0}, Point{300, 50}) }, 0},
		{"a shape of no points", func(d *image.RGBA) { Fill(d, red) }, 0},
	} {
		dst := image.NewRGBA(image.Rect(0, 0, 100, 100))
		c.draw(dst)
		if got := painted(dst); math.Abs(got-c.want) > 0.01*c.want+0.1 {
			t.Errorf("%s covers %.2f pixels, want %.2f", c.name, got, c.want)
		}
	}
}

func TestAPartOfAPictureIsNotLeft(t *testing.T) {
	dst := image.NewRGBA(image.Rect(0, 0, 60, 40))
	part := dst.SubImage(image.Rect(20, 10, 30, 30)).(*image.RGBA)
	letters, err := Letters(20)
	if err != nil {
		t.Fatal(err)
	}
	Fill(part, red, Point{0, 0}, Point{60, 0}, Point{60, 40}, Point{0, 40})
	Text(part, red, letters, Point{0, 28}, "cairn cairn")
	if got := painted(dst); got != 200 {
		t.Errorf("a part of 200 pixels filled covers %v", got)
	}
}

func TestLettersStandOnTheirBaseLineAndAreAsWideAsTold(t *testing.T) {
	letters, err := Letters(20)
	if err != nil {
		t.Fatal(err)
	}
	dst := image.NewRGBA(image.Rect(0, 0, 200, 60))
	Text(dst, red, letters, Point{10, 40}, "HHHH")
	var ink image.Rectangle
	for y := range 60 {
		for x := range 200 {
			if dst.RGBAAt(x, y).R > 0 {
				ink = ink.Union(image.Rect(x, y, x+1, y+1))
			}
		}
	}
	wide := Width(letters, "HHHH")
	if ink.Max.Y != 40 || ink.Min.X < 10 || float64(ink.Max.X) > 10+wide || float64(ink.Dx()) < 0.9*wide {
		t.Errorf("ink at %v; the base line is at 40, the text begins at 10 and is %.1f wide", ink, wide)
	}
}
