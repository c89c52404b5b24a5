package mark

import (
	"cmp"
	"math"
	"slices"
)

// cross is twice the area of the triangle o a b, positive where it turns clockwise as seen with y down.
func cross(o, a, b point) float64 {
	return float64((a.x-o.x)*(b.y-o.y)) - float64((a.y-o.y)*(b.x-o.x))
}

// hull is the convex hull of points, clockwise as seen, without corners on straight lines (A. Andrew, "Another efficient
// algorithm for convex hulls in two dimensions", 1979). Fewer than three points come back as they are.
func hull(points []point) []point {
	sorted := slices.Clone(points)
	slices.SortFunc(sorted, func(a, b point) int { return cmp.Or(cmp.Compare(a.x, b.x), cmp.Compare(a.y, b.y)) })
	sorted = slices.Compact(sorted)
	if len(sorted) < 3 {
		return sorted
	}
	var out []point
	half := func(p point, least int) {
		for len(out) >= least+2 && cross(out[len(out)-2], out[len(out)-1], p) <= 0 {
			out = out[:len(out)-1]
		}
		out = append(out, p)
	}
	for _, p := range sorted {
		half(p, 0)
	}
	least := len(out) - 1
	for i := len(sorted) - 2; i >= 0; i-- {
		half(sorted[i], least)
	}
	return out[:len(out)-1]
}

// widened is the hull of points with a margin around: each point stands for an octagon of that radius.
func widened(points []point, margin float64) []point {
	if margin <= 0 {
		return hull(points)
	}
	const slant = 0.41421356237309503 // tan 22.5°
	m, s := margin, margin*slant
	out := make([]point, 0, 8*len(points))
	for _, p := range points {
		for _, d := range [8]point{{-m, -s}, {-s, -m}, {s, -m}, {m, -s}, {m, s}, {s, m}, {-s, m}, {-m, s}} {
			out = append(out, point{p.x + d.x, p.y + d.y})
		}
	}
	return hull(out)
}

// simpler takes corners off a convex polygon until it has the number wanted or grows by more than the share of its area:
// an edge goes, and the edges beside it are made longer until they meet. What was inside stays inside.
func simpler(polygon []point, corners int, share float64) []point {
	out := slices.Clone(polygon)
	budget := share * area(polygon)
	for len(out) > max(corners, 3) {
		best, cost, at := -1, math.Inf(1), point{}
		for i := range out {
			a, b, c, d := out[(i+len(out)-1)%len(out)], out[i], out[(i+1)%len(out)], out[(i+2)%len(out)]
			meet, ok := meeting(a, b, d, c)
			if !ok {
				continue
			}
			if grows := math.Abs(cross(b, meet, c)) / 2; grows < cost {
				best, cost, at = i, grows, meet
			}
		}
		if best < 0 || cost > budget {
			break
		}
		budget -= cost
		out[best] = at
		out = slices.Delete(out, (best+1)%len(out), (best+1)%len(out)+1)
	}
	return out
}

// meeting is where the lines from a through b and from c through d meet beyond b and d.
func meeting(a, b, c, d point) (point, bool) {
	ux, uy, vx, vy := b.x-a.x, b.y-a.y, d.x-c.x, d.y-c.y
	det := float64(ux*vy) - float64(uy*vx)
	if math.Abs(det) < 1e-9 {
		return point{}, false
	}
	wx, wy := d.x-b.x, d.y-b.y
	along := (float64(wx*vy) - float64(wy*vx)) / det
	back := (float64(wx*uy) - float64(wy*ux)) / det
	if along < 0 || back < 0 {
		return point{}, false
	}
	return point{b.x + float64(along*ux), b.y + float64(along*uy)}, true
}

// area of a polygon (shoelace).
func area(polygon []point) float64 {
	sum := 0.0
	for i, p := range polygon {
		q := polygon[(i+1)%len(polygon)]
		sum += float64(p.x*q.y) - float64(p.y*q.x)
	}
	return math.Abs(sum) / 2
}

// line is the points with x·nx + y·ny = at; (nx, ny) has length 1.
type line struct{ nx, ny, at float64 }

// clip cuts off what of a convex polygon lies beyond the line (Sutherland and Hodgman, 1974).
func clip(polygon []point, l line) []point {
	var out []point
	depth := func(p point) float64 { return float64(p.x*l.nx) + float64(p.y*l.ny) - l.at }
	for i, p := range polygon {
		q := polygon[(i+1)%len(polygon)]
		a, b := depth(p), depth(q)
		if a <= 0 {
			out = append(out, p)
		}
		if a < 0 && b > 0 || a > 0 && b < 0 {
			t := a / (a - b)
			out = append(out, point{p.x + float64(t*(q.x-p.x)), p.y + float64(t*(q.y-p.y))})
		}
	}
	return out
}

// clipTo cuts off what of a convex polygon lies outside 0..width by 0..height.
func clipTo(polygon []point, width, height float64) []point {
	for _, l := range [4]line{{-1, 0, 0}, {1, 0, width}, {0, -1, 0}, {0, 1, height}} {
		polygon = clip(polygon, l)
	}
	return polygon
}

// gap finds the shortest way between two convex polygons that do not meet: the line half-way across it, seen from a, and
// its length. Meeting polygons have none.
func gap(a, b []point) (middle line, length float64, ok bool) {
	if meets(a, b) {
		return line{}, 0, false
	}
	shortest := math.Inf(1)
	var from, to point
	look := func(corners, edges []point, swap bool) {
		for _, p := range corners {
			for i, e := range edges {
				q := onto(p, e, edges[(i+1)%len(edges)])
				if d := math.Hypot(q.x-p.x, q.y-p.y); d < shortest {
					shortest, from, to = d, p, q
					if swap {
						from, to = q, p
					}
				}
			}
		}
	}
	look(a, b, false)
	look(b, a, true)
	if shortest <= 0 || math.IsInf(shortest, 1) {
		return line{}, 0, false
	}
	nx, ny := (to.x-from.x)/shortest, (to.y-from.y)/shortest
	at := float64((from.x+to.x)/2*nx) + float64((from.y+to.y)/2*ny)
	return line{nx, ny, at}, shortest, true
}

// onto is the point of the edge from a to b that is nearest to p.
func onto(p, a, b point) point {
	ux, uy := b.x-a.x, b.y-a.y
	length := float64(ux*ux) + float64(uy*uy)
	if length == 0 {
		return a
	}
	t := min(max((float64((p.x-a.x)*ux)+float64((p.y-a.y)*uy))/length, 0), 1)
	return point{a.x + float64(t*ux), a.y + float64(t*uy)}
}

// meets is whether two convex polygons share a point: no edge of either parts them (separating axis theorem).
func meets(a, b []point) bool {
	parted := func(a, b []point) bool {
		for i, p := range a {
			q := a[(i+1)%len(a)]
			outside := true
			for _, r := range b {
				if cross(p, q, r) >= 0 {
					outside = false
					break
				}
			}
			if outside {
				return true
			}
		}
		return false
	}
	return !parted(a, b) && !parted(b, a)
}
