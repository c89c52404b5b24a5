package stream_test

import (
	"bytes"
	"fmt"
	"image"
	"log"

	"colonnade/analyze/levels"
	"colonnade/compose/light"
	"colonnade/compose/picture"
	"colonnade/compose/stream"
	"colonnade/masks"
)

// Two frames of a black stage on whose left half a white object stands in the second one. Luma is in the limited range:
// black is 16, white 235.
func ExampleStream() {
	frame := image.Rect(0, 0, 4, 2)
	left := masks.Region{{X: 0, Y: 0}, {X: 2, Y: 0}, {X: 2, Y: 2}, {X: 0, Y: 2}}
	photos := []*picture.Picture{picture.New(4, 2), picture.New(4, 2)}
	for i := range photos[1].Pix {
		photos[1].Pix[i] = 255
	}
	s, err := stream.New(stream.Source{
		Width: 4, Height: 2,
		Base:   func() (picture.Reader, error) { return photos[0], nil },
		Photo:  func(level int) (picture.Reader, error) { return photos[level], nil },
		Photos: 2,
		Masks:  []*masks.Mask{masks.Feathered(left, 0, frame, frame)},
		Curve:  light.SRGB(),
	}, stream.Options{RateNum: 25, RateDen: 1, Chroma: 420})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Print(s.Header())
	for _, level := range []levels.Level{0, levels.One} {
		var out bytes.Buffer
		if err := s.Write(&out, []levels.Level{level}); err != nil {
			log.Fatal(err)
		}
		mark, planes, _ := bytes.Cut(out.Bytes(), []byte("\n"))
		fmt.Printf("%s first row of luma %d, planes %d bytes\n", mark, planes[:4], len(planes))
	}
	// Output:
	// YUV4MPEG2 W4 H2 F25:1 Ip A1:1 C420mpeg2 XCOLORRANGE=LIMITED
	// FRAME first row of luma [16 16 16 16], planes 12 bytes
	// FRAME first row of luma [235 235 16 16], planes 12 bytes
}
