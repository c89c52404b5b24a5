package main

import "math"

// stone is one pebble: an ellipsoid whose sides wear and breakage have cut
// flat, with the cuts rounded over and the whole a little uneven.
type stone struct {
	centre  vector
	axes    [3]vector // unit vectors of its own frame: width, height, depth
	half    vector    // half its width, height and depth
	facets  []facet
	seed    uint64
	mineral mineral
}

// facet is a flat cut, in the stone's own frame scaled so that the ellipsoid
// is the unit sphere.
type facet struct {
	normal   vector // unit
	distance float64
}

const (
	// rounding is the width over which a facet runs into its neighbours.
	rounding = 0.30
	// unevenness is the height of the swellings on the unit sphere.
	unevenness = 0.055
	// reach is the radius of a sphere round the unit sphere that holds every stone.
	reach = 1.06
	// steepness bounds the slope of the depth function, so that a step of
	// depth/steepness never passes through the surface.
	steepness = 1.2
	// farAway is a distance beyond everything on the sill.
	farAway = 1e9
)

// inward takes a point of the scene to the stone's own scaled frame.
func (s *stone) inward(p vector) vector {
	p = p.minus(s.centre)
	return vector{s.axes[0].dot(p) / s.half.x, s.axes[1].dot(p) / s.half.y, s.axes[2].dot(p) / s.half.z}
}

// inwardDirection is inward for a direction.
func (s *stone) inwardDirection(d vector) vector {
	return vector{s.axes[0].dot(d) / s.half.x, s.axes[1].dot(d) / s.half.y, s.axes[2].dot(d) / s.half.z}
}

// ownPlace takes a point of the scene to the stone's own frame, unscaled: the
// mineral's grain is laid out in it.
func (s *stone) ownPlace(p vector) vector {
	p = p.minus(s.centre)
	return vector{s.axes[0].dot(p), s.axes[1].dot(p), s.axes[2].dot(p)}
}

// depth is negative inside the stone, zero on its surface and positive
// outside, for a point in its own scaled frame.
func (s *stone) depth(q vector) float64 {
	depth := q.length() - 1
	for i := range s.facets {
		cut := s.facets[i].normal.dot(q) - s.facets[i].distance
		depth = roundedMaximum(depth, cut)
	}
	return depth + unevenness*gradientNoise(q.times(1.3), s.seed)
}

// roundedMaximum is the greater of a and b, with the edge where they meet
// rounded over by a parabola.
func roundedMaximum(a, b float64) float64 {
	greater := a
	if b > a {
		greater = b
	}
	overlap := rounding - math.Abs(a-b)
	if overlap <= 0 {
		return greater
	}
	return greater + overlap*overlap/(4*rounding)
}

// meet returns how far along the ray from o in the direction d the stone is
// first met, or farAway. The unit of the distance is the length of d.
func (s *stone) meet(o, d vector) float64 {
	q, e := s.inward(o), s.inwardDirection(d)
	ee, qe := e.dot(e), q.dot(e)
	within := qe*qe - ee*(q.dot(q)-reach*reach)
	if within <= 0 {
		return farAway
	}
	root := math.Sqrt(within)
	end := (root - qe) / ee
	if end <= 0 {
		return farAway
	}
	t := max(0, (-root-qe)/ee)
	stride := 1 / (math.Sqrt(ee) * steepness)
	const closeEnough, mostSteps = 0.0015, 60
	for step := 0; step < mostSteps && t < end; step++ {
		depth := s.depth(q.towards(e, t))
		if depth < closeEnough {
			return t
		}
		t += depth * stride
	}
	return farAway
}

// normal is the unit vector that points out of the stone at p, from the four
// corners of a small tetrahedron.
func (s *stone) normal(p vector) vector {
	const h = 0.004
	q := s.inward(p)
	a := s.depth(vector{q.x + h, q.y - h, q.z - h})
	b := s.depth(vector{q.x - h, q.y - h, q.z + h})
	c := s.depth(vector{q.x - h, q.y + h, q.z - h})
	d := s.depth(vector{q.x + h, q.y + h, q.z + h})
	rise := vector{(a - b - c + d) / s.half.x, (c - a - b + d) / s.half.y, (b - a - c + d) / s.half.z}
	return s.axes[0].times(rise.x).plus(s.axes[1].times(rise.y)).plus(s.axes[2].times(rise.z)).unit()
}

// rest lowers the stone onto those below it, or onto the sill (height 0) where
// there are none, until the first point touches. The stone sinks in by a
// hair, as worn seats do, so that no light shows through the contact.
func (s *stone) rest(below []stone) {
	const rows = 44
	const seat = 0.012
	down, up := vector{0, -1, 0}, vector{0, 1, 0}
	wide := max(s.half.x, s.half.z) * reach
	s.centre.y = 0
	height := -farAway
	for row := 0; row <= rows; row++ {
		for column := 0; column <= rows; column++ {
			x := s.centre.x + wide*(2*float64(column)/rows-1)
			z := s.centre.z + wide*(2*float64(row)/rows-1)
			const start = 20.0
			rise := s.meet(vector{x, -start, z}, up)
			if rise == farAway {
				continue
			}
			bottom := rise - start
			top := 0.0
			for i := range below {
				if fall := below[i].meet(vector{x, start, z}, down); fall != farAway {
					top = max(top, start-fall)
				}
			}
			height = max(height, top-bottom)
		}
	}
	s.centre.y = height - seat
}
