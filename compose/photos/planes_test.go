package photos

import (
	"bytes"
	"image"
	"image/color"
	"path/filepath"
	"testing"

	"colonnade/compose/picture"
)

// Every luma and colour becomes what image/color makes of it.
func TestPlanesColours(t *testing.T) {
	samples := image.NewYCbCr(image.Rect(0, 0, 256, 1), image.YCbCrSubsampleRatio444)
	for i := range samples.Y {
		samples.Y[i] = uint8(i)
	}
	p, row := newPlanes(samples), make([]uint8, 3*256)
	for cb := range 256 {
		for cr := range 256 {
			for i := range samples.Cb {
				samples.Cb[i], samples.Cr[i] = uint8(cb), uint8(cr)
			}
			p.Read(row, 0, 0)
			for i := range 256 {
				r, g, b := color.YCbCrToRGB(uint8(i), uint8(cb), uint8(cr))
				if row[3*i] != r || row[3*i+1] != g || row[3*i+2] != b {
					t.Fatalf("Y'CbCr %d %d %d: %v, want %d %d %d", i, cb, cr, row[3*i:3*i+3], r, g, b)
				}
			}
		}
	}
}

// Any stretch of any row, with every way of sharing colour samples, against the image package's own look-up.
func TestPlanesStretches(t *testing.T) {
	for _, ratio := range []image.YCbCrSubsampleRatio{
		image.YCbCrSubsampleRatio444, image.YCbCrSubsampleRatio422, image.YCbCrSubsampleRatio420,
		image.YCbCrSubsampleRatio440, image.YCbCrSubsampleRatio411, image.YCbCrSubsampleRatio410,
	} {
		samples := image.NewYCbCr(image.Rect(0, 0, 13, 7), ratio)
		for i, plane := range [][]uint8{samples.Y, samples.Cb, samples.Cr} {
			for k := range plane {
				plane[k] = uint8(k*37 + i*91)
			}
		}
		p := newPlanes(samples)
		for y := range 7 {
			for from := range 13 {
				for to := from; to <= 13; to++ {
					got := make([]uint8, 3*(to-from))
					p.Read(got, from, y)
					for x := from; x < to; x++ {
						c := samples.YCbCrAt(x, y)
						r, g, b := color.YCbCrToRGB(c.Y, c.Cb, c.Cr)
						if pixel := [3]uint8(got[3*(x-from):]); pixel != [3]uint8{r, g, b} {
							t.Fatalf("%v, pixels %d to %d of row %d: pixel %d is %v, want %v", ratio, from, to, y, x, pixel, [3]uint8{r, g, b})
						}
					}
				}
			}
		}
	}
}

func TestJPEGPhotosKeepTheirSamples(t *testing.T) {
	data := jpegOf(t, corners(61, 41)) // a decoder's rows are longer
	photo, err := Open(write(t, filepath.Join(t.TempDir(), "p1.jpg"), data))
	if err != nil {
		t.Fatal(err)
	}
	read, err := photo.Decode()
	if err != nil {
		t.Fatal(err)
	}
	if _, whole := read.(*picture.Picture); whole {
		t.Error("all pixels are made")
	}
	img, _, err := image.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	samples, pixels := img.(*image.YCbCr), picture.Whole(read)
	for i := 0; i < len(pixels.Pix); i += 3 {
		c := samples.YCbCrAt(i/3%61, i/3/61)
		r, g, b := color.YCbCrToRGB(c.Y, c.Cb, c.Cr)
		if got := [3]uint8(pixels.Pix[i:]); got != [3]uint8{r, g, b} {
			t.Fatalf("pixel %d is %v, want %v", i/3, got, [3]uint8{r, g, b})
		}
	}
}

func BenchmarkPlanesRead(b *testing.B) {
	samples := image.NewYCbCr(image.Rect(0, 0, 1920, 1080), image.YCbCrSubsampleRatio420)
	for i := range samples.Y {
		samples.Y[i] = uint8(i * 7)
	}
	for i := range samples.Cb {
		samples.Cb[i], samples.Cr[i] = uint8(100+i%56), uint8(100+i%47)
	}
	p, row := newPlanes(samples), make([]uint8, 3*1920)
	b.SetBytes(int64(len(row) * 1080))
	for b.Loop() {
		for y := range 1080 {
			p.Read(row, 0, y)
		}
	}
}
