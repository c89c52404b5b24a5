// Package masks turns a column's region, a polygon, into a feathered mask: how much of the column's photo
// each pixel takes.
//
// Coordinates are pixels with y down; pixel (i, j) covers i..i+1 by j..j+1.
package masks

import "image"

// Point is a corner of a region, in pixels.
type Point struct{ X, Y float64 }

// Region is a simple polygon, closed from its last corner to its first, in either direction.
type Region []Point

// Full is the mask value that takes the photo whole; 0 takes none of it.
const Full = 65535

// Mask says how much of a photo each pixel of Rect takes, from 0 to Full. Outside Rect it is 0.
// Alpha is row by row, Rect.Dx() values a row.
type Mask struct {
	Rect  image.Rectangle // pixels of the frame; empty where the region lies outside
	Alpha []uint16        // from the top-left pixel of Rect
}
