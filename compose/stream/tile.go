package stream

import (
	"image"

	"colonnade/analyze/levels"
	"colonnade/compose/light"
	"colonnade/compose/picture"
)

// tile makes what the area shows at tuple: its samples of Y', then those of Cb, then those of Cr, in the order of
// its runs. photos are by level; those that the area does not show may be nil.
func (a *area) tile(base picture.Reader, photos []picture.Reader, curve *light.Curve, tuple []levels.Level, step int) []byte {
	pixels := a.compose(base, photos, curve, tuple)
	var lumaSize, chromaSize int
	for _, r := range a.luma {
		lumaSize += r.to - r.from
	}
	for _, r := range a.chroma {
		chromaSize += r.to - r.from
	}
	tile := make([]byte, lumaSize+2*chromaSize)
	rest := tile
	for _, r := range a.luma {
		row := pixels.Row(r.y - a.reach.Min.Y)[3*(r.from-a.reach.Min.X):]
		for i := range rest[:r.to-r.from] {
			rest[i] = luma(uint32(row[3*i]), uint32(row[3*i+1]), uint32(row[3*i+2]))
		}
		rest = rest[r.to-r.from:]
	}
	cb, cr := rest[:chromaSize], rest[chromaSize:]
	for _, r := range a.chroma {
		for x := r.from; x < r.to; x++ {
			red, green, blue := weighted(pixels, step, step*x-a.reach.Min.X, step*r.y-a.reach.Min.Y)
			cb[0], cr[0] = blueDifference(red, green, blue), redDifference(red, green, blue)
			cb, cr = cb[1:], cr[1:]
		}
	}
	return tile
}

// compose makes the pixels in reach, with the area's columns alone. Where other columns lie, too, they are not
// those of a frame, but there no sample of the area is made from them.
func (a *area) compose(base picture.Reader, photos []picture.Reader, curve *light.Curve, tuple []levels.Level) *picture.Picture {
	scene := picture.Scene{Base: crop(base, a.reach), Photos: make([]*picture.Picture, len(photos)), Masks: a.masks, Curve: curve}
	own := make([]levels.Level, len(a.columns))
	for i, column := range a.columns {
		own[i] = tuple[column]
	}
	for _, level := range levels.Shown(own) {
		scene.Photos[level] = crop(photos[level], a.reach)
	}
	pixels := picture.New(a.reach.Dx(), a.reach.Dy())
	scene.Compose(pixels, own)
	return pixels
}

func crop(p picture.Reader, r image.Rectangle) *picture.Picture {
	out := picture.New(r.Dx(), r.Dy())
	for y := range out.Height {
		p.Read(out.Row(y), r.Min.X, r.Min.Y+y)
	}
	return out
}

// lay copies the area's tile into the planes of a frame.
func (a *area) lay(planes [3]plane, tile []byte) {
	for i, runs := range [3][]run{a.luma, a.chroma, a.chroma} {
		p := planes[i]
		for _, r := range runs {
			tile = tile[copy(p.samples[r.y*p.width:][r.from:r.to], tile):]
		}
	}
}
