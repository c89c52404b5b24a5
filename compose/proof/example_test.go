package proof_test

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"log"
	"os"
	"path/filepath"
	"strings"

	"colonnade/analyze/levels"
	"colonnade/analyze/timing"
	"colonnade/compose/photos"
	"colonnade/compose/proof"
	"colonnade/compose/scene"
	"colonnade/masks"
)

// writePhotos writes two photos of one grey each into a folder.
func writePhotos(folder string) error {
	for level := range 2 {
		photo := image.NewGray(image.Rect(0, 0, 8, 4))
		for i := range photo.Pix {
			photo.Pix[i] = uint8(60 + 100*level)
		}
		var file bytes.Buffer
		if err := png.Encode(&file, photo); err != nil {
			return err
		}
		if err := os.WriteFile(filepath.Join(folder, fmt.Sprintf("shot-%d.png", level)), file.Bytes(), 0o600); err != nil {
			return err
		}
	}
	return nil
}

// A page without sound, of four frames in which one column dances, and nothing to tune.
func ExamplePage_Write() {
	folder, err := os.MkdirTemp("", "photos")
	if err != nil {
		log.Fatal(err)
	}
	defer os.RemoveAll(folder)
	if err := writePhotos(folder); err != nil {
		log.Fatal(err)
	}
	set, err := photos.OpenSet(folder)
	if err != nil {
		log.Fatal(err)
	}
	view, err := photos.NewView(set.Size, proof.PictureSize(8, 4, 960), nil)
	if err != nil {
		log.Fatal(err)
	}
	left := masks.Region{{X: 0, Y: 0}, {X: 4, Y: 0}, {X: 4, Y: 4}, {X: 0, Y: 4}}
	s, err := scene.New(set, view, []scene.Column{{Region: left}}, set.Photos[0], false)
	if err != nil {
		log.Fatal(err)
	}
	page := proof.Page{
		Title: "stones on the sill", Scene: s, First: 1, Last: 4,
		Table: &levels.Table{Rate: timing.Rate{Num: 25, Den: 1}, First: 1, Names: []string{"rumble"},
			Rows: [][]levels.Level{{0}, {1000}, {1000}, {0}}},
		Columns: []proof.Column{{Name: "rumble"}},
	}
	var out strings.Builder
	if err := page.Write(&out); err != nil {
		log.Fatal(err)
	}
	text := out.String()
	fmt.Println("title in it:", strings.Contains(text, "<title>stones on the sill"))
	fmt.Println("its policy lets nothing be loaded:", strings.Contains(text, "default-src 'none'"))
	fmt.Println("within its budget:", len(text) < proof.Budget)
	// Output:
	// title in it: true
	// its policy lets nothing be loaded: true
	// within its budget: true
}
