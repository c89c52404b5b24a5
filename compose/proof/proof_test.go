package proof

import (
	"bytes"
	"compress/zlib"
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
	"html"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"colonnade/analyze/levels"
	"colonnade/analyze/timing"
	"colonnade/compose/photos"
	"colonnade/compose/proof/sound"
	"colonnade/compose/scene"
	"colonnade/masks"
)

// example is a page of three photos, two columns whose feathers overlap, and four frames.
func example(t *testing.T) *Page {
	t.Helper()
	folder := t.TempDir()
	for level := range 3 {
		img := image.NewNRGBA(image.Rect(0, 0, 60, 40))
		for i := range 60 * 40 {
			img.SetNRGBA(i%60, i/60, color.NRGBA{uint8(60 + 50*level), uint8(i % 60 * 3), 90, 255})
		}
		file, err := os.Create(filepath.Join(folder, string(rune('0'+level))+".png"))
		if err != nil {
			t.Fatal(err)
		}
		if err := png.Encode(file, img); err != nil {
			t.Fatal(err)
		}
		file.Close()
	}
	set, err := photos.OpenSet(folder)
	if err != nil {
		t.Fatal(err)
	}
	view, err := photos.NewView(set.Size, image.Pt(30, 20), nil)
	if err != nil {
		t.Fatal(err)
	}
	box := func(x float64) scene.Column {
		return scene.Column{Region: masks.Region{{X: x, Y: 4}, {X: x + 20, Y: 4}, {X: x + 20, Y: 36}, {X: x, Y: 36}}, Feather: 3}
	}
	s, err := scene.New(set, view, []scene.Column{box(6), box(30)}, set.Photos[1], false)
	if err != nil {
		t.Fatal(err)
	}
	return &Page{
		Title: "still <water> & \"stones\"", Facts: "four frames", Scene: s, First: 2, Last: 3, FileName: "columns.toml", FileText: "song = 'a'",
		Table: &levels.Table{Rate: timing.Rate{Num: 30000, Den: 1001}, First: 1, Names: []string{"a", "b"},
			Rows: [][]levels.Level{{0, 2000}, {1000, 0}, {2000, 1125}, {0, 0}}},
		Columns:   []Column{{Name: "</script><b>'\"&"}, {Name: "b"}},
		Envelopes: [][]float64{{0, 0.25, 0.5, 1. / 3}, {1, 2, 3, 4}},
		Bank:      &sound.Bank{Edges: []float64{16, 32, 64}, Step: 0.4, Loudest: -3, Readings: []sound.Reading{{Seconds: 0.1, Codes: [][]uint8{{0, 255, 7, 7}, {9, 8, 7, 6}}}}},
		Track:     &sound.Track{Rate: 8000, Channels: 1, Samples: 3, FLAC: []byte("fLaC")},
	}
}

// written is a page's text and the data in it.
func written(t *testing.T, p *Page) (string, content) {
	t.Helper()
	var out bytes.Buffer
	if err := p.Write(&out); err != nil {
		t.Fatal(err)
	}
	_, rest, found := strings.Cut(out.String(), `<script type="application/json" id="piece">`)
	text, _, ended := strings.Cut(rest, "</script>")
	if !found || !ended {
		t.Fatal("the page has no data")
	}
	var c content
	if err := json.Unmarshal([]byte(text), &c); err != nil {
		t.Fatal(err)
	}
	return out.String(), c
}

func unpack(t *testing.T, text string) []byte {
	t.Helper()
	r, err := zlib.NewReader(base64.NewDecoder(base64.StdEncoding, strings.NewReader(text)))
	if err != nil {
		t.Fatal(err)
	}
	data, err := io.ReadAll(r)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// TestPageHoldsThePiece: what is read back from the page's text is what went in.
func TestPageHoldsThePiece(t *testing.T) {
	p := example(t)
	_, c := written(t, p)
	if c.Rate.Num != 30000 || c.Rate.Den != 1001 || c.First != 2 || c.Last != 3 || c.Frames != 4 || c.Width != 30 || c.Height != 20 || c.Highest != 2 || c.Base != 1 || len(c.Photos) != 3 {
		t.Errorf("%+v", c)
	}
	data := unpack(t, c.Table)
	for i, want := range []uint32{0, 1000, 2000, 0, 2000, 0, 1125, 0} {
		if got := binary.LittleEndian.Uint32(data[4*i:]); got != want {
			t.Errorf("level %d is %d, not %d", i, got, want)
		}
	}
	data = unpack(t, c.Envelopes)
	for i, want := range []float64{0, 0.25, 0.5, 1. / 3, 1, 2, 3, 4} {
		if got := math.Float64frombits(binary.LittleEndian.Uint64(data[8*i:])); got != want {
			t.Errorf("envelope %d is %v, not %v", i, got, want)
		}
	}
	if got := unpack(t, c.Bank.Codes); !bytes.Equal(got, []byte{0, 255, 8, 0, 9, 255, 255, 255}) || c.Bank.Frames != 4 || c.Bank.Readings[0].Cells != 2 {
		t.Errorf("the bank is %v, %+v", got, c.Bank)
	}
	if flac, _ := base64.StdEncoding.DecodeString(c.Track.FLAC); string(flac) != "fLaC" {
		t.Errorf("the track is %q", flac)
	}
	planes := unpack(t, c.Masks)
	for i, m := range p.Scene.Masks() {
		width, size := m.Rect.Dx(), len(m.Alpha)
		if c.Columns[i].Mask != (rectangle{m.Rect.Min.X, m.Rect.Min.Y, width, m.Rect.Dy()}) {
			t.Errorf("mask %d is at %+v", i, c.Columns[i].Mask)
		}
		value := uint16(0)
		for j, want := range m.Alpha {
			if j%width == 0 {
				value = 0
			}
			if value += uint16(planes[j])<<8 | uint16(planes[size+j]); value != want {
				t.Fatalf("value %d of mask %d is %d, not %d", j, i, value, want)
			}
		}
		planes = planes[2*size:]
	}
	curve := p.Scene.Curve()
	for code := 1; code < 256; code++ {
		if least := c.Least[code]; curve.Code(least) != uint8(code) || curve.Code(least-1) != uint8(code-1) {
			t.Errorf("code %d begins at %d", code, least)
		}
	}
	for level, text := range c.Photos {
		coded, _ := base64.StdEncoding.DecodeString(text)
		img, err := jpeg.Decode(bytes.NewReader(coded))
		if err != nil {
			t.Fatal(err)
		}
		if r, _, _, _ := img.At(15, 10).RGBA(); img.Bounds().Dx() != 30 || math.Abs(float64(r>>8)-float64(60+50*level)) > 6 {
			t.Errorf("photo %d is %v wide and %d red", level, img.Bounds(), r>>8)
		}
	}
}

// TestTextsCanNotBreakOut: what comes from outside stands in the page only escaped, and nothing is named that a network would be
// asked for.
func TestTextsCanNotBreakOut(t *testing.T) {
	p := example(t)
	p.FileText = "<!-- <script>alert(1)</script> \u2028 ]]> {{script}}"
	text, c := written(t, p)
	if c.Columns[0].Name != p.Columns[0].Name || c.File.Text != p.FileText {
		t.Errorf("texts come back as %q and %q", c.Columns[0].Name, c.File.Text)
	}
	if n := strings.Count(text, "<script"); n != 2 {
		t.Errorf("the page has %d scripts", n)
	}
	if !strings.Contains(text, "<title>"+html.EscapeString(p.Title)) || strings.Contains(text, "<water>") || strings.Contains(text, "<b>'") {
		t.Error("a text stands in the page as it is")
	}
	for _, word := range []string{"http://", "https://", "@import", "url(", "innerHTML", "eval("} {
		if rest := strings.ReplaceAll(text, `"http://www.w3.org/2000/svg"`, ""); strings.Contains(rest, word) {
			t.Errorf("the page holds %q", word)
		}
	}
}

// TestPhotosAreCodedIntoTheirRoom, and at the coarsest where there is none.
func TestPhotosAreCodedIntoTheirRoom(t *testing.T) {
	p := example(t)
	size := func(room int) (total int) {
		c := new(content)
		if err := c.photos(p.Scene, room); err != nil {
			t.Fatal(err)
		}
		for _, text := range c.Photos {
			total += len(text)
		}
		return total
	}
	best, least := size(1<<20), size(0)
	if middle := size(best - 1); middle >= best || middle < least || least >= best {
		t.Errorf("sizes %d, %d and %d", best, middle, least)
	}
}

// TestPictureKeepsTheFramesShape to less than a pixel, so that a crop of that shape fits it.
func TestPictureKeepsTheFramesShape(t *testing.T) {
	for _, shape := range [][2]float64{{6000, 4000}, {6000, 1237}, {1237, 6000}, {400, 300}, {3, 1}} {
		size := PictureSize(shape[0], shape[1], 960)
		off := shape[0]/shape[1]*float64(size.Y) - float64(size.X)
		if math.Abs(off) > 1 || size.X > 961 || float64(size.X) > shape[0]+1 {
			t.Errorf("%v becomes %v", shape, size)
		}
	}
}

// TestPartOutsideTheTableIsRefused.
func TestPartOutsideTheTableIsRefused(t *testing.T) {
	for _, part := range [][2]int{{0, 2}, {3, 2}, {1, 5}} {
		p := example(t)
		if p.First, p.Last = part[0], part[1]; p.Write(io.Discard) == nil {
			t.Errorf("frames %v of 1 to 4 are taken", part)
		}
	}
}
