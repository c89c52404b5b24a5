package photos

import (
	"fmt"
	"image"
	"math"

	"colonnade/compose/light"
	"colonnade/compose/picture"
	"colonnade/masks"
)

// View is the part of the photo that fills the frame: a rectangle in photo pixels, which need not be whole, and the
// size that it is brought to.
type View struct {
	X, Y, Width, Height float64     // in photo pixels
	Size                image.Point // of the frame
}

// NewView places a frame of the given size over a photo. A zero size means the crop's own, or the photo's.
// A nil crop (x, y, width, height, in photo pixels) means the largest centred area of the frame's shape. A crop that
// reaches outside the photo, is smaller than a pixel, or has another shape than the frame is an error.
func NewView(photo, size image.Point, crop []float64) (View, error) {
	if crop == nil {
		if size == (image.Point{}) {
			size = photo
		}
		v := View{Width: float64(photo.X), Height: float64(photo.Y), Size: size}
		if photo.X*size.Y > photo.Y*size.X {
			v.Width = float64(photo.Y) * float64(size.X) / float64(size.Y)
		} else {
			v.Height = float64(photo.X) * float64(size.Y) / float64(size.X)
		}
		v.X, v.Y = (float64(photo.X)-v.Width)/2, (float64(photo.Y)-v.Height)/2
		if v.Width == float64(size.X) && v.Height == float64(size.Y) { // whole pixels stay whole
			v.X, v.Y = math.Floor(v.X), math.Floor(v.Y)
		}
		return v, nil
	}
	v := View{crop[0], crop[1], crop[2], crop[3], size}
	if v.X < 0 || v.Y < 0 || v.X+v.Width > float64(photo.X) || v.Y+v.Height > float64(photo.Y) {
		return v, fmt.Errorf("crop: %g x %g at (%g, %g) reaches outside the photos, which are %d x %d; make it smaller or move it",
			v.Width, v.Height, v.X, v.Y, photo.X, photo.Y)
	}
	if size == (image.Point{}) {
		v.Size = image.Pt(int(math.Round(v.Width)), int(math.Round(v.Height)))
	}
	if v.Width < 1 || v.Height < 1 || v.Size.X < 1 || v.Size.Y < 1 {
		return v, fmt.Errorf("crop: %g x %g is less than a pixel; make it larger", v.Width, v.Height)
	}
	// A shape that differs by less than a pixel of the frame is a matter of rounding.
	if off := math.Abs(v.Width/v.Height*float64(v.Size.Y) - float64(v.Size.X)); off > 1 {
		return v, fmt.Errorf("crop: %g x %g has another shape than the frame, %d x %d; a crop of that width is %.0f high",
			v.Width, v.Height, v.Size.X, v.Size.Y, v.Width*float64(v.Size.Y)/float64(v.Size.X))
	}
	return v, nil
}

// Frame is the rectangle of the frame in its own pixels.
func (v View) Frame() image.Rectangle { return image.Rectangle{Max: v.Size} }

// Photo is the rectangle that the whole photo fills, in pixels of the frame.
func (v View) Photo(photo image.Point) image.Rectangle {
	a, b := v.Point(masks.Point{}), v.Point(masks.Point{X: float64(photo.X), Y: float64(photo.Y)})
	return image.Rect(int(math.Floor(a.X+1e-6)), int(math.Floor(a.Y+1e-6)), int(math.Ceil(b.X-1e-6)), int(math.Ceil(b.Y-1e-6)))
}

// Scale is frame pixels a photo pixel. A feather in photo pixels, times Scale, is one in frame pixels.
func (v View) Scale() float64 { return float64(v.Size.X) / v.Width }

// Point takes a point of the photo to the frame.
func (v View) Point(p masks.Point) masks.Point {
	return masks.Point{X: (p.X - v.X) * float64(v.Size.X) / v.Width, Y: (p.Y - v.Y) * float64(v.Size.Y) / v.Height}
}

// Region takes a region of the photo to the frame.
func (v View) Region(r masks.Region) masks.Region {
	out := make(masks.Region, len(r))
	for i, p := range r {
		out[i] = v.Point(p)
	}
	return out
}

// Apply cuts the view out of a photo and resizes it, in the light of curve. Where nothing is to be done it is the photo
// itself, no copy.
func (v View) Apply(photo picture.Reader, curve *light.Curve) picture.Reader {
	whole := func(f float64) bool { return f == math.Floor(f) }
	if v.Width == float64(v.Size.X) && v.Height == float64(v.Size.Y) && whole(v.X) && whole(v.Y) {
		if v.Size == image.Pt(photo.Size()) {
			return photo
		}
		out := picture.New(v.Size.X, v.Size.Y)
		for y := range out.Height {
			photo.Read(out.Row(y), int(v.X), y+int(v.Y))
		}
		return out
	}
	return resize(photo, v, curve)
}
