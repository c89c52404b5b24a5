package scene_test

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"log"
	"os"
	"path/filepath"

	"colonnade/analyze/levels"
	"colonnade/compose/photos"
	"colonnade/compose/scene"
	"colonnade/masks"
)

// writePhotos writes photos of one grey each, 8 x 4 pixels, numbered from 0, into a folder of their own.
func writePhotos(codes ...uint8) (string, error) {
	folder, err := os.MkdirTemp("", "photos")
	if err != nil {
		return "", err
	}
	for level, code := range codes {
		photo := image.NewGray(image.Rect(0, 0, 8, 4))
		for i := range photo.Pix {
			photo.Pix[i] = code
		}
		var file bytes.Buffer
		if err := png.Encode(&file, photo); err != nil {
			return folder, err
		}
		if err := os.WriteFile(filepath.Join(folder, fmt.Sprintf("shot-%d.png", level)), file.Bytes(), 0o600); err != nil {
			return folder, err
		}
	}
	return folder, nil
}

// Two photos and a tuple of levels become a frame, a PNG file. Its key tells it from every frame with other pixels.
func Example() {
	folder, err := writePhotos(40, 200)
	defer os.RemoveAll(folder)
	if err != nil {
		log.Fatal(err)
	}
	set, err := photos.OpenSet(folder)
	if err != nil {
		log.Fatal(err)
	}
	view, err := photos.NewView(set.Size, image.Point{}, nil) // the whole photo, in its own size
	if err != nil {
		log.Fatal(err)
	}
	left := masks.Region{{X: 0, Y: 0}, {X: 4, Y: 0}, {X: 4, Y: 4}, {X: 0, Y: 4}}
	s, err := scene.New(set, view, []scene.Column{{Region: left}}, set.Photos[0], false)
	if err != nil {
		log.Fatal(err)
	}
	frame, err := s.Coder(0, 1).Append(nil, []levels.Level{levels.One})
	if err != nil {
		log.Fatal(err)
	}
	decoded, err := png.Decode(bytes.NewReader(frame))
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(decoded.Bounds().Size(), decoded.At(0, 0), decoded.At(7, 0))
	fmt.Println("equal keys:", s.Key([]levels.Level{0}) == s.Key([]levels.Level{levels.One}))
	// Output:
	// (8,4) {200 200 200 255} {40 40 40 255}
	// equal keys: false
}
