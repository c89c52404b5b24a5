package flash_test

import (
	"fmt"
	"image"

	"colonnade/analyze/flash"
	"colonnade/analyze/levels"
	"colonnade/analyze/timing"
	"colonnade/compose/light"
	"colonnade/compose/picture"
	"colonnade/masks"
)

// A column over the whole frame that changes between a black and a white photo every second frame makes thirteen changes
// within a second, where six are harmless.
func ExampleWarnings() {
	frame := image.Rect(0, 0, 64, 36)
	whole := masks.Region{{X: 0, Y: 0}, {X: 64, Y: 0}, {X: 64, Y: 36}, {X: 0, Y: 36}}
	black, white := picture.New(64, 36), picture.New(64, 36)
	for i := range white.Pix {
		white.Pix[i] = 255
	}
	curve := light.SRGB()
	scene := &flash.Scene{
		Base: black, Photos: []picture.Reader{black, white}, Curve: curve,
		Masks: []*masks.Mask{masks.Feathered(whole, 0, frame, frame)},
	}
	table := &levels.Table{Rate: timing.Rate{Num: 25, Den: 1}, First: 1, Names: []string{"rumble"}}
	for n := range 50 {
		table.Rows = append(table.Rows, []levels.Level{levels.Level(n/2%2) * levels.One})
	}
	sRGB := [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	for _, w := range flash.Warnings(scene, flash.NewColour(&curve.Linear, sRGB), table) {
		fmt.Printf("%s: %s, frames %d to %d, %d changes within a second\n", w.Standard, w.Kind, w.First, w.Last, w.Changes)
	}
	// Output:
	// WCAG 2.2 SC 2.3.1: general, frames 3 to 49, 13 changes within a second
	// ITU-R BT.1702-3: general, frames 3 to 49, 13 changes within a second
}
