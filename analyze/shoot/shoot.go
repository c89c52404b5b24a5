// Package shoot tells what went wrong while a photo set was taken, and whether it will show.
//
// It measures each photo against the base plate where nothing should change, which is outside all regions and
// their feather: how much brighter or darker the photo is, by how many pixels the camera has moved, whether it
// was turned or zoomed, how sharp and how noisy the photo is and how much of it is burnt out. Then it looks at
// the columns: whether each grows from level to level, whether what stood stays where it was, how visible the
// edge of each region will be, and whether the photos would fit better in another order. Judge turns all of it
// into faults, which would show in the video, and notes, which would not.
//
// All is computed from a photo reduced in linear light and from tiles at full size. Sums are whole numbers or in
// a fixed order, and every result is rounded before anything is decided, so that every processor decides alike.
package shoot

import (
	"image"

	"colonnade/masks"
)

// Column is where a column stands.
type Column struct {
	Name    string
	Region  masks.Region // photo pixels
	Feather float64      // photo pixels
	Top     int          // highest level that is shown
}

// Measure is how a photo differs from the base plate where nothing should change.
type Measure struct {
	// Light is how much brighter the photo is, in stops of linear light; Channels the same for red, green and
	// blue. They are measured when LightTrusted.
	Light        float64
	Channels     [3]float64
	LightTrusted bool
	// Uneven is by how many stops the light differs between parts of the picture, beyond what noise explains.
	Uneven float64
	// Shift is by how many pixels the scene has moved right and down at the picture's centre. Confidence is the
	// height of the correlation's peak: 1 for the same picture, below 0.3 not to be trusted.
	Shift        [2]float64
	Confidence   float64
	ShiftTrusted bool
	// Dull is whether too little detail was at hand for a shift to be told.
	Dull bool
	// Rotation is by how many degrees the scene has turned clockwise, Zoom by how many percent it has grown. Both
	// are 0 unless they move the picture's corners more than the shift is known to.
	Rotation, Zoom float64
	// Corner is by how many pixels the farthest corner moves by Rotation and Zoom alone.
	Corner float64
	// Sharpness is the photo's fine detail as a share of the base plate's, 0 where there is none to compare.
	Sharpness float64
	// Noise is the standard deviation of the noise in flat parts, in 8-bit steps.
	Noise float64
	// Burnt and Black are the shares of the still area in which a channel is at 255, or all are at 0.
	Burnt, Black float64

	gains [3]int64 // of each channel's light against the base plate's, in GainUnit
	shift [2]int64 // in ShiftUnit
	// What the still area differs by from the base plate, as a mean: in its place with the light as it is and made even,
	// and on the tiles at the base plate's contrast where it is and moved back.
	asIs, even, inPlace, left int64
}

// GainUnit and ShiftUnit are the steps to which gains and shifts are rounded: finer than they are known, coarse
// enough to be the same on every processor.
const (
	GainUnit  = 1 << 16
	ShiftUnit = 64
)

// area is a part of the photo, in its pixels.
type area = image.Rectangle
