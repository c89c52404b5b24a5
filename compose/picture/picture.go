// Package picture is the plain compositor: from the photos and a tuple of levels to pixels, one pixel after
// the other, as the formula reads. It is the reference that every faster way is held against.
package picture

// Picture is 8-bit RGB, row by row, 3*Width bytes a row.
type Picture struct {
	Width, Height int
	Pix           []uint8
}

// New makes a black picture.
func New(width, height int) *Picture {
	return &Picture{width, height, make([]uint8, 3*width*height)}
}
