package photos

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"colonnade/compose/light"
	"colonnade/compose/picture"
	"colonnade/compose/pngfile"
	"colonnade/masks"
)

func write(t *testing.T, path string, data []byte) string {
	t.Helper()
	if err := os.WriteFile(path, data, 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

func pngOf(t *testing.T, img image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func jpegOf(t *testing.T, img image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: 95}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// corners is a picture that tells every way of turning it apart.
func corners(width, height int) *image.NRGBA {
	img := image.NewNRGBA(image.Rect(0, 0, width, height))
	for y := range height {
		for x := range width {
			img.SetNRGBA(x, y, color.NRGBA{uint8(255 * x / (width - 1)), uint8(255 * y / (height - 1)), 40, 255})
		}
	}
	return img
}

func TestPhotosAreFoundInLevelOrder(t *testing.T) {
	folder := t.TempDir()
	for _, name := range []string{"shot-10.jpg", "shot-9.JPG", "shot-08.png", "shot-11.jpeg", ".shot-12.jpg", "notes-3.txt"} {
		write(t, filepath.Join(folder, name), nil)
	}
	files, err := Find(folder)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, file := range files {
		names = append(names, filepath.Base(file))
	}
	if got, want := strings.Join(names, " "), "shot-08.png shot-9.JPG shot-10.jpg shot-11.jpeg"; got != want {
		t.Errorf("found %s, want %s", got, want)
	}
	byGlob, err := Find(filepath.Join(folder, "shot-1*.jp*g"))
	if err != nil || len(byGlob) != 2 {
		t.Errorf("the glob finds %v, %v", byGlob, err)
	}
}

func TestWhatIsWrongWithASetIsSaidByName(t *testing.T) {
	for name, c := range map[string]struct {
		files []string
		want  string
	}{
		"gap":       {[]string{"a1.jpg", "a2.jpg", "a4.jpg"}, "number 3 is missing between FOLDER/a2.jpg and FOLDER/a4.jpg; add that photo"},
		"two gone":  {[]string{"a99.jpg", "a102.jpg"}, "number 100 is missing between FOLDER/a99.jpg and FOLDER/a102.jpg"},
		"duplicate": {[]string{"a1.jpg", "a01.png", "a2.jpg"}, "FOLDER/a01.png and FOLDER/a1.jpg have the same number 1"},
		"no number": {[]string{"a1.jpg", "base.jpg"}, "FOLDER/base.jpg has no number in its name; number the photos"},
		"nothing":   {nil, "no JPEG or PNG files in FOLDER; name the folder"},
		"telephone": {[]string{".hidden.heic", "IMG_0001.HEIC", "IMG_0002.HEIC"}, "no JPEG or PNG files in FOLDER, but IMG_0001.HEIC; export the photos as JPEG or PNG"},
		"both":      {[]string{"a1.heic", "a1.jpg", "a2.jpg"}, ""},
		"the last":  {[]string{"IMG_01.jpg", "IMG_02.jpg", "IMG_03.HEIC"}, "FOLDER/IMG_03.HEIC is no JPEG or PNG, and no other file has its number 3; export it like the others"},
		"the first": {[]string{"a1.CR2", "a2.CR2", "a2.jpg", "a3.CR2", "a3.jpg"}, "FOLDER/a1.CR2 is no JPEG or PNG, and no other file has its number 1"},
		"one amid":  {[]string{"a1.jpg", "a2.heic", "a3.jpg"}, "FOLDER/a2.heic is no JPEG or PNG"},
		"unlike":    {[]string{"a1.jpg", "a2.jpg", "test 3.heic", "a7.heic", "holiday.heic"}, ""},
		"long":      {[]string{"a9999999999999999999999.jpg", "a10000000000000000000000.jpg"}, ""},
	} {
		folder := t.TempDir()
		for _, file := range c.files {
			write(t, filepath.Join(folder, file), nil)
		}
		_, err := Find(folder)
		if c.want == "" {
			if err != nil {
				t.Errorf("%s: %v", name, err)
			}
			continue
		}
		if err == nil || !strings.Contains(err.Error(), strings.ReplaceAll(c.want, "FOLDER", folder)) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
	}
	if _, err := Find(filepath.Join(t.TempDir(), "none")); err == nil || !strings.Contains(err.Error(), "does not exist; name the folder") {
		t.Errorf("a folder that is not there: %v", err)
	}
}

func TestBrokenPhotosAreRefusedByName(t *testing.T) {
	folder := t.TempDir()
	whole := jpegOf(t, corners(60, 40))
	bomb := pngOf(t, corners(4, 4))
	binary.BigEndian.PutUint32(bomb[16:], 60000)
	binary.BigEndian.PutUint32(bomb[20:], 60000)
	copy(bomb[8:], pngfile.AppendChunk(nil, "IHDR", bomb[16:29]))
	glass := corners(4, 4)
	glass.Pix[3] = 100
	for name, c := range map[string]struct {
		data []byte
		want string
	}{
		"empty.jpg":       {nil, "is empty, not a JPEG or PNG; export it as one of these"},
		"gif.png":         {[]byte("GIF89a......"), "is a GIF, not a JPEG or PNG"},
		"raw.jpg":         {[]byte("II*\x00......."), "is a TIFF or a camera's raw file, not a JPEG or PNG"},
		"heic.jpg":        {[]byte("\x00\x00\x00\x18ftypheic......"), "is a HEIC, AVIF or a camera's raw file"},
		"text.jpg":        {[]byte("hello"), "is something else, not a JPEG or PNG"},
		"cut.jpg":         {whole[:len(whole)/2], "is a damaged JPEG (it ends too early); copy or export it again"},
		"header.jpg":      {whole[:4], "is a damaged JPEG (it ends too early); copy or export it again"},
		"bomb.png":        {bomb, "says it is 60000 x 60000, above 160 million pixels; make it smaller"},
		"thread.png":      {pngOf(t, image.NewGray(image.Rect(0, 0, 65536, 1))), "is 65536 x 1, more than 65535 pixels on a side; cut it smaller"},
		"transparent.png": {pngOf(t, glass), "has transparent parts; save it without transparency"},
	} {
		path := write(t, filepath.Join(folder, name), c.data)
		photo, err := Open(path)
		if err == nil {
			_, err = photo.Pixels()
		}
		if err == nil || !strings.Contains(err.Error(), path) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
	}
}

func TestMixedSizesNameTheOddOne(t *testing.T) {
	folder := t.TempDir()
	for i, size := range []image.Point{{60, 40}, {30, 20}, {30, 20}} {
		write(t, filepath.Join(folder, string(rune('0'+i))+".jpg"), jpegOf(t, corners(size.X, size.Y)))
	}
	_, err := OpenSet(folder)
	if err == nil || !strings.Contains(err.Error(), "0.jpg is 60 x 40, the others are 30 x 20") {
		t.Errorf("%v", err)
	}
}

// exif is an APP1 segment with an orientation, little or big endian (EXIF 2.32, 4.5 and 4.6).
func exif(orientation uint16, order binary.AppendByteOrder) []byte {
	mark := "II*\x00"
	if order == binary.AppendByteOrder(binary.BigEndian) {
		mark = "MM\x00*"
	}
	body := append([]byte("Exif\x00\x00"), mark...)
	body = order.AppendUint32(body, 8)
	body = order.AppendUint16(body, 1)
	body = order.AppendUint16(body, 0x0112)
	body = order.AppendUint16(body, 3)
	body = order.AppendUint32(body, 1)
	body = order.AppendUint16(body, orientation)
	body = order.AppendUint16(body, 0)
	body = order.AppendUint32(body, 0)
	return append(binary.BigEndian.AppendUint16([]byte{0xff, 0xe1}, uint16(len(body)+2)), body...)
}

// Where the file's top-left pixel is shown, by orientation (EXIF 2.32, 4.6.4 A, tag Orientation: "the 0th row
// is at the visual ... of the image, and the 0th column is the visual ...").
func TestOrientationIsApplied(t *testing.T) {
	stored := jpegOf(t, corners(60, 40)) // red grows along rows, green along columns
	for orientation, want := range map[int]struct {
		size image.Point
		at   image.Point // where the stored top-left pixel is seen
		red  image.Point // where the stored top-right pixel is seen
	}{
		1: {image.Pt(60, 40), image.Pt(0, 0), image.Pt(59, 0)},
		2: {image.Pt(60, 40), image.Pt(59, 0), image.Pt(0, 0)},
		3: {image.Pt(60, 40), image.Pt(59, 39), image.Pt(0, 39)},
		4: {image.Pt(60, 40), image.Pt(0, 39), image.Pt(59, 39)},
		5: {image.Pt(40, 60), image.Pt(0, 0), image.Pt(0, 59)},
		6: {image.Pt(40, 60), image.Pt(39, 0), image.Pt(39, 59)},
		7: {image.Pt(40, 60), image.Pt(39, 59), image.Pt(39, 0)},
		8: {image.Pt(40, 60), image.Pt(0, 59), image.Pt(0, 0)},
	} {
		for _, order := range []binary.AppendByteOrder{binary.LittleEndian, binary.BigEndian} {
			data := append(append([]byte("\xff\xd8"), exif(uint16(orientation), order)...), stored[2:]...)
			photo, err := Open(write(t, filepath.Join(t.TempDir(), "p1.jpg"), data))
			if err != nil {
				t.Fatal(err)
			}
			pic, err := photo.Pixels()
			if err != nil {
				t.Fatal(err)
			}
			if photo.Size != want.size || (image.Point{X: pic.Width, Y: pic.Height}) != want.size {
				t.Fatalf("orientation %d: header says %v, picture is %d x %d, want %v", orientation, photo.Size, pic.Width, pic.Height, want.size)
			}
			pixel := func(p image.Point) []uint8 { return pic.Row(p.Y)[3*p.X:][:3] }
			if p := pixel(want.at); p[0] > 20 || p[1] > 20 {
				t.Errorf("orientation %d: %v at %v is not the stored top-left pixel", orientation, p, want.at)
			}
			if p := pixel(want.red); p[0] < 235 || p[1] > 20 {
				t.Errorf("orientation %d: %v at %v is not the stored top-right pixel", orientation, p, want.red)
			}
		}
	}
}

// The second directory of an EXIF block is the thumbnail's; its orientation is not that of the photo (EXIF 2.32, 4.5.8).
func TestTheThumbnailsOrientationIsNotThePhotos(t *testing.T) {
	segment := exif(1, binary.LittleEndian)
	tiff := segment[10:] // behind marker, length and "Exif\0\0"
	binary.LittleEndian.PutUint32(tiff[len(tiff)-4:], uint32(len(tiff)))
	second := exif(6, binary.LittleEndian)[10+8:] // a directory of its own, behind no header
	segment = append(segment, second...)
	binary.BigEndian.PutUint16(segment[2:], uint16(len(segment)-2))
	data := append(append([]byte("\xff\xd8"), segment...), jpegOf(t, corners(60, 40))[2:]...)
	photo, err := Open(write(t, filepath.Join(t.TempDir(), "p1.jpg"), data))
	if err != nil {
		t.Fatal(err)
	}
	if photo.Orientation != 1 || photo.Size != image.Pt(60, 40) {
		t.Errorf("orientation %d, size %v; want 1, (60,40)", photo.Orientation, photo.Size)
	}
}

func TestSixteenBitsAreRounded(t *testing.T) {
	img := image.NewNRGBA64(image.Rect(0, 0, 256, 256))
	for i := range 65536 {
		img.SetNRGBA64(i%256, i/256, color.NRGBA64{uint16(i), uint16(65535 - i), 300, 65535})
	}
	photo, err := Open(write(t, filepath.Join(t.TempDir(), "p1.png"), pngOf(t, img)))
	if err != nil {
		t.Fatal(err)
	}
	pic, err := photo.Pixels()
	if err != nil {
		t.Fatal(err)
	}
	for i := range 65536 {
		if got, want := pic.Pix[3*i], uint8(math.Round(float64(i)/257)); got != want {
			t.Fatalf("%d becomes %d, want %d", i, got, want)
		}
	}
}

func TestProfileIsReadFromSeveralSegmentsAndFromPNG(t *testing.T) {
	profile := bytes.Repeat([]byte("colour profile! "), 9000) // needs three JPEG segments
	copy(profile[16:], "RGB ")
	data := []byte("\xff\xd8")
	const part = 60000
	count := (len(profile) + part - 1) / part
	for i := range count {
		piece := profile[i*part : min((i+1)*part, len(profile))]
		body := append([]byte("ICC_PROFILE\x00"), byte(i+1), byte(count))
		body = append(body, piece...)
		data = append(binary.BigEndian.AppendUint16(append(data, 0xff, 0xe2), uint16(len(body)+2)), body...)
	}
	data = append(data, jpegOf(t, corners(8, 8))[2:]...)
	photo, err := Open(write(t, filepath.Join(t.TempDir(), "p1.jpg"), data))
	if err != nil || !bytes.Equal(photo.Profile, profile) {
		t.Errorf("JPEG: %d bytes, want %d; %v", len(photo.Profile), len(profile), err)
	}
	plain := pngOf(t, corners(8, 8))
	withProfile := append(append(append([]byte{}, plain[:33]...), pngfile.NewColour(profile)...), plain[33:]...)
	photo, err = Open(write(t, filepath.Join(t.TempDir(), "p1.png"), withProfile))
	if err != nil || !bytes.Equal(photo.Profile, profile) {
		t.Errorf("PNG: %v", err)
	}
	copy(profile[16:], "GRAY")
	grey := append(append(append([]byte{}, plain[:33]...), pngfile.NewColour(profile)...), plain[33:]...)
	if _, err = Open(write(t, filepath.Join(t.TempDir(), "p1.png"), grey)); err == nil || !strings.Contains(err.Error(), "is not for RGB; export it as an RGB photo") {
		t.Errorf("a profile for grey: %v", err)
	}
	broken := bytes.Replace(data, []byte("ICC_PROFILE\x00\x02"), []byte("ICC_PROFILE\x00\x01"), 1)
	if _, err = Open(write(t, filepath.Join(t.TempDir(), "p1.jpg"), broken)); err == nil || !strings.Contains(err.Error(), "colour profile is damaged") {
		t.Errorf("a profile with a part twice: %v", err)
	}
}

func TestAPhotoThatChangesIsNoticed(t *testing.T) {
	path := write(t, filepath.Join(t.TempDir(), "p1.jpg"), jpegOf(t, corners(20, 20)))
	photo, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	write(t, path, jpegOf(t, corners(20, 22)))
	if _, err := photo.Pixels(); err == nil || !strings.Contains(err.Error(), "changed while it was being used") {
		t.Errorf("%v", err)
	}
}

func view(t *testing.T, photo, size image.Point, crop []float64) View {
	t.Helper()
	v, err := NewView(photo, size, crop)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func TestDefaultCropIsTheLargestCentredArea(t *testing.T) {
	for _, c := range []struct {
		photo, size image.Point
		want        View
	}{
		{image.Pt(6000, 4000), image.Pt(1920, 1080), View{0, 312.5, 6000, 3375, image.Pt(1920, 1080)}},
		{image.Pt(4000, 6000), image.Pt(1920, 1080), View{0, 1875, 4000, 2250, image.Pt(1920, 1080)}},
		{image.Pt(3000, 1000), image.Pt(100, 100), View{1000, 0, 1000, 1000, image.Pt(100, 100)}},
		{image.Pt(6000, 4000), image.Pt(6000, 3375), View{0, 312, 6000, 3375, image.Pt(6000, 3375)}},
		{image.Pt(640, 480), image.Point{}, View{0, 0, 640, 480, image.Pt(640, 480)}},
	} {
		if got := view(t, c.photo, c.size, nil); got != c.want {
			t.Errorf("%v in %v: %+v, want %+v", c.size, c.photo, got, c.want)
		}
	}
	for _, crop := range [][]float64{{0, 0, 101, 50}, {-1, 0, 10, 10}, {60, 0, 50, 10}} {
		if _, err := NewView(image.Pt(100, 80), image.Point{}, crop); err == nil {
			t.Errorf("crop %v of 100 x 80 is taken", crop)
		}
	}
	if _, err := NewView(image.Pt(100, 80), image.Pt(50, 50), []float64{0, 0, 100, 50}); err == nil || !strings.Contains(err.Error(), "has another shape than the frame") {
		t.Errorf("a crop of another shape: %v", err)
	}
}

func TestRegionFollowsTheView(t *testing.T) {
	v := view(t, image.Pt(6000, 4000), image.Pt(1920, 1080), nil)
	if got := v.Point(masks.Point{X: 3000, Y: 2000}); got != (masks.Point{X: 960, Y: 540}) {
		t.Errorf("the middle goes to %v", got)
	}
	if got := v.Scale(); math.Abs(got-0.32) > 1e-12 {
		t.Errorf("scale %g", got)
	}
	if got, want := v.Photo(image.Pt(6000, 4000)), image.Rect(0, -100, 1920, 1180); got != want {
		t.Errorf("the photo fills %v, want %v", got, want)
	}
}

func TestResizingKeepsAFlatPhotoFlat(t *testing.T) {
	photo := picture.New(97, 61)
	for i := range photo.Pix {
		photo.Pix[i] = []uint8{17, 130, 251}[i%3]
	}
	for _, size := range []image.Point{{10, 7}, {96, 60}, {300, 200}, {1, 1}} {
		out := picture.Whole(View{0.3, 0.2, 96, 60, size}.Apply(photo, light.SRGB()))
		for i, v := range out.Pix {
			if v != []uint8{17, 130, 251}[i%3] {
				t.Fatalf("%v: value %d is %d", size, i, v)
			}
		}
	}
}

// Halving a fine black and white chequer gives half the light, code 188 (IEC 61966-2-1), not half the code.
func TestResizingMixesLight(t *testing.T) {
	photo := picture.New(64, 64)
	for y := range 64 {
		for x := range 64 {
			if (x+y)%2 == 0 {
				copy(photo.Row(y)[3*x:], []uint8{255, 255, 255})
			}
		}
	}
	out := picture.Whole(View{0, 0, 64, 64, image.Pt(16, 16)}.Apply(photo, light.SRGB()))
	for y := 2; y < 14; y++ {
		for x := 2; x < 14; x++ {
			if v := out.Row(y)[3*x]; v < 187 || v > 189 {
				t.Fatalf("(%d, %d) is %d, want 188", x, y, v)
			}
		}
	}
}

// A pixel of the frame takes in all pixels of the photo that it covers, however thin what stands there: of one white line
// in eight an eighth of the light is left everywhere.
func TestResizingLosesNoThinLine(t *testing.T) {
	curve := light.SRGB()
	for _, offset := range []int{0, 3, 4, 7} {
		photo := picture.New(256, 256)
		for y := range photo.Height {
			for x := offset; x < photo.Width; x += 8 {
				copy(photo.Row(y)[3*x:], []uint8{255, 255, 255})
			}
		}
		want := int(curve.Code(light.One / 8))
		across := picture.Whole(View{0, 0, 256, 256, image.Pt(32, 32)}.Apply(photo, curve))
		for x := 3; x < 29; x++ { // where no edge of the photo comes in
			if got := int(across.Row(16)[3*x]); got < want-1 || got > want+1 {
				t.Fatalf("line %d of eight: pixel %d is %d, want %d", offset, x, got, want)
			}
		}
		turned := picture.New(256, 256)
		for y := range 256 {
			for x := range 256 {
				copy(turned.Row(y)[3*x:3*x+3], photo.Row(x)[3*y:])
			}
		}
		down := picture.Whole(View{0, 0, 256, 256, image.Pt(32, 32)}.Apply(turned, curve))
		for y := 3; y < 29; y++ {
			if got := int(down.Row(y)[3*16]); got < want-1 || got > want+1 {
				t.Fatalf("line %d of eight: row %d is %d, want %d", offset, y, got, want)
			}
		}
	}
}

func TestCropWithoutResizingCopies(t *testing.T) {
	img := corners(50, 40)
	photo, _ := toRGB(img)
	out := picture.Whole(view(t, image.Pt(50, 40), image.Point{}, []float64{7, 9, 20, 10}).Apply(photo, light.SRGB()))
	for y := range 10 {
		if !bytes.Equal(out.Row(y), photo.Row(y + 9)[21:81]) {
			t.Fatalf("row %d differs", y)
		}
	}
}

// A ramp in light stays the same ramp when it is shown smaller: the kernel neither shifts nor bends it.
func TestResizingDoesNotShift(t *testing.T) {
	const width = 400
	photo := picture.New(width, 8)
	curve := light.SRGB()
	for y := range 8 {
		for x := range width {
			for c := range 3 {
				photo.Row(y)[3*x+c] = curve.Code(uint32(float64(light.One) * (float64(x) + 0.5) / width))
			}
		}
	}
	for _, to := range []int{50, 77, 123, 800} {
		out := picture.Whole(View{0, 0, width, 8, image.Pt(to, 8)}.Apply(photo, curve))
		for x := to / 8; x < to*7/8; x++ {
			want := curve.Code(uint32(float64(light.One) * (float64(x) + 0.5) / float64(to)))
			if got := out.Row(4)[3*x]; math.Abs(float64(got)-float64(want)) > 1 {
				t.Fatalf("%d wide: pixel %d is %d, want %d", to, x, got, want)
			}
		}
	}
}

func TestNamesForATerminal(t *testing.T) {
	for name, want := range map[string]string{"plain name.jpg": "plain name.jpg", "å.jpg": "å.jpg", "a\x1b[31m.jpg": `"a\x1b[31m.jpg"`, "a\nb": `"a\nb"`,
		"a\u202egpj.exe": `"a\u202egpj.exe"`, "a\u2066b": `"a\u2066b"`, "a\u0085b": `"a\u0085b"`, "a\xffb": `"a\xffb"`} {
		if got := Quote(name); got != want {
			t.Errorf("%q is shown as %s, want %s", name, got, want)
		}
	}
}

func FuzzOpen(f *testing.F) {
	for _, seed := range [][]byte{[]byte("\xff\xd8\xff\xe1\x00\x10Exif\x00\x00II*\x00"), []byte("\x89PNG\r\n\x1a\n\x00\x00\x00\x0dIHDR")} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		if photo, err := inspect("x1.jpg", data); err == nil && photo.Size.X*photo.Size.Y > maxPixels {
			t.Fatalf("%v is taken", photo.Size)
		}
	})
}
