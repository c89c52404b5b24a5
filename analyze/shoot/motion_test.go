package shoot

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// sightings are what a motion looks like on a grid of tiles, each off by up to noise pixels.
func sightings(m motion, noise float64, random *rand.Rand) (seen []sighting) {
	for _, y := range []float64{-800, 0, 800} {
		for _, x := range []float64{-1200, -400, 400, 1200} {
			dx, dy := m.at(x, y)
			seen = append(seen, sighting{x, y, dx + noise*(2*random.Float64()-1), dy + noise*(2*random.Float64()-1), 500 * (1 + random.Float64())})
		}
	}
	return seen
}

func TestMotionIsFoundAmongTilesThatMoveOtherwise(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 5))
	for _, want := range []motion{{}, {x: 3.25, y: -1.5}, {x: 1, turn: 0.002}, {grow: -0.0015}, {x: -4, y: 2, turn: -0.001, grow: 0.003}} {
		seen := sightings(want, 0.05, random)
		for _, i := range []int{1, 6, 7, 10} { // a curtain in the wind
			seen[i].dx += 2 + random.Float64()*3
			seen[i].dy -= 1 + random.Float64()
		}
		got, agreeing := settle(seen, 1500, 1000)
		if math.Abs(got.x-want.x) > 0.06 || math.Abs(got.y-want.y) > 0.06 || math.Abs(got.turn-want.turn) > 6e-5 || math.Abs(got.grow-want.grow) > 6e-5 {
			t.Errorf("%+v, want %+v", got, want)
		}
		for _, i := range []int{1, 6, 7, 10} {
			if agreeing[i] {
				t.Errorf("%+v: tile %d agrees, which moves by itself", want, i)
			}
		}
	}
}

// A turn that moves the corners less than is known is not told: noise would turn every photo a little.
func TestNoiseIsNoTurn(t *testing.T) {
	random := rand.New(rand.NewPCG(6, 6))
	for range 200 {
		if got, _ := settle(sightings(motion{x: 1}, 0.12, random), 1500, 1000); got.turn != 0 || got.grow != 0 {
			t.Fatalf("%+v from noise", got)
		}
	}
	if got, agreeing := settle(nil, 1500, 1000); got != (motion{}) || len(agreeing) != 0 {
		t.Errorf("of no tiles: %+v", got)
	}
}

// apartBy is how many steps lie between the photos of a set whose photo i is level[i].
func apartBy(level []int, steps []int) [][]int {
	out := make([][]int, len(level))
	for i := range level {
		out[i] = make([]int, len(level))
		for j := range level {
			for k := min(level[i], level[j]); k < max(level[i], level[j]); k++ {
				out[i][j] += steps[k]
			}
		}
	}
	return out
}

func TestShortestWayPutsPhotosInOrder(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 7))
	for _, n := range []int{3, 4, 6, 9, 15} {
		steps := make([]int, n)
		for i := range steps {
			steps[i] = 500 + random.IntN(1000)
		}
		for range 20 {
			level := random.Perm(n)
			got := shortest(slices.Sorted(slices.Values(level)), apartBy(level, steps))
			place := make([]int, n)
			for i, photo := range got {
				place[i] = level[photo]
			}
			if !slices.IsSorted(place) && !slices.IsSorted(backwards(place)) {
				t.Fatalf("levels %v: the order gives %v", level, place)
			}
		}
	}
}

func TestTrimmedMeanLeavesOutliersOut(t *testing.T) {
	random := rand.New(rand.NewPCG(8, 8))
	values := make([]float64, 1000)
	for i := range values {
		values[i] = 1.07 + 0.004*random.NormFloat64()
		if i%3 == 0 { // a third of the picture is covered by something dark
			values[i] = 0.2 + 0.7*random.Float64()
		}
	}
	if got, doubt := trimmedMean(values); doubt > 0.002 || math.Abs(got-1.07) > 0.001 {
		t.Errorf("%.4f, off by %.4f at the most, want 1.07 within 0.002", got, doubt)
	}
	if got, _ := trimmedMean([]float64{1.25}); got != 1.25 {
		t.Errorf("of one value: %g", got)
	}
}
