package profile_test

import (
	"fmt"

	"colonnade/compose/profile"
)

// Photos without a profile are sRGB. A profile that can not be used says so and leaves the curve of sRGB.
func ExampleRead() {
	none := profile.Read(nil)
	fmt.Printf("own curve: %v, note: %q\n", none.OwnCurve, none.Note)

	damaged := profile.Read([]byte("no profile at all"))
	fmt.Println(damaged.Note)
	fmt.Println("middle of the curve:", damaged.Curve.Code(damaged.Curve.Linear[128]))
	// Output:
	// own curve: false, note: ""
	// photos: the colour profile is damaged; light is mixed by the curve of sRGB: export the photos as sRGB, Display P3 or Adobe RGB for their own
	// middle of the curve: 128
}
