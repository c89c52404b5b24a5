package main

import "math"

// A stack changes the photo only near itself: it is drawn over the empty
// stage, and its shadow and its mirror image on the wood fade out before they
// reach the neighbours. Daylight from so many sides would leave little of
// them there anyhow, and a column of the video can be cut out cleanly.
const (
	shadeWhole = 88.0  // photo pixels from a stack's axis within which its shade is whole
	shadeEnds  = 120.0 // and beyond which there is none
	shadeDeep  = 815.0 // photo row down to which the shade is whole
	shadeFoot  = 845.0 // and below which there is none
	stackTop   = 60.0  // photo row above which no stone reaches
)

// axis is the photo column above which a stack stands.
func (r recipe) axis() float64 {
	return eyeColumn + focalLength*r.x/(eyeDistance-r.z)
}

// raise draws every stack, level stones high, over the empty stage.
func (s *scene) raise(stage *plate, level int) *plate {
	p := newPlate(stage.width, stage.height)
	copy(p.pixels, stage.pixels)
	if level == 0 {
		return p
	}
	scale := float64(stage.width) / photoWidth
	for i := range s.stacks {
		axis := s.stacks[i].axis()
		left := max(0, int(math.Floor((axis-shadeEnds)*scale)))
		right := min(stage.width, int(math.Ceil((axis+shadeEnds)*scale)))
		top := int(stackTop * scale)
		bottom := min(stage.height, int(math.Ceil(shadeFoot*scale)))
		stones := s.stacks[i].stones[:level]
		inParallel(bottom-top, func(row int) {
			row += top
			for column := left; column < right; column++ {
				at := row*p.width + column
				p.pixels[at] = s.over(stage.pixels[at], column, row, axis, stones)
			}
		})
	}
	return p
}

// over is one pixel of the stage with the stones of one stack over it.
func (s *scene) over(stage vector, column, row int, axis float64, stones []stone) vector {
	scale := photoWidth / float64(s.quality.width)
	x, y := (float64(column)+0.5)*scale, (float64(row)+0.5)*scale
	fade := (1 - smooth(shadeWhole, shadeEnds, math.Abs(x-axis))) * (1 - smooth(shadeDeep, shadeFoot, y))
	c := s.chances(column, row)
	sum, covered := vector{}, 0
	for i := 0; i < s.quality.stones; i++ {
		o, d, _, _ := s.sample(&c, column, row)
		light := c.light
		light.u, light.v = math.Mod(light.u+float64(i)*0.381966, 1), math.Mod(light.v+float64(i)*0.618034, 1)
		nearest, hit := farAway, -1
		for n := range stones {
			if t := stones[n].meet(o, d); t < nearest {
				nearest, hit = t, n
			}
		}
		if hit >= 0 {
			sum = sum.plus(s.stoneLight(o.towards(d, nearest), d, stones, hit, &light))
			covered++
			continue
		}
		if fade == 0 {
			continue
		}
		if t, normal := meetSill(o, d); t != farAway {
			wood, again := wood(o.towards(d, t), normal, d), light
			with := s.sillLight(wood, stones, s.quality.stonesLight, &light)
			without := s.sillLight(wood, nil, s.quality.stonesLight, &again)
			sum = sum.plus(with.minus(without).times(fade))
		}
	}
	rays := float64(s.quality.stones)
	return stage.times(1 - float64(covered)/rays).plus(sum.times(1 / rays))
}
