package mark

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The nearest labelled pixel by looking at all of them.
func TestNearestEqualsLookingAtAllPixels(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 1))
	for range 60 {
		width, height := 1+random.IntN(24), 1+random.IntN(24)
		labels := make([]int32, width*height)
		for range random.IntN(6) {
			labels[random.IntN(len(labels))] = int32(1 + random.IntN(3))
		}
		squared, owner := nearest(labels, width, height)
		for i := range labels {
			best := int32(far)
			owners := map[int32]bool{}
			for j, label := range labels {
				if label == 0 {
					continue
				}
				dx, dy := int32(i%width-j%width), int32(i/width-j/width)
				if d := dx*dx + dy*dy; d < best {
					best, owners = d, map[int32]bool{label: true}
				} else if d == best {
					owners[label] = true
				}
			}
			if squared[i] != best || best < far && !owners[owner[i]] {
				t.Fatalf("%d x %d: pixel %d has %d of %d, want %d of %v", width, height, i, squared[i], owner[i], best, owners)
			}
		}
	}
}

func randomPoints(random *rand.Rand, n int) []point {
	out := make([]point, n)
	for i := range out {
		out[i] = point{float64(random.IntN(40)), float64(random.IntN(40))}
	}
	return out
}

func inConvex(polygon []point, p point) bool {
	for i, a := range polygon {
		if cross(a, polygon[(i+1)%len(polygon)], p) < -1e-6 {
			return false
		}
	}
	return true
}

func TestHullHoldsItsPointsAndTurnsOneWay(t *testing.T) {
	random := rand.New(rand.NewPCG(2, 2))
	for range 200 {
		points := randomPoints(random, 5+random.IntN(20))
		h := hull(points)
		if len(h) < 3 {
			continue // all on a line
		}
		for i := range h {
			if cross(h[i], h[(i+1)%len(h)], h[(i+2)%len(h)]) <= 0 {
				t.Fatalf("%v: the hull %v does not turn at its corner %d", points, h, i+1)
			}
		}
		wide := widened(points, 3)
		few := simpler(wide, 6, 1)
		if len(few) > 6 {
			t.Fatalf("%d corners are left of %d", len(few), len(wide))
		}
		for _, p := range points {
			if !inConvex(h, p) {
				t.Fatalf("%v lies outside its hull %v", p, h)
			}
			for angle := 0.0; angle < 6.28; angle += 0.4 {
				if q := (point{p.x + 3*math.Cos(angle), p.y + 3*math.Sin(angle)}); !inConvex(wide, q) || !inConvex(few, q) {
					t.Fatalf("%v is 3 away from %v and lies outside %v or %v", q, p, wide, few)
				}
			}
		}
	}
}

func TestGapIsTheShortestWayAndItsMiddlePartsBoth(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 3))
	parted := 0
	for range 300 {
		a, b := hull(randomPoints(random, 6)), hull(randomPoints(random, 6))
		shift := float64(random.IntN(50))
		for i := range b {
			b[i].x += shift
		}
		if len(a) < 3 || len(b) < 3 {
			continue
		}
		l, length, ok := gap(a, b)
		// Polygons meet where an edge of one holds or crosses the other: walk along all edges in small steps.
		touching, shortest := false, math.Inf(1)
		walk := func(p, q []point) {
			for i, u := range p {
				v := p[(i+1)%len(p)]
				for s := 0.0; s <= 1; s += 0.02 {
					w := point{u.x + s*(v.x-u.x), u.y + s*(v.y-u.y)}
					touching = touching || inConvex(q, w)
					for j, r := range q {
						o := onto(w, r, q[(j+1)%len(q)])
						shortest = min(shortest, math.Hypot(o.x-w.x, o.y-w.y))
					}
				}
			}
		}
		walk(a, b)
		walk(b, a)
		if ok == touching && shortest > 1 {
			t.Fatalf("%v and %v: parted %v, touching %v", a, b, ok, touching)
		}
		if !ok {
			continue
		}
		parted++
		if length > shortest+1e-9 || length < shortest-1 {
			t.Fatalf("%v and %v are %g apart, by walking %g", a, b, length, shortest)
		}
		for _, p := range a {
			if p.x*l.nx+p.y*l.ny > l.at-length/2+1e-6 {
				t.Fatalf("%v of the first lies beyond the line", p)
			}
		}
		for _, p := range b {
			if p.x*l.nx+p.y*l.ny < l.at+length/2-1e-6 {
				t.Fatalf("%v of the second lies beyond the line", p)
			}
		}
		if cut := clip(widened(a, 30), line{l.nx, l.ny, l.at}); area(cut) == 0 || area(cut) > area(widened(a, 30)) {
			t.Fatalf("cutting off leaves %g", area(cut))
		}
	}
	if parted < 50 {
		t.Fatalf("only %d pairs were apart", parted)
	}
}

func maskOf(rows ...string) (mask []bool, width, height int) {
	for _, row := range rows {
		for _, c := range row {
			mask = append(mask, c == '#')
		}
	}
	return mask, len(rows[0]), len(rows)
}

func TestTraceRunsAroundThePixels(t *testing.T) {
	mask, width, height := maskOf(
		"......",
		".##...",
		".####.",
		"...#..",
	)
	want := []point{{1, 1}, {3, 1}, {3, 2}, {5, 2}, {5, 3}, {4, 3}, {4, 4}, {3, 4}, {3, 3}, {1, 3}}
	got := trace(mask, width, height)
	if len(got) != len(want) {
		t.Fatalf("%v, want %v", got, want)
	}
	for i := range want {
		if got[i] != want[i] {
			t.Fatalf("%v, want %v", got, want)
		}
	}
	if a := area(got); a != 7 {
		t.Errorf("area %g of 7 pixels", a)
	}
}

func TestPinchesAreTakenOff(t *testing.T) {
	mask, width, height := maskOf(
		"##..",
		"##..",
		"..##",
		"..##",
	)
	unpinch(mask, width, height)
	keepLargest(mask, []int32{1, 1, 0, 0, 1, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0}, 1, width, height)
	if got := trace(mask, width, height); len(got) != 4 || area(got) != 4 {
		t.Errorf("traced %v", got)
	}
}

func TestHolesAreFilledWhereOnePieceEnclosesThem(t *testing.T) {
	mask, width, height := maskOf(
		".......",
		".#####.",
		".##.##.",
		".#####.",
		".......",
	)
	fillHoles(mask, width, height)
	if !mask[2*width+3] || mask[0] {
		t.Errorf("%v", mask)
	}
}

func TestTouchingDiscsAreTwoPartsAndALongBarIsOne(t *testing.T) {
	const width, height = 90, 60
	mask := make([]bool, width*height)
	disc := func(cx, cy, r int) {
		for i := range mask {
			x, y := i%width-cx, i/width-cy
			mask[i] = mask[i] || x*x+y*y <= r*r
		}
	}
	disc(20, 20, 12)
	disc(43, 20, 12) // they share a column of pixels
	for y := 45; y < 55; y++ {
		for x := 5; x < 80; x++ {
			mask[y*width+x] = true
		}
	}
	parts := patches(mask, width, height, 1)
	if len(parts) != 3 {
		t.Fatalf("%d parts, want 3", len(parts))
	}
	for _, p := range parts {
		if p.width() > 60 && p.area() < 700 || p.width() < 60 && (p.width() > 26 || p.radius < 11) {
			t.Errorf("a part of %d x %d, %d pixels, radius %g", p.width(), p.height(), p.area(), p.radius)
		}
	}
}
