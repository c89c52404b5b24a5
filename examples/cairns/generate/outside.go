package main

import (
	"math"
	"math/rand/v2"
)

// The view through the window is painted flat and already out of focus: a
// morning sky, hills across a lake, a meadow, a tree at the right. Its
// coordinates are photo pixels of a 1600 x 900 photo.

// view is the painting, coarse because nothing in it is sharp.
type view struct {
	paint *plate
}

const (
	viewStep   = 4   // photo pixels from one point of the painting to the next
	viewBlur   = 17  // standard deviation of the blur, photo pixels
	viewMargin = 200 // photo pixels painted beyond each edge of the photo
	viewWide   = (photoWidth+2*viewMargin)/viewStep + 1
	viewHigh   = (photoHeight+2*viewMargin)/viewStep + 1
)

// disc is a point of light as a lens that is focused nearer draws it.
type disc struct {
	x, y, radius float64
	light        vector
}

func paintView() *view {
	place := func(column, row int) (float64, float64) {
		return float64(column*viewStep - viewMargin), float64(row*viewStep - viewMargin)
	}
	paint := newPlate(viewWide, viewHigh)
	inParallel(viewHigh, func(row int) {
		for column := 0; column < viewWide; column++ {
			paint.pixels[row*viewWide+column] = landscape(place(column, row))
		}
	})
	paint = blurred(paint, viewBlur/viewStep)

	discs := scatterDiscs()
	inParallel(viewHigh, func(row int) {
		for column := 0; column < viewWide; column++ {
			x, y := place(column, row)
			colour := paint.pixels[row*viewWide+column]
			for _, d := range discs {
				far := math.Hypot(x-d.x, y-d.y)
				if far < d.radius+5 {
					// The rim of such a disc is a little brighter than its middle.
					rim := 0.8 + 0.2*smooth(0.4, 0.95, far/d.radius)
					colour = colour.plus(d.light.times(rim * (1 - smooth(d.radius-4, d.radius+4, far))))
				}
			}
			paint.pixels[row*viewWide+column] = colour
		}
	})
	return &view{paint}
}

// at is the light that comes from a point of the view, between its painted
// points by bilinear interpolation; beyond its edges the edge goes on.
func (v *view) at(x, y float64) vector {
	x = clamp((x+viewMargin)/viewStep, 0, viewWide-1.001)
	y = clamp((y+viewMargin)/viewStep, 0, viewHigh-1.001)
	column, row := int(x), int(y)
	x -= float64(column)
	y -= float64(row)
	at := row*viewWide + column
	return mixColour(
		mixColour(v.paint.pixels[at], v.paint.pixels[at+1], x),
		mixColour(v.paint.pixels[at+viewWide], v.paint.pixels[at+viewWide+1], x), y)
}

// landscape is the view without its points of light.
func landscape(x, y float64) vector {
	wave := func(wide, high float64, octaves int, seed uint64) float64 {
		return layeredNoise(vector{x / wide, y / high, 0.5}, octaves, seed)
	}
	// ridge is a line across the view that wanders about a height.
	ridge := func(middle, give, wide float64, seed uint64) float64 {
		return middle + give*layeredNoise(vector{x / wide, 3.3, 0.5}, 3, seed)
	}

	colour := mixColour(vector{0.88, 1.12, 1.48}, vector{1.75, 1.56, 1.28}, smooth(-160, 210, y))
	colour = mixColour(colour, vector{1.75, 1.68, 1.58}, 0.75*smooth(0, 0.75, wave(520, 120, 4, 11)))
	sun := math.Hypot((x-190)/640, (y+10)/330)
	colour = colour.plus(vector{1.1, 0.66, 0.22}.times(decay(2.0 * sun * sun)))

	far := ridge(176, 46, 420, 21)
	colour = mixColour(colour, vector{0.66, 0.77, 0.94}, 0.9*smooth(far-16, far+16, y))
	middle := ridge(222, 40, 300, 22)
	colour = mixColour(colour, mixColour(vector{0.30, 0.41, 0.46}, vector{0.52, 0.60, 0.60}, smooth(190, 260, y)), smooth(middle-15, middle+15, y))

	lake := mixColour(vector{1.15, 1.18, 1.18}, vector{0.62, 0.80, 0.95}, smooth(262, 370, y))
	lake = lake.times(1 + 0.10*wave(330, 22, 3, 31))
	lake = lake.plus(vector{0.55, 0.40, 0.22}.times(decay(math.Pow((x-230)/300, 2))))
	colour = mixColour(colour, lake, smooth(252, 276, y))

	bank := ridge(378, 30, 360, 41)
	meadow := mixColour(vector{0.60, 0.66, 0.24}, vector{0.15, 0.21, 0.075}, smooth(380, 680, y))
	meadow = meadow.times(1 + 0.6*wave(170, 60, 3, 42))
	meadow = mixColour(meadow, vector{0.74, 0.64, 0.27}, 0.6*smooth(0.05, 0.6, wave(260, 70, 2, 43)))
	colour = mixColour(colour, meadow, smooth(bank-17, bank+17, y))

	shore := ridge(352, 95, 150, 46)
	trees := vector{0.16, 0.225, 0.10}.times(1 + 0.45*wave(70, 60, 2, 47))
	colour = mixColour(colour, trees, 0.8*smooth(shore-15, shore+15, y)*(1-smooth(375, 425, y)))

	bushes := ridge(585, 62, 210, 51)
	shade := vector{0.085, 0.13, 0.055}.times(1 + 0.5*wave(90, 80, 2, 52))
	colour = mixColour(colour, shade, 0.8*smooth(bushes-26, bushes+30, y))

	// The tree stands at the right and reaches into the picture at the top.
	crown := (x-1345)/210 + 0.9*wave(240, 240, 3, 61) - 0.25*math.Abs(y-150)/260
	leaves := vector{0.11, 0.165, 0.05}.times(1 + 0.55*wave(85, 85, 2, 62))
	leaves = mixColour(leaves, vector{0.50, 0.55, 0.20}, 0.6*smooth(0.05, 0.7, wave(120, 110, 2, 63)))
	return mixColour(colour, leaves, 0.92*smooth(-0.16, 0.26, crown))
}

// scatterDiscs lays points of light among the leaves, along the shore and in
// the grass.
func scatterDiscs() []disc {
	chance := rand.New(rand.NewPCG(seed, 900))
	between := func(low, high float64) float64 { return low + (high-low)*chance.Float64() }
	var discs []disc
	add := func(count int, left, right, top, bottom, low, high float64, light vector) {
		for ; count > 0; count-- {
			discs = append(discs, disc{
				x: between(left, right), y: between(top, bottom), radius: between(19, 33),
				light: light.times(between(low, high)),
			})
		}
	}
	add(34, 1290, 1700, -60, 420, 0.10, 0.75, vector{1.0, 0.98, 0.62})
	add(26, -60, 1660, 400, 520, 0.05, 0.30, vector{1.0, 0.92, 0.50})
	add(22, -60, 1660, 520, 680, 0.03, 0.16, vector{0.95, 0.95, 0.55})
	add(10, -60, 1660, 500, 660, 0.06, 0.28, vector{1.0, 0.72, 0.66})
	add(16, 60, 520, 280, 360, 0.12, 0.5, vector{1.0, 0.88, 0.66})
	return discs
}
