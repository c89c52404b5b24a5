package shoot_test

import (
	"fmt"
	"math"

	"colonnade/analyze/shoot"
	"colonnade/compose/light"
	"colonnade/compose/picture"
)

// photograph draws a wall of blotches, moved right by dx pixels, in so much light; 1 is that of the base plate.
func photograph(dx int, gain float64) *picture.Picture {
	curve := light.SRGB()
	photo := picture.New(240, 160)
	for y := range photo.Height {
		row := photo.Row(y)
		for x := range photo.Width {
			u, v := float64(x-dx), float64(y)
			wall := 0.3 + 0.1*math.Sin(u/5)*math.Cos(v/7) + 0.05*math.Sin(u/2.3+v/3.1) + 0.05*math.Cos(u/11-v/4)
			code := curve.Code(uint32(wall * gain * light.One))
			row[3*x], row[3*x+1], row[3*x+2] = code, code, code
		}
	}
	return photo
}

// A photo that is a tenth brighter than the base plate, and was taken after the camera had moved by two pixels.
func ExampleBase_Measure() {
	base := shoot.NewBase(photograph(0, 1), light.SRGB(), nil)
	m := base.Measure(photograph(2, 1.1))
	fmt.Printf("brighter by %.2f stops\n", m.Light)
	fmt.Printf("moved right by %.1f pixels\n", m.Shift[0])
	// Output:
	// brighter by 0.14 stops
	// moved right by 2.0 pixels
}
