package photos

import (
	"bytes"
	"encoding/binary"
	"errors"
	"hash/crc32"
	"image"
	"image/jpeg"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"colonnade/compose/pngfile"
)

func TestWhatIsNoPhotoIsRefusedByName(t *testing.T) {
	folder := t.TempDir()
	file := write(t, filepath.Join(folder, "notes.txt"), nil)
	for path, want := range map[string]string{
		filepath.Join(folder, "gone-1.jpg"): "can not be opened (no such file or directory); check its name and permissions",
		folder:                              "is not a regular file; name photos only",
	} {
		_, err := Open(path)
		if err == nil || err.Error() != "photos: "+path+" "+want {
			t.Errorf("%s: %v, want %q", path, err, want)
		}
	}
	if _, err := Open(filepath.Join(folder, "gone-1.jpg")); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("the cause of a photo that is not there is %v, want %v", err, fs.ErrNotExist)
	}
	for where, want := range map[string]string{
		file:                             "is a file; name the folder that holds the photos, or a glob",
		filepath.Join(folder, "a[1.jpg"): "is not a pattern (syntax error in pattern); a [ needs its ]",
	} {
		if _, err := OpenSet(where); err == nil || err.Error() != "photos: "+where+" "+want {
			t.Errorf("%s: %v, want %q", where, err, want)
		}
	}
}

// cmyk is the head of a JPEG of four components (ITU-T T.81, B.2.2), which is all that is read of it.
func cmyk() []byte {
	head := []byte{0xff, 0xd8, 0xff, 0xc0, 0, 20, 8, 0, 4, 0, 4, 4}
	for component := range byte(4) {
		head = append(head, component+1, 0x11, 0)
	}
	return append(head, 0xff, 0xda, 0, 14, 4, 1, 0, 2, 0, 3, 0, 4, 0, 0, 63, 0)
}

// A photo of every kind that is cut off anywhere is told by Open, though it decodes nothing.
func TestATruncatedPhotoIsToldWhereverItEnds(t *testing.T) {
	folder := t.TempDir()
	for name, whole := range map[string][]byte{"whole.jpg": jpegOf(t, corners(24, 16)), "whole.png": pngOf(t, corners(24, 16))} {
		for size := 1; size < len(whole); size += 1 + min(size/40, (len(whole)-size)/2) {
			path := write(t, filepath.Join(folder, name), whole[:size])
			_, err := Open(path)
			if err == nil || !strings.HasPrefix(err.Error(), "photos: "+path+" is ") || !strings.Contains(err.Error(), "; ") && !strings.Contains(err.Error(), "export") {
				t.Errorf("the first %d of %d bytes of %s: %v", size, len(whole), name, err)
			}
		}
	}
}

func TestAPhotoInOtherColoursIsRefused(t *testing.T) {
	path := write(t, filepath.Join(t.TempDir(), "print-0.jpg"), cmyk())
	if _, err := Open(path); err == nil || err.Error() != "photos: "+path+" is a CMYK photo; export it as RGB" {
		t.Errorf("a CMYK photo: %v", err)
	}
}

// app2 is a segment that holds part number of count of a profile (ICC.1:2022, B.4).
func app2(number, count byte, part []byte) []byte {
	body := append([]byte("ICC_PROFILE\x00"), number, count)
	body = append(body, part...)
	return append(binary.BigEndian.AppendUint16([]byte{0xff, 0xe2}, uint16(len(body)+2)), body...)
}

// rgbProfile is as much of a profile as is looked at here.
func rgbProfile(last byte) []byte {
	p := make([]byte, 132)
	copy(p[16:], "RGB ")
	p[131] = last
	return p
}

func TestDamagedProfilesAreRefused(t *testing.T) {
	jpegWith := func(segments ...[]byte) []byte {
		whole := jpegOf(t, corners(8, 8))
		return append(append(whole[:2:2], bytes.Join(segments, nil)...), whole[2:]...)
	}
	pngWith := func(data string) []byte {
		whole := pngOf(t, corners(8, 8))
		return append(pngfile.AppendChunk(whole[:33:33], "iCCP", []byte(data)), whole[33:]...)
	}
	const damaged, foreign = ": its colour profile is damaged; export it again", ": its colour profile is not for RGB; export it as an RGB photo"
	half := rgbProfile(0)[:66]
	for name, c := range map[string]struct {
		data []byte
		want string
	}{
		"a part is missing":             {jpegWith(app2(1, 2, half)), damaged},
		"a part is there twice":         {jpegWith(app2(1, 2, half), app2(1, 2, half)), damaged},
		"parts disagree on their count": {jpegWith(app2(1, 2, half), app2(2, 3, half)), damaged},
		"a part has no number":          {jpegWith(app2(0, 1, half)), damaged},
		"the profile is for grey":       {jpegWith(app2(1, 1, append(make([]byte, 16), "GRAY"...))), foreign},
		"the profile is cut off":        {jpegWith(app2(1, 1, half[:12])), foreign},
		"a PNG's does not inflate":      {pngWith("icc\x00\x00not deflated"), damaged},
		"a PNG's has no name":           {pngWith("icc without an end"), damaged},
		"a PNG's is compressed oddly":   {pngWith("icc\x00\x01"), damaged},
	} {
		path := write(t, filepath.Join(t.TempDir(), "shot-0.jpg"), c.data)
		if _, err := Open(path); err == nil || err.Error() != "photos: "+path+c.want {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
	}
	// Fill bytes and marks without a length stand between segments as they like (ITU-T T.81, B.1.1.2 and B.1.1.4).
	path := write(t, filepath.Join(t.TempDir(), "shot-0.jpg"), jpegWith([]byte{0xff}, app2(1, 1, rgbProfile(7))))
	if photo, err := Open(path); err != nil || !bytes.Equal(photo.Profile, rgbProfile(7)) {
		t.Errorf("a profile behind a fill byte: %v", err)
	}
}

func TestASetOfTwoProfilesIsRefused(t *testing.T) {
	folder := t.TempDir()
	whole := jpegOf(t, corners(8, 8))
	for i := range byte(2) {
		data := append(append(whole[:2:2], app2(1, 1, rgbProfile(i))...), whole[2:]...)
		write(t, filepath.Join(folder, "shot-"+string('0'+rune(i))+".jpg"), data)
	}
	_, err := OpenSet(folder)
	want := "photos: " + filepath.Join(folder, "shot-1.jpg") + " has another colour profile than " + filepath.Join(folder, "shot-0.jpg") + "; export all photos with the same one"
	if err == nil || err.Error() != want {
		t.Errorf("%v, want %q", err, want)
	}
}

func TestAPhotoThatGoesAwayIsNoticed(t *testing.T) {
	path := write(t, filepath.Join(t.TempDir(), "shot-0.png"), pngOf(t, corners(8, 8)))
	photo, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
	if _, err := photo.Pixels(); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("%v, want %v", err, fs.ErrNotExist)
	}
}

func TestACropOfLessThanAPixelIsRefused(t *testing.T) {
	_, err := NewView(image.Pt(60, 40), image.Point{}, []float64{5, 5, 0.2, 0.3})
	if want := "crop: 0.2 x 0.3 is less than a pixel; make it larger"; err == nil || err.Error() != want {
		t.Errorf("%v, want %q", err, want)
	}
}

// A file of a few bytes that says it is a large photo would have its decoder claim a gigabyte.
func TestAPhotoTooShortForItsSizeIsRefusedBeforeItIsDecoded(t *testing.T) {
	folder := t.TempDir()
	jpg, png := jpegOf(t, corners(24, 16)), pngOf(t, corners(24, 16))
	frame := bytes.Index(jpg, []byte{0xff, 0xc0})
	binary.BigEndian.PutUint16(jpg[frame+5:], 12000)
	binary.BigEndian.PutUint16(jpg[frame+7:], 12000)
	binary.BigEndian.PutUint32(png[16:], 12000)
	binary.BigEndian.PutUint32(png[20:], 12000)
	binary.BigEndian.PutUint32(png[29:], crc32.ChecksumIEEE(png[12:29]))
	for name, data := range map[string][]byte{"huge-0.jpg": jpg, "huge-0.png": png} {
		_, err := Open(write(t, filepath.Join(folder, name), data))
		if err == nil || !strings.HasSuffix(err.Error(), "(it ends too early); copy or export it again") {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// The smallest files that there are of a size: one grey, which each coder makes shortest.
func TestTheShortestPhotosOfASizeAreTaken(t *testing.T) {
	folder := t.TempDir()
	for name, data := range map[string][]byte{
		"flat-0.jpg": jpegOf(t, image.NewGray(image.Rect(0, 0, 2000, 1500))),
		"flat-0.png": pngOf(t, image.NewGray(image.Rect(0, 0, 2000, 1500))),
	} {
		photo, err := Open(write(t, filepath.Join(folder, name), data))
		if err == nil {
			_, err = photo.Pixels()
		}
		if err != nil {
			t.Errorf("%s, %d bytes: %v", name, len(data), err)
		}
	}
}

func TestAPatternSearchesNoWholeDisk(t *testing.T) {
	for pattern, want := range map[string]int{
		"/*/*/*/*.jpg": 3, "*.jpg": 0, "shot-*/*.jpg": 1, "/[ab]/?/x/p*.png": 2, `/a\*b/\[c/*.jpg`: 0, "/**/a.jpg": 1,
	} {
		if got := patternFolders(pattern); got != want {
			t.Errorf("%s: %d open folders, want %d", pattern, got, want)
		}
	}
	if _, err := Find("/*/*/*/*.jpg"); err == nil || !strings.Contains(err.Error(), "leaves 3 folders open, more than 2; name the folder") {
		t.Error(err)
	}
}

// Decoders pass over bytes between a JPEG's segments that do not belong there; so does Open.
func TestAJPEGWithPaddingBetweenItsSegmentsIsTaken(t *testing.T) {
	whole := jpegOf(t, corners(24, 16))
	for _, padding := range []string{"\x00\x00\x00\x00", "\x00", "\xff\x00\x12\x34"} {
		for _, before := range []string{"\xff\xc0", "\xff\xda"} {
			at := bytes.Index(whole, []byte(before))
			data := append(append(whole[:at:at], padding...), whole[at:]...)
			path := write(t, filepath.Join(t.TempDir(), "padded-0.jpg"), data)
			_, decodes := jpeg.Decode(bytes.NewReader(data))
			photo, err := Open(path)
			if err == nil {
				_, err = photo.Pixels()
			}
			if (err == nil) != (decodes == nil) {
				t.Errorf("%q before %q: %v, and the decoder says %v", padding, before, err, decodes)
			}
			if _, err := Open(write(t, path, data[:len(data)-2])); err == nil {
				t.Errorf("%q before %q: taken without its end", padding, before)
			}
		}
	}
}
