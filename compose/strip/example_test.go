package strip_test

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"log"
	"strings"

	"colonnade/analyze/levels"
	"colonnade/compose/light"
	"colonnade/compose/picture"
	"colonnade/compose/pngfile"
	"colonnade/compose/strip"
	"colonnade/masks"
)

// Two photos and a tuple of levels become a PNG file. The left half shows the photo of its column's level; what no
// column covers shows the base plate.
func ExampleCoder_Append() {
	frame := image.Rect(0, 0, 8, 4)
	left := masks.Region{{X: 0, Y: 0}, {X: 4, Y: 0}, {X: 4, Y: 4}, {X: 0, Y: 4}}
	photos := []*picture.Picture{picture.New(8, 4), picture.New(8, 4)}
	for i := range photos[1].Pix {
		photos[1].Pix[i] = 200
	}
	coder, err := strip.New(strip.Source{
		Width: 8, Height: 4,
		Base:   func() (picture.Reader, error) { return photos[0], nil },
		Photo:  func(level int) (picture.Reader, error) { return photos[level], nil },
		Photos: 2,
		Masks:  []*masks.Mask{masks.Feathered(left, 0, frame, frame)},
		Curve:  light.SRGB(),
	}, strip.Options{})
	if err != nil {
		log.Fatal(err)
	}
	head := pngfile.AppendHead(nil, 8, 4, pngfile.NewColour(nil), strings.Repeat("0", pngfile.KeyLength))
	file, err := coder.Append(nil, head, []levels.Level{levels.One})
	if err != nil {
		log.Fatal(err)
	}
	decoded, err := png.Decode(bytes.NewReader(file))
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(decoded.Bounds(), decoded.At(1, 1), decoded.At(6, 1))
	// Output:
	// (0,0)-(8,4) {200 200 200 255} {0 0 0 255}
}
