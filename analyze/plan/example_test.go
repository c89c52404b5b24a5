package plan_test

import (
	"fmt"

	"colonnade/analyze/plan"
)

// Three stacks get the usual bands of a mix, from the lowest to the highest.
func ExampleBands() {
	for _, band := range plan.Bands(3) {
		fmt.Printf("%s: %g to %g Hz\n", band.Name, band.LowHz, band.HighHz)
	}
	// Output:
	// bass: 16 to 250 Hz
	// mids: 250 to 4000 Hz
	// treble: 4000 to 16000 Hz
}

// Two stacks of three stones and one of two: four photos, eight stones.
func ExampleShoot_Shots() {
	shoot := plan.Shoot{Objects: []int{3, 2, 3}}
	for _, shot := range shoot.Shots() {
		fmt.Printf("%s: %s; %d standing\n", shot.File, shot.Do, shot.Standing)
	}
	// Output:
	// shot-00.jpg: the empty stage; 0 standing
	// shot-01.jpg: row 1, the bottom: one object on every stack; 3 standing
	// shot-02.jpg: row 2: one object on every stack; 6 standing
	// shot-03.jpg: row 3, the top: one object on stacks 1 and 3 only; 8 standing
}
