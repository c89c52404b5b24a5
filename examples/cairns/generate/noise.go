package main

import "math"

// scramble is the finishing step of the SplitMix64 generator (Steele, Lea and
// Flood, "Fast Splittable Pseudorandom Number Generators", 2014; the constants
// are written from memory). It turns neighbouring numbers into unlike ones, so
// that every pixel and every lattice point has chance of its own that does
// not depend on the order in which the work is done.
func scramble(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ (x >> 30)) * 0xbf58476d1ce4e5b9
	x = (x ^ (x >> 27)) * 0x94d049bb133111eb
	return x ^ (x >> 31)
}

// share turns a scrambled number into a number from 0 up to but not 1.
func share(x uint64) float64 { return float64(x>>11) / (1 << 53) }

// gradientNoise is smooth noise of about -0.9 to 0.9 that crosses zero at
// every lattice point: Perlin's gradient noise with his quintic fade ("Improving
// Noise", 2002), and gradients from a hash instead of a table.
func gradientNoise(p vector, seed uint64) float64 {
	fx, fy, fz := math.Floor(p.x), math.Floor(p.y), math.Floor(p.z)
	x, y, z := p.x-fx, p.y-fy, p.z-fz
	u, v, w := fade(x), fade(y), fade(z)
	ix, iy, iz := uint64(int64(fx)), uint64(int64(fy)), uint64(int64(fz))
	const strideX, strideY, strideZ = 0x8da6b343, 0xd8163841, 0xcb1ab31f
	bx, by, bz := ix*strideX, iy*strideY, iz*strideZ
	cx, cy, cz := bx+strideX, by+strideY, bz+strideZ
	near := mix(
		mix(slope(bx^by^bz^seed, x, y, z), slope(cx^by^bz^seed, x-1, y, z), u),
		mix(slope(bx^cy^bz^seed, x, y-1, z), slope(cx^cy^bz^seed, x-1, y-1, z), u), v)
	far := mix(
		mix(slope(bx^by^cz^seed, x, y, z-1), slope(cx^by^cz^seed, x-1, y, z-1), u),
		mix(slope(bx^cy^cz^seed, x, y-1, z-1), slope(cx^cy^cz^seed, x-1, y-1, z-1), u), v)
	return mix(near, far, w)
}

func fade(t float64) float64 { return t * t * t * (t*(t*6-15) + 10) }

// slope is the rise of one lattice point's plane: one of the twelve directions
// to the edges of a cube, four of them twice.
func slope(lattice uint64, x, y, z float64) float64 {
	lattice *= 0x9e3779b97f4a7c15
	lattice ^= lattice >> 29
	lattice *= 0xbf58476d1ce4e5b9
	switch lattice >> 60 {
	case 0, 12:
		return x + y
	case 1, 13:
		return y - x
	case 2:
		return x - y
	case 3:
		return -x - y
	case 4:
		return x + z
	case 5:
		return z - x
	case 6:
		return x - z
	case 7:
		return -x - z
	case 8:
		return y + z
	case 9, 14:
		return z - y
	case 10:
		return y - z
	default:
		return -y - z
	}
}

// layeredNoise adds octaves of gradientNoise, each at twice the frequency and
// half the height of the one before.
func layeredNoise(p vector, octaves int, seed uint64) float64 {
	sum, height := 0.0, 1.0
	for octave := 0; octave < octaves; octave++ {
		sum += gradientNoise(p, seed+uint64(octave)*0x51ed27) * height
		p = p.times(2.03)
		height /= 2
	}
	return sum
}

// spread hands out points that fill the unit square evenly however many are
// taken: an additive recurrence (Roberts, "The Unreasonable Effectiveness of
// Quasirandom Sequences", 2018), started anywhere in the square.
type spread struct {
	u, v         float64
	stepU, stepV float64
}

// Spreads that are used side by side for one ray need steps that have nothing
// to do with each other. The first two pairs fill four dimensions evenly,
// being powers of the inverse of the root of x^5 = x + 1; the last is made
// alike for two dimensions from x^3 = x + 1.
var (
	pixelSteps = [2]float64{0.8566748838545029, 0.733891856627126}
	lensSteps  = [2]float64{0.6287067210378087, 0.5385972572236101}
	lightSteps = [2]float64{0.7548776662466927, 0.5698402909980532}
)

func newSpread(seed uint64, steps [2]float64) spread {
	a := scramble(seed)
	return spread{share(a), share(scramble(a)), steps[0], steps[1]}
}

func (s *spread) next() (float64, float64) {
	s.u += s.stepU
	s.v += s.stepV
	if s.u >= 1 {
		s.u--
	}
	if s.v >= 1 {
		s.v--
	}
	return s.u, s.v
}
