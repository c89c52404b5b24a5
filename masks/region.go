package masks

import (
	"math"
	"math/big"
	"sort"
)

// Area is the region's area in square pixels, whichever way round its corners run. It is the shoelace sum
// (Gauss's area formula); a region that crosses itself counts the parts it runs round in opposite
// directions against each other.
func (r Region) Area() float64 {
	if len(r) < 3 {
		return 0
	}
	// Taken from the first corner, the products stay small and the sum keeps its digits far from (0, 0).
	twice := 0.0
	origin := r[0]
	for i := 1; i+1 < len(r); i++ {
		ax, ay := r[i].X-origin.X, r[i].Y-origin.Y
		bx, by := r[i+1].X-origin.X, r[i+1].Y-origin.Y
		twice += float64(ax*by) - float64(bx*ay)
	}
	return math.Abs(twice) / 2
}

// Bounds is the smallest upright box around the region, in pixels; zeros for a region without corners.
func (r Region) Bounds() (minX, minY, maxX, maxY float64) {
	for i, p := range r {
		if i == 0 {
			minX, minY, maxX, maxY = p.X, p.Y, p.X, p.Y
		}
		minX, minY = min(minX, p.X), min(minY, p.Y)
		maxX, maxY = max(maxX, p.X), max(maxY, p.Y)
	}
	return minX, minY, maxX, maxY
}

// Crossing finds two edges of the region that cross or touch, so that it is no simple polygon; edge i runs
// from corner i to the next, the last one back to corner 0. Of several such pairs it names the one with the
// lowest i, then the lowest j, i < j. Edges that follow one another may share their common corner and no
// more. Edges without length are passed over, as are regions with corners that are not finite.
//
// The answer is exact for every finite coordinate: a sign that rounding leaves in doubt is worked out in
// rational numbers.
func (r Region) Crossing() (i, j int, ok bool) {
	edges := make([]edge, 0, len(r))
	for k, a := range r {
		if !finite(a) {
			return 0, 0, false
		}
		if b := r[(k+1)%len(r)]; a != b {
			edges = append(edges, edge{a, b, k})
		}
	}
	// Edges are compared in the order in which they begin along the region's longer side: past the end of an
	// edge none can meet it, so that most pairs are never looked at.
	minX, minY, maxX, maxY := r.Bounds()
	begin := func(e edge) float64 { return min(e.a.X, e.b.X) }
	end := func(e edge) float64 { return max(e.a.X, e.b.X) }
	if maxY-minY > maxX-minX {
		begin = func(e edge) float64 { return min(e.a.Y, e.b.Y) }
		end = func(e edge) float64 { return max(e.a.Y, e.b.Y) }
	}
	order := make([]int, len(edges))
	for k := range order {
		order[k] = k
	}
	sort.Slice(order, func(k, l int) bool { return begin(edges[order[k]]) < begin(edges[order[l]]) })
	bestM, bestN := len(edges), len(edges)
	for k, m := range order {
		limit := end(edges[m])
		for _, n := range order[k+1:] {
			if begin(edges[n]) > limit {
				break
			}
			low, high := min(m, n), max(m, n)
			if (low < bestM || low == bestM && high < bestN) && meet(edges, low, high) {
				bestM, bestN = low, high
			}
		}
	}
	if bestM == len(edges) {
		return 0, 0, false
	}
	return edges[bestM].corner, edges[bestN].corner, true
}

// meet is whether edges m and n, m < n, share more than a common corner.
func meet(edges []edge, m, n int) bool {
	e, f := edges[m], edges[n]
	if !e.near(f) {
		return false
	}
	follows, closes := n == m+1, m == 0 && n == len(edges)-1
	if !follows && !closes {
		return e.meets(f)
	}
	return follows && foldsBack(e.a, e.b, f.b) || closes && foldsBack(f.a, f.b, e.b)
}

// edge runs from a to b; corner is the number of the corner it starts at.
type edge struct {
	a, b   Point
	corner int
}

func finite(p Point) bool {
	return !math.IsInf(p.X, 0) && !math.IsInf(p.Y, 0) && !math.IsNaN(p.X) && !math.IsNaN(p.Y)
}

// near is false where the boxes around the edges do not even touch.
func (e edge) near(f edge) bool {
	return min(e.a.X, e.b.X) <= max(f.a.X, f.b.X) && min(f.a.X, f.b.X) <= max(e.a.X, e.b.X) &&
		min(e.a.Y, e.b.Y) <= max(f.a.Y, f.b.Y) && min(f.a.Y, f.b.Y) <= max(e.a.Y, e.b.Y)
}

// meets is whether two edges share a point: the four-orientation test. The boxes around them touch (near),
// which for edges on one line is the whole answer.
func (e edge) meets(f edge) bool {
	return side(e.a, e.b, f.a)*side(e.a, e.b, f.b) <= 0 && side(f.a, f.b, e.a)*side(f.a, f.b, e.b) <= 0
}

// foldsBack is whether the edge from p to b runs back over the edge from a to p.
func foldsBack(a, p, b Point) bool {
	if side(a, p, b) != 0 {
		return false
	}
	// On one line, the edges lie over one another where both leave p the same way.
	if a.X != p.X {
		return (a.X < p.X) == (b.X < p.X)
	}
	return (a.Y < p.Y) == (b.Y < p.Y)
}

// side is on which side of the line from a to b the point c lies: -1, 0 (on the line) or 1.
func side(a, b, c Point) int {
	left := float64((a.X - c.X) * (b.Y - c.Y))
	right := float64((a.Y - c.Y) * (b.X - c.X))
	twice := left - right
	// Bound on the rounding of twice: Shewchuk, Adaptive Precision Floating-Point Arithmetic and Fast Robust
	// Geometric Predicates, 1997, section 4.3, (3 + 16 eps) eps with eps = 2^-53, rounded up.
	const bound = 4.0 / (1 << 53)
	if doubt := bound * (math.Abs(left) + math.Abs(right)); twice > doubt {
		return 1
	} else if twice < -doubt {
		return -1
	}
	return exactSide(a, b, c)
}

// exactSide is side in rational numbers.
func exactSide(a, b, c Point) int {
	exact := func(v, w float64) *big.Rat {
		q := new(big.Rat).SetFloat64(v)
		return q.Sub(q, new(big.Rat).SetFloat64(w))
	}
	left := exact(a.X, c.X)
	left.Mul(left, exact(b.Y, c.Y))
	right := exact(a.Y, c.Y)
	right.Mul(right, exact(b.X, c.X))
	return left.Cmp(right)
}
