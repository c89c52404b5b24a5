package main

import "math"

// The room is what does not move: the sill and the window's frame.

const (
	sillBack  = -3.6 // where the sill meets the frame
	sillFront = 4.4  // where its rounded nose begins
	noseRound = 0.34 // radius of the nose
	railTop   = 0.86 // upper edge of the frame's lower rail
)

// box is a bar of the frame, with its edges along the axes.
type box struct{ low, high vector }

// meet returns how far along the ray the box is met, and the side that is met.
func (b box) meet(o, d vector) (float64, vector) {
	enter, leave := 0.0, farAway
	side := vector{}
	slab := func(o, d, low, high float64, outward vector) {
		if d == 0 {
			if o < low || o > high {
				leave = -1
			}
			return
		}
		t0, t1 := (low-o)/d, (high-o)/d
		facing := outward.times(-1)
		if t0 > t1 {
			t0, t1 = t1, t0
			facing = outward
		}
		if t0 > enter {
			enter, side = t0, facing
		}
		leave = min(leave, t1)
	}
	slab(o.x, d.x, b.low.x, b.high.x, vector{1, 0, 0})
	slab(o.y, d.y, b.low.y, b.high.y, vector{0, 1, 0})
	slab(o.z, d.z, b.low.z, b.high.z, vector{0, 0, 1})
	if enter >= leave || enter == 0 {
		return farAway, side
	}
	return enter, side
}

// frameBars are the bars of the window, all wider or higher than the photo shows.
func frameBars() []box {
	bars := []box{
		{vector{-20, 0, -4.6}, vector{20, 0.40, sillBack}},    // outer rail
		{vector{-20, 0.40, -4.5}, vector{20, railTop, -3.85}}, // rail of the casements
		{vector{-20, 7.22, -4.6}, vector{20, 9, sillBack}},    // transom
		{vector{-20, 6.98, -4.4}, vector{20, 7.22, -3.85}},    // its lower moulding
	}
	for _, x := range []float64{-5.22, 5.22} {
		bars = append(bars,
			box{vector{x - 0.40, 0.3, -4.5}, vector{x + 0.40, 7.3, -3.85}}, // two casements
			box{vector{x - 0.17, 0.3, -4.6}, vector{x + 0.17, 7.3, -3.62}}) // the post between them
	}
	return bars
}

// meetSill returns how far along the ray the sill is met, and its direction there.
func meetSill(o, d vector) (float64, vector) {
	if d.y < 0 {
		t := -o.y / d.y
		if z := o.z + d.z*t; z <= sillFront && z > sillBack {
			return t, vector{0, 1, 0}
		}
	}
	// The nose is a quarter of a cylinder along x.
	y, z := o.y+noseRound, o.z-sillFront
	a := d.y*d.y + d.z*d.z
	b := y*d.y + z*d.z
	if within := b*b - a*(y*y+z*z-noseRound*noseRound); within > 0 {
		t := (-b - math.Sqrt(within)) / a
		if ny, nz := y+d.y*t, z+d.z*t; t > 0 && ny >= 0 && nz >= 0 {
			return t, vector{0, ny / noseRound, nz / noseRound}
		}
	}
	// Below the nose the board's face goes straight down.
	if d.z < 0 {
		t := (sillFront + noseRound - o.z) / d.z
		if y := o.y + d.y*t; t > 0 && y < -noseRound {
			return t, vector{0, 0, 1}
		}
	}
	return farAway, vector{}
}

// oak is the reflectance of the sill at p, and how strongly it shines there
// (0 to 1): boards that run along x, of rings cut lengthwise, oiled and worn.
func oak(p vector) (vector, float64) {
	depth := p.z + 0.6*min(0, p.y) // round the nose the grain goes on
	const boardDepth = 2.9
	board := math.Floor((depth + 1.1) / boardDepth)
	within := depth + 1.1 - board*boardDepth
	seed := scramble(uint64(int64(board)) + 77)
	shift := 40 * share(seed)

	rings := layeredNoise(vector{p.x*0.055 + shift, depth * 0.9, 2.2}, 2, seed)
	bow := 3.2*rings + 1.1*depth + 0.05*p.x
	ring := bow*3.1 + 0.25*gradientNoise(vector{p.x * 0.5, depth * 4, shift}, seed^3)
	saw := ring - math.Floor(ring)
	late := smooth(0.25, 0.85, saw) * (1 - smooth(0.9, 1, saw)) // late wood darkens slowly, then ends
	fibre := layeredNoise(vector{p.x*1.1 + shift, depth * 26, 1.1}, 3, seed^4)
	pores := smooth(0.30, 0.62, gradientNoise(vector{p.x*2.6 + shift, depth * 46, 4.4}, seed^5)) * (0.35 + 0.65*(1-late))

	colour := mixColour(vector{0.50, 0.315, 0.175}, vector{0.335, 0.19, 0.095}, 0.75*late)
	colour = colour.times(1 + 0.16*fibre)
	colour = mixColour(colour, vector{0.17, 0.09, 0.045}, 0.55*pores)
	colour = colour.times(1 + 0.20*(share(scramble(seed))-0.5) + 0.12*gradientNoise(vector{p.x * 0.35, depth * 0.8, 9}, 5))
	gap := min(within, boardDepth-within)
	colour = colour.times(1 - 0.75*(1-smooth(0.010, 0.035, gap)))
	wear := layeredNoise(vector{p.x * 0.45, 3, depth * 0.7}, 3, 88)
	return colour, clamp(0.62+0.35*wear-0.4*pores, 0.1, 1)
}
