package masks_test

import (
	"fmt"
	"image"

	"colonnade/masks"
)

// The left half of a small photo, its edge blurred by a Gaussian of one pixel. Values are shares of 65535.
func ExampleFeathered() {
	photo := image.Rect(0, 0, 12, 4)
	region := masks.Region{{X: 0, Y: 0}, {X: 6, Y: 0}, {X: 6, Y: 4}, {X: 0, Y: 4}}
	mask := masks.Feathered(region, 1, photo, photo)

	fmt.Println("covers", mask.Rect)
	for x := range 12 {
		fmt.Printf("%.2f ", float64(mask.At(x, 1))/masks.Full)
	}
	fmt.Println()
	// Output:
	// covers (0,0)-(10,4)
	// 1.00 1.00 1.00 0.99 0.93 0.69 0.31 0.07 0.01 0.00 0.00 0.00
}

// A region whose edges cross is no simple polygon; the two edges are told.
func ExampleRegion_Crossing() {
	bowTie := masks.Region{{X: 0, Y: 0}, {X: 8, Y: 8}, {X: 8, Y: 0}, {X: 0, Y: 8}}
	i, j, crosses := bowTie.Crossing()
	fmt.Println(i, j, crosses)
	// Output: 0 2 true
}
