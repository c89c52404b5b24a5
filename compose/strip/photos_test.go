package strip

import (
	"image"

	"colonnade/compose/light"
	"colonnade/compose/picture"
	"colonnade/masks"
)

// smooth is a picture like a photograph that a JPEG file has smoothed: value noise in octaves down to two pixels.
func smooth(seed uint32, width, height int) *picture.Picture {
	p := picture.New(width, height)
	sums := make([]int32, 3*width)
	for y := range height {
		clear(sums)
		for octave, strength := range [...]int32{7: 34, 6: 26, 5: 16, 4: 12, 3: 8, 2: 5, 1: 3} {
			if strength == 0 {
				continue
			}
			addOctave(sums, seed+uint32(octave)*7919, y, uint(octave), strength)
		}
		row := p.Row(y)
		for x := range row {
			row[x] = uint8(min(max(128+sums[x]>>8, 0), 255))
		}
	}
	return p
}

// addOctave adds a row of noise whose lattice is 1<<octave pixels wide, in 256ths. The three colours share most of
// it.
func addOctave(sums []int32, seed uint32, y int, octave uint, strength int32) {
	size := int32(1) << octave
	top, down := uint32(y)>>octave, int32(y)&(size-1)
	corner := func(x, y uint32) int32 {
		h := (x*0x9e3779b1 ^ y*0x85ebca6b ^ seed) * 0xc2b2ae35
		h = (h ^ h>>15) * 0x27d4eb2f
		return int32(h>>24) - 128
	}
	for left := 0; left < len(sums)/3; left += int(size) {
		column := uint32(left) >> octave
		a := corner(column, top)*(size-down) + corner(column, top+1)*down
		b := corner(column+1, top)*(size-down) + corner(column+1, top+1)*down
		for x := int32(0); x < size && left+int(x) < len(sums)/3; x++ {
			v := (a*(size-x) + b*x) >> (2 * octave) * strength * 2
			i := 3 * (left + int(x))
			sums[i] += v
			sums[i+1] += v - v>>2
			sums[i+2] += v - v>>1
		}
	}
}

// piled is photos of one scene, base, with objects in them that have the texture of other: photo k is filled with
// them to the share k of n-1 of its height.
func piled(base, other *picture.Picture, n int) []*picture.Picture {
	var photos []*picture.Picture
	for k := range n {
		p := picture.New(base.Width, base.Height)
		copy(p.Pix, base.Pix)
		for y := p.Height - p.Height*k/(n-1); y < p.Height; y++ {
			copy(p.Row(y), other.Row(y))
		}
		photos = append(photos, p)
	}
	return photos
}

// upright is n columns as high as the picture but for small margins, that share percent of its width among them, with
// edges of the given softness in pixels.
func upright(width, height, n, percent int, feather float64) []*masks.Mask {
	var columns []*masks.Mask
	frame := image.Rect(0, 0, width, height)
	pitch := float64(width) / float64(n)
	half := pitch * float64(percent) / 200
	for i := range n {
		x, top, bottom := (float64(i)+0.5)*pitch, float64(height)/50, float64(height)*49/50
		region := masks.Region{{X: x - half, Y: top}, {X: x + half, Y: top}, {X: x + half, Y: bottom}, {X: x - half, Y: bottom}}
		columns = append(columns, masks.Feathered(region, feather, frame, frame))
	}
	return columns
}

// photographed is a stage of smooth photos.
func photographed(width, height, columns, photos int) *stage {
	base, other := smooth(1, width, height), smooth(2, width, height)
	return newStage(base, piled(base, other, photos), upright(width, height, columns, 57, float64(width)/640), light.SRGB())
}
