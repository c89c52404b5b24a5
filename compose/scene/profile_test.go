package scene

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"colonnade/analyze/levels"
	"colonnade/compose/light"
	"colonnade/compose/photos"
	"colonnade/compose/pngfile"
)

// iccProfile is as little of an RGB profile as gives a curve (ICC.1:2022, 7 and 10.6): each channel a power of
// power/256, or that of sRGB when it is 0.
func iccProfile(power uint16) []byte {
	icc := make([]byte, 128)
	copy(icc[16:], "RGB XYZ ")
	copy(icc[36:], "acsp")
	curve := append([]byte("curv\x00\x00\x00\x00"), 0, 0, 0, 1, byte(power>>8), byte(power), 0, 0)
	if power == 0 {
		curve = append([]byte("para\x00\x00\x00\x00"), 0, 3, 0, 0)
		for _, v := range []uint32{157286, 62119, 3417, 5072, 2651} { // 2.4, 1/1.055, 0.055/1.055, 1/12.92, 0.04045
			curve = binary.BigEndian.AppendUint32(curve, v)
		}
	}
	icc = binary.BigEndian.AppendUint32(icc, 3)
	for _, name := range []string{"rTRC", "gTRC", "bTRC"} {
		icc = append(icc, name...)
		icc = binary.BigEndian.AppendUint32(icc, 128+4+3*12)
		icc = binary.BigEndian.AppendUint32(icc, uint32(len(curve)))
	}
	return append(icc, curve...)
}

// striped is a set of black and of white photos with stripes a pixel wide, with a profile or without.
func striped(t *testing.T, icc []byte) *photos.Set {
	t.Helper()
	folder := t.TempDir()
	for level := range 2 {
		img := image.NewNRGBA(image.Rect(0, 0, 40, 30))
		for y := range 30 {
			for x := range 40 {
				v := uint8(255 * (x & 1))
				if level == 1 {
					v = 255
				}
				img.SetNRGBA(x, y, color.NRGBA{v, v, v, 255})
			}
		}
		var b bytes.Buffer
		if err := png.Encode(&b, img); err != nil {
			t.Fatal(err)
		}
		data := b.Bytes()
		if icc != nil { // behind IHDR
			data = append(append(bytes.Clone(data[:33]), pngfile.NewColour(icc)...), data[33:]...)
		}
		if err := os.WriteFile(filepath.Join(folder, "p"+strconv.Itoa(level)+".png"), data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	set, err := photos.OpenSet(folder)
	if err != nil {
		t.Fatal(err)
	}
	return set
}

// TestPhotosAreMixedByTheirProfilesCurve: stripes of black and white resized to half the size, and white half laid
// over black, read what half the light is in each encoding.
func TestPhotosAreMixedByTheirProfilesCurve(t *testing.T) {
	for _, c := range []struct {
		name           string
		icc            []byte
		encoded        bool
		resized, mixed uint8
	}{
		{"no profile", nil, false, 188, 188}, // IEC 61966-2-1: 187.5160
		{"sRGB's curve", iccProfile(0), false, 188, 188},
		{"Adobe RGB", iccProfile(563), false, 186, 186}, // 255 x 0.5^(256/563) is 186.06
		{"straight", iccProfile(256), false, 128, 128},  // 127.5 rounds up
		{"straight, encoded", iccProfile(256), true, 128, 128},
		{"Adobe RGB, encoded", iccProfile(563), true, 186, 128}, // resizing is of the light all the same
	} {
		s := newScene(t, striped(t, c.icc), image.Pt(20, 15), []Column{{box(3, 3, 10, 20), 1}}, 0, c.encoded)
		p, err := s.Photo(0)
		if err != nil {
			t.Fatal(err)
		}
		if got := p.Row(7)[3*10]; got != c.resized {
			t.Errorf("%s: resized, half the light is code %d, want %d", c.name, got, c.resized)
		}
		if got := s.Curve().Code(light.One / 2); got != c.mixed {
			t.Errorf("%s: mixed, half the light is code %d, want %d", c.name, got, c.mixed)
		}
		if note := s.Profile().Note; note != "" {
			t.Errorf("%s: %s", c.name, note)
		}
	}
}

func TestFramesOfPhotosThatShareSRGBsCurveAreTheSamePictures(t *testing.T) {
	var frames [2][]byte
	for i, icc := range [][]byte{nil, iccProfile(0)} {
		s := newScene(t, striped(t, icc), image.Pt(20, 15), []Column{{box(3, 3, 20, 20), 3}}, 0, false)
		data, err := s.Coder(0, 1).Append(nil, []levels.Level{levels.One})
		if err != nil {
			t.Fatal(err)
		}
		frames[i] = data[bytes.Index(data, []byte("IDAT")):]
	}
	if !bytes.Equal(frames[0], frames[1]) {
		t.Error("the pictures differ")
	}
}
