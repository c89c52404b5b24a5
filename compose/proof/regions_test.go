package proof

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"colonnade/compose/photos"
	"colonnade/masks"
)

// TestRegionsPageHoldsTheFullestPhotoWhole, those below it no wider than is looked at, and every corner as it is; texts do not break
// out.
func TestRegionsPageHoldsTheFullestPhotoWhole(t *testing.T) {
	folder := t.TempDir()
	const width, height = 2000, 20
	for _, name := range []string{"0.png", "1.png"} {
		img := image.NewNRGBA(image.Rect(0, 0, width, height))
		for i := range width * height {
			img.SetNRGBA(i%width, i/width, color.NRGBA{uint8(i), 80, 90, 255})
		}
		var coded bytes.Buffer
		if err := png.Encode(&coded, img); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(folder, name), coded.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	set, err := photos.OpenSet(folder)
	if err != nil {
		t.Fatal(err)
	}
	const name = "</script><img src=x>"
	p := &RegionsPage{Title: "a<b>", Set: set, Feather: 12, FileName: "columns.toml", FileText: "<!--",
		Regions: []Region{{Name: name, Corners: masks.Region{{X: 1.5, Y: 2}, {X: 9, Y: 2}, {X: 1999, Y: 19.25}}, Feather: 3, Line: 4, Keys: map[string]int{"region": 6}}}}
	var out bytes.Buffer
	if err := p.Write(&out); err != nil {
		t.Fatal(err)
	}
	if text := out.String(); strings.Contains(text, "<img") || strings.Contains(text, "a<b>") || strings.Count(text, "<script") != 2 {
		t.Error("a text stands in the page as it is")
	}
	_, rest, _ := strings.Cut(out.String(), `id="piece">`)
	text, _, _ := strings.Cut(rest, "</script>")
	var c regionsContent
	if err := json.Unmarshal([]byte(text), &c); err != nil {
		t.Fatal(err)
	}
	if c.Width != width || c.Height != height || len(c.Columns) != 1 || c.Columns[0].Name != name || c.Columns[0].Corners[2] != [2]float64{1999, 19.25} || c.Columns[0].Keys["region"] != 6 || c.FileText != "<!--" {
		t.Errorf("%+v", c)
	}
	for level, want := range []int{levelWidth, width} {
		coded, err := base64.StdEncoding.DecodeString(c.Photos[level])
		if err != nil {
			t.Fatal(err)
		}
		config, err := jpeg.DecodeConfig(bytes.NewReader(coded))
		if err != nil || config.Width != want {
			t.Errorf("the photo of level %d is %d wide, not %d: %v", level, config.Width, want, err)
		}
	}
}
