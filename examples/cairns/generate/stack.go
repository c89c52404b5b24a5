package main

import (
	"math"
	"math/rand/v2"
)

// levels is the number of stones in every stack of the fullest photo.
const levels = 6

// seed of everything that chance decides in the scene.
const seed = 20260321

// recipe says what a stack is built of, from the bottom up.
type recipe struct {
	name     string     // of the column in columns.toml
	x, z     float64    // where the stack stands on the sill
	width    [2]float64 // of the lowest and the highest stone
	height   [2]float64 // of the lowest and the highest stone
	lean     float64    // how far each stone is set to the right of the one below
	minerals [levels]string
}

// recipes are laid out by eye: light stones between dark ones, warm beside
// cool, and a skyline that rises and falls.
func recipes() []recipe {
	return []recipe{
		{name: "kick", x: -6.2, z: 0.10, width: [2]float64{1.68, 0.98}, height: [2]float64{1.02, 0.66}, lean: 0.035,
			minerals: [levels]string{"slate", "sandstone", "granite", "basalt", "rose granite", "quartz"}},
		{name: "bass", x: -3.1, z: -0.25, width: [2]float64{1.62, 0.88}, height: [2]float64{1.16, 0.72}, lean: -0.03,
			minerals: [levels]string{"gneiss", "basalt", "ochre", "quartz", "slate", "sandstone"}},
		{name: "chords", x: 0.0, z: 0.20, width: [2]float64{1.70, 0.94}, height: [2]float64{1.22, 0.78}, lean: 0.02,
			minerals: [levels]string{"rose granite", "bluestone", "quartz", "greenstone", "ochre", "basalt"}},
		{name: "plucks", x: 3.1, z: -0.15, width: [2]float64{1.64, 0.86}, height: [2]float64{1.06, 0.66}, lean: 0.03,
			minerals: [levels]string{"basalt", "granite", "sandstone", "bluestone", "gneiss", "rose granite"}},
		{name: "hats", x: 6.2, z: 0.15, width: [2]float64{1.66, 0.92}, height: [2]float64{1.14, 0.70}, lean: -0.035,
			minerals: [levels]string{"ochre", "slate", "gneiss", "rose granite", "quartz", "bluestone"}},
	}
}

// stack is one cairn, from the bottom up.
type stack struct {
	recipe
	stones []stone
}

// buildStacks sets stone upon stone until every stack is levels high. A stack
// of fewer stones is the front of the slice: what stands does not move when
// another stone is laid on it.
func buildStacks() []stack {
	known := minerals()
	var stacks []stack
	for number, recipe := range recipes() {
		chance := rand.New(rand.NewPCG(seed, uint64(number)))
		built := stack{recipe: recipe}
		x, z := recipe.x, recipe.z
		for level := 0; level < levels; level++ {
			next := shapeStone(chance, recipe, level)
			next.mineral = known[recipe.minerals[level]]
			next.seed = scramble(uint64(seed + 100*number + level))
			next.centre = vector{x, 0, z}
			next.rest(built.stones)
			built.stones = append(built.stones, next)
			play := 0.09 * next.half.x
			x += recipe.lean + play*(2*chance.Float64()-1)
			z += play * (2*chance.Float64() - 1)
		}
		stacks = append(stacks, built)
	}
	return stacks
}

// shapeStone draws the outline of the stone at a level: its size from the
// recipe give or take a tenth, flat seats above and below, and worn sides.
func shapeStone(chance *rand.Rand, recipe recipe, level int) stone {
	about := func(middle, give float64) float64 { return middle + give*(2*chance.Float64()-1) }
	share := float64(level) / (levels - 1)
	width := mix(recipe.width[0], recipe.width[1], share)
	height := mix(recipe.height[0], recipe.height[1], share)
	if level > 0 {
		width *= about(1, 0.07)
		height *= about(1, 0.14)
	}
	turn, tilt, pitch := about(0, 0.5), about(0, 0.075), about(0, 0.05)
	// The cuts below take away about this much of the ellipsoid.
	const widthLeft, heightLeft = 0.93, 0.74
	s := stone{half: vector{width / 2 / widthLeft, height / 2 / heightLeft, width / 2 / widthLeft * about(0.84, 0.06)}}
	right := vector{math.Cos(turn), math.Sin(tilt), math.Sin(turn)}.unit()
	up := vector{-math.Sin(tilt), 1, math.Sin(pitch)}
	up = up.minus(right.times(up.dot(right))).unit()
	s.axes = [3]vector{right, up, right.cross(up)}

	// The seats keep a stone from standing on a point.
	s.facets = append(s.facets,
		facet{vector{about(0, 0.06), 1, about(0, 0.06)}.unit(), about(0.70, 0.04)},
		facet{vector{about(0, 0.05), -1, about(0, 0.05)}.unit(), about(0.68, 0.04)})
	if level == 0 {
		s.facets[1].distance = 0.56 // broad enough to carry the others
	}
	sides := 4 + chance.IntN(3)
	start := about(0, math.Pi)
	for side := 0; side < sides; side++ {
		angle := start + 2*math.Pi*(float64(side)+about(0, 0.3))/float64(sides)
		s.facets = append(s.facets, facet{
			vector{math.Cos(angle), about(0, 0.55), math.Sin(angle)}.unit(), about(0.86, 0.07)})
	}
	return s
}
