package mark

import (
	"math"
	"slices"
)

const (
	// coarsest is how far, in pixels of the map, a smoothed outline may lie from the traced one.
	coarsest = 8.0
	// keepApart is the distance in photo pixels that the outlines of two regions keep: no pixel lies in both then.
	keepApart = 1.5
)

// smoother takes corners off one of several outlines that lie close together.
type smoother struct {
	regions       [][]point // in photo pixels
	self          int
	core          []int32 // whose object is where, by pixel of the map
	width, height int
	scale         float64
}

// smooth takes away corners that lie no farther than the tolerance from the straight line between their neighbours, as
// long as the region loses nothing of its own object and takes in nothing of another's, and comes no nearer to another
// region than keepApart. It goes around once: with a tolerance that grows from call to call no edge wanders far.
func (s *smoother) smooth(tolerance float64) []point {
	out := slices.Clone(s.regions[s.self])
	for i := 0; i < len(out) && len(out) > 3; i++ {
		a, b, c := out[(i+len(out)-1)%len(out)], out[i], out[(i+1)%len(out)]
		q := onto(b, a, c)
		if math.Hypot(b.x-q.x, b.y-q.y) <= tolerance && s.allowed(out, i, a, b, c) {
			out = slices.Delete(out, i, i+1)
		}
	}
	return out
}

// allowed is whether corner b between a and c, the i-th, may go.
func (s *smoother) allowed(out []point, i int, a, b, c point) bool {
	turn := cross(a, b, c)
	if turn == 0 {
		return true
	}
	// Outlines run clockwise as seen, with y down: a corner that turns right sticks out.
	sticksOut := turn > 0
	if s.holdsObject(a, b, c, sticksOut) {
		return false
	}
	for k, p := range out {
		// The new edge must not meet the outline elsewhere.
		q := out[(k+1)%len(out)]
		if k == i || (k+1)%len(out) == i || q == a || p == c {
			continue
		}
		if !clearOf(a, c, p, q, 0) {
			return false
		}
	}
	if sticksOut {
		return true
	}
	for n, region := range s.regions {
		if n == s.self {
			continue
		}
		for k, p := range region {
			if !clearOf(a, c, p, region[(k+1)%len(region)], keepApart) {
				return false
			}
		}
	}
	return true
}

// holdsObject is whether the triangle a b c holds a pixel of the region's own object, if it is to be cut off, or of
// another's, if it is to be taken in.
func (s *smoother) holdsObject(a, b, c point, own bool) bool {
	x0, x1 := min(a.x, b.x, c.x)/s.scale, max(a.x, b.x, c.x)/s.scale
	y0, y1 := min(a.y, b.y, c.y)/s.scale, max(a.y, b.y, c.y)/s.scale
	for y := max(int(y0), 0); y <= min(int(y1), s.height-1); y++ {
		for x := max(int(x0), 0); x <= min(int(x1), s.width-1); x++ {
			label := s.core[y*s.width+x]
			if label == 0 || (int(label) == s.self+1) != own {
				continue
			}
			p := point{(float64(x) + 0.5) * s.scale, (float64(y) + 0.5) * s.scale}
			d, e, f := cross(a, b, p), cross(b, c, p), cross(c, a, p)
			if d >= 0 && e >= 0 && f >= 0 || d <= 0 && e <= 0 && f <= 0 {
				return true
			}
		}
	}
	return false
}

// clearOf is whether the edges p-q and r-s keep a distance; 0 for not meeting.
func clearOf(p, q, r, s point, distance float64) bool {
	if max(p.x, q.x)+distance < min(r.x, s.x) || max(r.x, s.x)+distance < min(p.x, q.x) ||
		max(p.y, q.y)+distance < min(r.y, s.y) || max(r.y, s.y)+distance < min(p.y, q.y) {
		return true
	}
	if cross(p, q, r)*cross(p, q, s) <= 0 && cross(r, s, p)*cross(r, s, q) <= 0 {
		return false
	}
	near := func(p, a, b point) bool {
		o := onto(p, a, b)
		return math.Hypot(o.x-p.x, o.y-p.y) < distance
	}
	return !near(p, r, s) && !near(q, r, s) && !near(r, p, q) && !near(s, p, q)
}
