package main

import (
	"math"
	"runtime"
	"sync"
)

// The camera stands level before the sill and looks straight at the window
// through a long, shifted lens, so that upright things stay upright. All of
// these are in photo pixels of a 1600 x 900 photo, or in the scene's units.
const (
	photoWidth, photoHeight = 1600, 900

	focalLength = 3000.0 // photo pixels
	eyeDistance = 30.0   // from the plane that is in focus, z = 0
	eyeHeight   = 5.0
	eyeColumn   = 800.0 // where the camera's axis meets the photo
	eyeRow      = 245.0
	aperture    = 0.36 // radius of the lens
)

// quality is how finely a picture is drawn.
type quality struct {
	width, height           int // of the photo, pixels
	stageSamples, stones    int // rays a pixel
	stageLight, stonesLight illumination
}

func fine() quality {
	return quality{
		width: photoWidth, height: photoHeight, stageSamples: 36, stones: 12,
		stageLight:  illumination{key: 1, window: 2, room: 1, mirror: 2},
		stonesLight: illumination{key: 2, window: 2, room: 2, mirror: 2},
	}
}

// plate is a picture in linear light, row after row.
type plate struct {
	width, height int
	pixels        []vector
}

func newPlate(width, height int) *plate {
	return &plate{width, height, make([]vector, width*height)}
}

// scene is the windowsill with all its stones at hand.
type scene struct {
	quality quality
	stacks  []stack
	bars    []box
	view    *view
}

func newScene(q quality) *scene {
	return &scene{q, buildStacks(), frameBars(), paintView()}
}

// inParallel does the rows of a picture on all processors. Rows must not
// depend on each other.
func inParallel(rows int, do func(row int)) {
	var group sync.WaitGroup
	workers := runtime.GOMAXPROCS(0)
	for worker := 0; worker < workers; worker++ {
		group.Go(func() {
			for row := worker; row < rows; row += workers {
				do(row)
			}
		})
	}
	group.Wait()
}

// ray leaves the lens at (lensU, lensV) of the unit square and passes through
// the photo's point (x, y) in the plane of focus.
func ray(x, y, lensU, lensV float64) (vector, vector) {
	radius, angle := aperture*math.Sqrt(lensU), 2*math.Pi*lensV
	o := vector{radius * math.Cos(angle), eyeHeight + radius*math.Sin(angle), eyeDistance}
	target := vector{
		(x - eyeColumn) * eyeDistance / focalLength,
		eyeHeight - (y-eyeRow)*eyeDistance/focalLength, 0}
	return o, target.minus(o).unit()
}

// chances are the even spreads of one pixel: where its rays pass the pixel,
// where they pass the lens, and what light they ask for. They depend on the
// pixel alone, so a stone looks the same in every photo unless the light on
// it has changed.
type chances struct{ pixel, lens, light spread }

func (s *scene) chances(column, row int) chances {
	seed := scramble(uint64(row*s.quality.width + column))
	return chances{newSpread(seed^0xa, pixelSteps), newSpread(seed^0xb, lensSteps), newSpread(seed^0xc, lightSteps)}
}

// sample is the next ray of a pixel, and the point of the photo that it serves.
func (s *scene) sample(c *chances, column, row int) (o, d vector, x, y float64) {
	scale := float64(photoWidth) / float64(s.quality.width)
	u, v := c.pixel.next()
	lensU, lensV := c.lens.next()
	x, y = (float64(column)+u)*scale, (float64(row)+v)*scale
	o, d = ray(x, y, lensU, lensV)
	return o, d, x, y
}

// stage draws the sill without stones.
func (s *scene) stage() *plate {
	p := newPlate(s.quality.width, s.quality.height)
	inParallel(p.height, func(row int) {
		for column := 0; column < p.width; column++ {
			c := s.chances(column, row)
			sum := vector{}
			for i := 0; i < s.quality.stageSamples; i++ {
				o, d, x, y := s.sample(&c, column, row)
				light, outside := s.stageLight(o, d, &c.light)
				if outside {
					// The view is painted out of focus already.
					light = s.view.at(x, y)
				}
				sum = sum.plus(light)
			}
			p.pixels[row*p.width+column] = sum.times(1 / float64(s.quality.stageSamples))
		}
	})
	return p
}

// stageLight is the light that comes along a ray where no stone is in its
// way, or true for a ray that leaves through the window.
func (s *scene) stageLight(o, d vector, chance *spread) (light vector, outside bool) {
	if t, normal := meetSill(o, d); t != farAway {
		return s.sillLight(wood(o.towards(d, t), normal, d), nil, s.quality.stageLight, chance), false
	}
	nearest, side := farAway, vector{}
	for i := range s.bars {
		if t, facing := s.bars[i].meet(o, d); t < nearest {
			nearest, side = t, facing
		}
	}
	if nearest == farAway {
		return vector{}, true
	}
	return s.frameLight(o.towards(d, nearest), side), false
}

// frameLight shades the painted frame without asking for rays: light from the
// left, a glow of the wood below, and what comes round the edges.
func (s *scene) frameLight(p, side vector) vector {
	const paint = 0.86
	light := keyLight.times(0.62 * max(0, side.dot(keyDirection)))
	light = light.plus(vector{0.305, 0.298, 0.29}.times(1 + 0.25*side.y - 0.028*p.x))
	if side.z > 0 {
		light = light.plus(sillLight.times(0.9 * decay(p.y*0.9)))
		corner := 1 - 0.35*decay(max(0, p.y)*9)
		light = light.times(corner)
	} else {
		light = light.plus(skyLight.times(0.45))
	}
	brush := 1 + 0.03*gradientNoise(vector{p.x * 3, p.y * 14, p.z * 9}, 71)
	return light.times(paint * brush)
}

// wood is the surface of the sill at p, seen along d.
func wood(p, normal, d vector) surface {
	colour, sheen := oak(p)
	grain := 0.010 * gradientNoise(vector{p.x * 1.5, p.y * 20, p.z * 22}, 72)
	normal = vector{normal.x, normal.y, normal.z + grain}.unit()
	return surface{
		place: p.towards(normal, 0.004), normal: normal, view: d.times(-1),
		colour: colour, shine: 12, gloss: 0.10, sheen: sheen, self: -1,
	}
}

// sillLight shades the wood of the sill.
func (s *scene) sillLight(wood surface, stones []stone, l illumination, chance *spread) vector {
	light := l.lit(wood, stones, chance)
	normal, d := wood.normal, wood.view.times(-1)
	if normal.y < 0.3 {
		return light
	}
	// The oiled wood mirrors, more so the flatter one looks along it.
	base := 1 - max(0, normal.dot(wood.view))
	fresnel := (0.04 + 0.96*base*base*base*base*base) * 0.5 * wood.sheen
	mirror := vector{}
	straight := d.minus(normal.times(2 * d.dot(normal)))
	for i := 0; i < l.mirror; i++ {
		u, v := chance.next()
		radius, angle := 0.16*math.Sqrt(u), 2*math.Pi*v
		bent := straight.plus(vector{radius * math.Cos(angle) * 0.5, radius * math.Sin(angle), 0}).unit()
		if bent.y < 0.01 {
			bent.y = 0.01
		}
		mirror = mirror.plus(s.reflected(wood.place, bent, stones).times(1 / float64(l.mirror)))
	}
	return light.times(1 - fresnel).plus(mirror.times(fresnel))
}

// stoneLight shades the stone numbered self at p.
func (s *scene) stoneLight(p, d vector, stones []stone, self int, chance *spread) vector {
	hit := &stones[self]
	smoothNormal := hit.normal(p)
	place := hit.ownPlace(p)
	// Hollows hold dust and shade.
	hollow := clamp(1+0.25*hit.mineral.relief(place, hit.seed)/(hit.mineral.rough+0.004), 0.8, 1.1)
	return s.quality.stonesLight.lit(surface{
		place: p.towards(smoothNormal, 0.006), normal: hit.roughened(p, smoothNormal), view: d.times(-1),
		colour: hit.mineral.colour(place, hit.seed).times(hollow),
		shine:  hit.mineral.shine, gloss: hit.mineral.gloss, self: self,
	}, stones, chance)
}
