package scene

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"os"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"sync"
	"testing"

	"colonnade/analyze/levels"
	"colonnade/compose/photos"
	"colonnade/compose/picture"
	"colonnade/compose/pngfile"
	"colonnade/masks"
)

// photoSet writes three photos of 40 x 30 and opens them.
func photoSet(t *testing.T) *photos.Set {
	t.Helper()
	folder := t.TempDir()
	for level := range 3 {
		img := image.NewNRGBA(image.Rect(0, 0, 40, 30))
		for y := range 30 {
			for x := range 40 {
				img.SetNRGBA(x, y, color.NRGBA{uint8(5 * x), uint8(7 * y), uint8(90 * level), 255})
			}
		}
		var b bytes.Buffer
		if err := png.Encode(&b, img); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(folder, "p"+strconv.Itoa(level)+".png"), b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	set, err := photos.OpenSet(folder)
	if err != nil {
		t.Fatal(err)
	}
	return set
}

func box(x, y, width, height float64) masks.Region {
	return masks.Region{{X: x, Y: y}, {X: x + width, Y: y}, {X: x + width, Y: y + height}, {X: x, Y: y + height}}
}

func newScene(t *testing.T, set *photos.Set, size image.Point, columns []Column, base int, encoded bool) *Scene {
	t.Helper()
	view, err := photos.NewView(set.Size, size, nil)
	if err != nil {
		t.Fatal(err)
	}
	s, err := New(set, view, columns, set.Photos[base], encoded)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestKeyChangesWithAllThatDecidesAFrame(t *testing.T) {
	set := photoSet(t)
	columns := []Column{{box(3, 3, 10, 20), 1}, {box(20, 3, 10, 20), 1}}
	tuple := []levels.Level{0, 1000}
	keys := map[string]string{"as it is": newScene(t, set, set.Size, columns, 0, false).Key(tuple)}
	keys["another level"] = newScene(t, set, set.Size, columns, 0, false).Key([]levels.Level{1000, 0})
	keys["another base"] = newScene(t, set, set.Size, columns, 1, false).Key(tuple)
	keys["encoded"] = newScene(t, set, set.Size, columns, 0, true).Key(tuple)
	keys["smaller"] = newScene(t, set, image.Pt(20, 15), columns, 0, false).Key(tuple)
	keys["another order"] = newScene(t, set, set.Size, []Column{columns[1], columns[0]}, 0, false).Key(tuple)
	keys["softer"] = newScene(t, set, set.Size, []Column{{columns[0].Region, 2}, columns[1]}, 0, false).Key(tuple)
	keys["moved"] = newScene(t, set, set.Size, []Column{{box(3, 3, 10, 21), 1}, columns[1]}, 0, false).Key(tuple)
	keys["other photos"] = newScene(t, &photos.Set{Photos: []*photos.Photo{set.Photos[0], set.Photos[2]}, Size: set.Size}, set.Size, columns, 0, false).Key(tuple)
	seen := make(map[string]string)
	for what, key := range keys {
		if len(key) != 64 {
			t.Errorf("%s: key %q", what, key)
		}
		if other, taken := seen[key]; taken {
			t.Errorf("%s and %s have the same key", what, other)
		}
		seen[key] = what
	}
	if again := newScene(t, set, set.Size, columns, 0, false).Key(tuple); again != keys["as it is"] {
		t.Error("the same scene has another key the second time")
	}
}

func TestCoderMakesTheComposedPicture(t *testing.T) {
	set := photoSet(t)
	s := newScene(t, set, set.Size, []Column{{box(3, 3, 14, 20), 2}, {box(15, 5, 20, 25), 1}}, 0, false)
	coder := s.Coder(0, 2)
	reference := picture.Scene{Masks: s.Masks(), Curve: s.Curve()}
	var err error
	if reference.Base, err = s.BasePlate(); err != nil {
		t.Fatal(err)
	}
	for level := range 3 {
		photo, err := s.Photo(level)
		if err != nil {
			t.Fatal(err)
		}
		reference.Photos = append(reference.Photos, photo)
	}
	want := picture.New(40, 30)
	for _, tuple := range [][]levels.Level{{0, 0}, {2000, 1000}, {1000, 2000}, {1500, 125}} {
		data, err := coder.Append(nil, tuple)
		if err != nil {
			t.Fatal(err)
		}
		img, err := png.Decode(bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		reference.Compose(want, tuple)
		for i := 0; i < len(want.Pix); i += 3 {
			r, g, b, _ := img.At(i/3%40, i/3/40).RGBA()
			if got := [3]uint8{uint8(r >> 8), uint8(g >> 8), uint8(b >> 8)}; got != [3]uint8(want.Pix[i:i+3]) {
				t.Fatalf("%v: pixel (%d, %d) is %v, want %v", tuple, i/3%40, i/3/40, got, want.Pix[i:i+3])
			}
		}
	}
}

func TestEachPhotoIsDecodedOnceForAll(t *testing.T) {
	s := newScene(t, photoSet(t), image.Point{}, []Column{{box(3, 3, 10, 20), 1}}, 0, false)
	pictures := make([]*picture.Picture, 8)
	var group sync.WaitGroup
	for i := range pictures {
		group.Go(func() { pictures[i], _ = s.Photo(1) })
	}
	group.Wait()
	for _, p := range pictures {
		if p == nil || p != pictures[0] {
			t.Fatal("two callers got two pictures")
		}
	}
	s.Drop()
	if again, err := s.Photo(1); err != nil || again == pictures[0] || !bytes.Equal(again.Pix, pictures[0].Pix) {
		t.Errorf("after Drop: %v, the same picture %v", err, again == pictures[0])
	}
}

// A JPEG photo is read, and asked for whole, by several at once.
func TestWholePhotosTakeThePlaceOfThoseThatAreRead(t *testing.T) {
	folder := t.TempDir()
	img := image.NewRGBA(image.Rect(0, 0, 40, 30))
	for i := range img.Pix {
		img.Pix[i] = uint8(i) | uint8(i%4/3*255)
	}
	for _, name := range []string{"photo-0.jpg", "photo-1.jpg"} {
		var b bytes.Buffer
		if err := jpeg.Encode(&b, img, nil); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(folder, name), b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	set, err := photos.OpenSet(folder)
	if err != nil {
		t.Fatal(err)
	}
	s := newScene(t, set, image.Point{}, []Column{{box(3, 3, 10, 20), 1}}, 0, false)
	read, err := s.ReadPhoto(1)
	if err != nil {
		t.Fatal(err)
	}
	if _, whole := read.(*picture.Picture); whole {
		t.Error("all pixels are made before they are asked for")
	}
	pictures := make([]*picture.Picture, 8)
	var group sync.WaitGroup
	for i := range pictures {
		group.Go(func() {
			if i%2 == 0 {
				pictures[i], _ = s.Photo(1)
			} else if read, err := s.ReadPhoto(1); err == nil {
				pictures[i] = picture.Whole(read)
			}
		})
	}
	group.Wait()
	for i, p := range pictures {
		if p == nil || i%2 == 0 && p != pictures[0] || !bytes.Equal(p.Pix, picture.Whole(read).Pix) {
			t.Fatalf("caller %d got another picture", i)
		}
	}
	if after, err := s.ReadPhoto(1); err != nil || after != picture.Reader(pictures[0]) {
		t.Errorf("%v: what is read is not the whole picture", err)
	}
}

func TestColumnsThatCanNotBeSeenAreNamed(t *testing.T) {
	set := photoSet(t)
	view, err := photos.NewView(set.Size, image.Pt(40, 10), nil) // shows rows 10 to 20
	if err != nil {
		t.Fatal(err)
	}
	s, err := New(set, view, []Column{{box(5, 5, 10, 20), 1}, {box(50, 5, 10, 20), 1}, {box(5, 22, 10, 5), 1}}, set.Photos[0], false)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []Sight{Seen, OutsidePhoto, OutsideFrame} {
		if got := s.Sees(i); got != want {
			t.Errorf("column %d: %d, want %d", i, got, want)
		}
	}
}

func TestColumnsThatTheFrameCutsSayByHowMuch(t *testing.T) {
	set := photoSet(t) // 40 x 30
	view, err := photos.NewView(set.Size, image.Point{}, []float64{4, 6, 30, 20})
	if err != nil {
		t.Fatal(err)
	}
	columns := []Column{{box(4, 6, 30, 20), 1}, {box(10, 2, 5, 10), 1}, {box(10, 20, 5, 8), 1}, {box(-9, 10, 20, 5), 1}, {box(30, 10, 50, 5), 1}}
	s, err := New(set, view, columns, set.Photos[0], false)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{0, 4, 2, 4, 6} { // what lies outside the photo can not be shown anyway
		if got := s.CutOff(i); got != want {
			t.Errorf("column %d: %g pixels, want %g", i, got, want)
		}
	}
}

func TestPhotosGoWhenNoFrameNeedsThem(t *testing.T) {
	set := photoSet(t)
	s := newScene(t, set, set.Size, []Column{{box(3, 3, 14, 20), 2}}, 0, false)
	coder := s.Coder(0, 1)
	first, err := coder.Append(nil, []levels.Level{1000})
	if err != nil {
		t.Fatal(err)
	}
	for range idleFrames {
		if len(s.cache.entries) == 0 {
			t.Fatal("the photos went while frames were new")
		}
		if _, err := coder.Append(nil, []levels.Level{1000}); err != nil {
			t.Fatal(err)
		}
	}
	if len(s.cache.entries) != 0 {
		t.Errorf("%d photos are still decoded", len(s.cache.entries))
	}
	if _, err := coder.Append(nil, []levels.Level{2000}); err != nil || len(s.cache.entries) == 0 {
		t.Errorf("a new level after that: %v", err)
	}
	if again, err := coder.Append(nil, []levels.Level{1000}); err != nil || !bytes.Equal(again, first) {
		t.Errorf("the first frame comes out different: %v", err)
	}
}

// damage spoils the deflated picture of a photo of photoSet, in a way that only decoding finds, and opens it again.
func damage(t *testing.T, set *photos.Set, level int) (path string) {
	t.Helper()
	path = set.Photos[level].Path
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	at := bytes.Index(data, []byte("IDAT")) - 4
	end := bytes.Index(data, []byte("IEND")) - 4
	picture := bytes.Clone(data[at+8 : end-4])
	picture[len(picture)-1] ^= 1 // of its checksum
	if err := os.WriteFile(path, append(pngfile.AppendChunk(data[:at], "IDAT", picture), data[end:]...), 0o644); err != nil {
		t.Fatal(err)
	}
	if set.Photos[level], err = photos.Open(path); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestAPhotoThatIsDamagedBehindItsHeadFailsTheFrameAndLeavesTheRestAsItWas(t *testing.T) {
	set := photoSet(t)
	path := damage(t, set, 2)
	c := newScene(t, set, image.Point{}, []Column{{Region: box(5, 5, 20, 20)}}, 0, false).Coder(0, 1)
	out, err := c.Append([]byte("kept"), []levels.Level{levels.One})
	if err == nil || !strings.HasPrefix(err.Error(), "photos: "+path+" is a damaged PNG") || string(out) != "kept" {
		t.Errorf("Append gives %d bytes and %v", len(out), err)
	}
	if again := c.Ready([]int{0, 1}); again == nil || again.Error() != err.Error() {
		t.Errorf("then Ready gives %v, want %v", again, err)
	}
}

// Of a photographed stage the photos between the first and the last are decoded when a frame shows them.
func TestAPhotoThatIsNotShownIsNotDecoded(t *testing.T) {
	set := photoSet(t)
	sound := newScene(t, set, image.Point{}, []Column{{Region: box(5, 5, 20, 20)}}, 0, false).Coder(0, 1)
	path := damage(t, set, 1)
	c := newScene(t, set, image.Point{}, []Column{{Region: box(5, 5, 20, 20)}}, 0, false).Coder(0, 1)
	if err := c.Ready([]int{0, 2}); err != nil {
		t.Fatal(err)
	}
	size := sound.scene.Size()
	head := len(pngfile.AppendHead(nil, size.X, size.Y, sound.colour, c.Key([]levels.Level{0})))
	for _, tuple := range [][]levels.Level{{0}, {2000}} {
		got, err := c.Append(nil, tuple)
		if err != nil {
			t.Fatal(err)
		}
		if want, err := sound.Append(nil, tuple); err != nil || !bytes.Equal(got[head:], want[head:]) {
			t.Errorf("level %v: the damaged photo changes the frame that does not show it (%v)", tuple[0], err)
		}
	}
	for _, tuple := range [][]levels.Level{{1000}, {1}, {1999}} {
		if _, err := c.Append(nil, tuple); err == nil || !strings.HasPrefix(err.Error(), "photos: "+path+" is a damaged PNG") {
			t.Errorf("level %v gives %v", tuple[0], err)
		}
	}
	if err := c.Ready([]int{1}); err == nil || !strings.HasPrefix(err.Error(), "photos: "+path+" is a damaged PNG") {
		t.Errorf("Ready gives %v", err)
	}
}

func TestABasePlateOfAnotherSizeIsRefused(t *testing.T) {
	set := photoSet(t)
	other := *set.Photos[0]
	other.Size = image.Pt(41, 30)
	view, err := photos.NewView(set.Size, image.Point{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := New(set, view, nil, &other, false); err == nil || !strings.Contains(err.Error(), "is 41 x 30, the others are 40 x 30") {
		t.Errorf("%v", err)
	}
}

// In a frame of half the size an edge is as soft beside the objects as in the photo.
func TestAFeatherShrinksWithTheFrame(t *testing.T) {
	set := photoSet(t)
	column := Column{Region: box(20, -10, 30, 50), Feather: 4}
	frame := image.Rect(0, 0, 20, 15)
	got := newScene(t, set, image.Pt(20, 15), []Column{column}, 0, false).Masks()[0]
	want := masks.Feathered(box(10, -5, 15, 25), 2, frame, frame)
	if !reflect.DeepEqual(got, want) {
		t.Errorf("the mask lies at %v with %v in its middle row, want %v, %v", got.Rect, got.Row(7), want.Rect, want.Row(7))
	}
}
