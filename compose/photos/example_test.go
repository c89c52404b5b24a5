package photos_test

import (
	"fmt"
	"image"
	"image/color"
	"image/png"
	"log"
	"os"
	"path/filepath"

	"colonnade/compose/light"
	"colonnade/compose/photos"
	"colonnade/compose/picture"
)

// writePhoto writes a photo of one grey, 6 x 4 pixels.
func writePhoto(path string, code uint8) error {
	photo := image.NewGray(image.Rect(0, 0, 6, 4))
	for i := range photo.Pix {
		photo.Pix[i] = code
	}
	photo.SetGray(0, 0, color.Gray{Y: 255})
	file, err := os.Create(path)
	if err != nil {
		return err
	}
	defer file.Close()
	return png.Encode(file, photo)
}

// The photos of a folder come in the order of the numbers in their names. A view cuts a frame out of them.
func ExampleOpenSet() {
	folder, err := os.MkdirTemp("", "photos")
	if err != nil {
		log.Fatal(err)
	}
	defer os.RemoveAll(folder)
	for level, code := range []uint8{40, 80, 120} {
		if err := writePhoto(filepath.Join(folder, fmt.Sprintf("shot-%d.png", level+8)), code); err != nil {
			log.Fatal(err)
		}
	}

	set, err := photos.OpenSet(folder)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println("highest level", set.Top(), "size", set.Size)
	for level, photo := range set.Photos {
		fmt.Println("level", level, filepath.Base(photo.Path))
	}

	view, err := photos.NewView(set.Size, image.Pt(4, 4), nil) // the largest square in the middle
	if err != nil {
		log.Fatal(err)
	}
	pixels, err := set.Photos[1].Decode()
	if err != nil {
		log.Fatal(err)
	}
	frame := picture.Whole(view.Apply(pixels, light.SRGB()))
	fmt.Println("the frame begins at", view.X, view.Y, "with", frame.Row(0)[:3])
	// Output:
	// highest level 2 size (6,4)
	// level 0 shot-8.png
	// level 1 shot-9.png
	// level 2 shot-10.png
	// the frame begins at 1 0 with [80 80 80]
}
