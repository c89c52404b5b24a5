package light_test

import (
	"fmt"

	"colonnade/compose/light"
)

// Half the light of white is code 188, much brighter than the code in the middle, 128.
func ExampleMix() {
	curve := light.SRGB()
	half := light.Mix(curve.Linear[0], curve.Linear[255], 65535/2+1)
	fmt.Println("mixed in light:", curve.Code(half))

	straight := light.Encoded()
	half = light.Mix(straight.Linear[0], straight.Linear[255], 65535/2+1)
	fmt.Println("mixed as codes:", straight.Code(half))
	// Output:
	// mixed in light: 188
	// mixed as codes: 128
}
