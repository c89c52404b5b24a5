package photos

import (
	"slices"
	"testing"
)

// Of each width and each pixel of it.
func TestColoursAreCopiedAndWhatIsTransparentIsSeen(t *testing.T) {
	for width := range 12 {
		pix, want := make([]uint8, 4*width), make([]uint8, 0, 3*width)
		for i := range pix {
			pix[i] = uint8(7 * i)
			if i%4 == 3 {
				pix[i] = 255
			} else {
				want = append(want, pix[i])
			}
		}
		row := make([]uint8, 3*width)
		if opaque := copyRGBA(row, pix); !opaque || !slices.Equal(row, want) {
			t.Errorf("%d pixels: opaque is %v, the colours are %v, want %v", width, opaque, row, want)
		}
		for x := range width {
			pix[4*x+3] = 254
			if copyRGBA(row, pix) {
				t.Errorf("%d pixels: pixel %d is transparent, and is not seen", width, x)
			}
			pix[4*x+3] = 255
		}
	}
}
