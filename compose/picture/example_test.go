package picture_test

import (
	"fmt"
	"image"

	"colonnade/analyze/levels"
	"colonnade/compose/light"
	"colonnade/compose/picture"
	"colonnade/masks"
)

// grey is a picture of one code.
func grey(width, height int, code uint8) *picture.Picture {
	p := picture.New(width, height)
	for i := range p.Pix {
		p.Pix[i] = code
	}
	return p
}

// Two photos, one column with a hard edge over the right half of the frame. At level 1 it shows the second photo, at
// level 0.5 half the light of each.
func ExampleScene_Compose() {
	frame := image.Rect(0, 0, 4, 2)
	right := masks.Region{{X: 2, Y: 0}, {X: 4, Y: 0}, {X: 4, Y: 2}, {X: 2, Y: 2}}
	empty, one := grey(4, 2, 0), grey(4, 2, 255)
	scene := picture.Scene{
		Base:   empty,
		Photos: []*picture.Picture{empty, one},
		Masks:  []*masks.Mask{masks.Feathered(right, 0, frame, frame)},
		Curve:  light.SRGB(),
	}
	out := picture.New(4, 2)
	for _, level := range []levels.Level{0, levels.One / 2, levels.One} {
		scene.Compose(out, []levels.Level{level})
		fmt.Println("level", level, "first row", out.Row(0))
	}
	// Output:
	// level 0 first row [0 0 0 0 0 0 0 0 0 0 0 0]
	// level 0.5 first row [0 0 0 0 0 0 188 188 188 188 188 188]
	// level 1 first row [0 0 0 0 0 0 255 255 255 255 255 255]
}
