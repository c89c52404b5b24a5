package masks

import (
	"math"
	"math/big"
	"math/rand/v2"
	"testing"
)

// TestAreaOfKnownFigures holds Area against textbook areas; worked by hand.
func TestAreaOfKnownFigures(t *testing.T) {
	for _, c := range []struct {
		name   string
		region Region
		area   float64
	}{
		{"nothing", nil, 0},
		{"two corners", Region{{0, 0}, {5, 5}}, 0},
		{"unit square", Region{{0, 0}, {1, 0}, {1, 1}, {0, 1}}, 1},
		{"unit square the other way round", Region{{0, 1}, {1, 1}, {1, 0}, {0, 0}}, 1},
		{"right triangle, legs 3 and 4", Region{{10, 10}, {13, 10}, {10, 14}}, 6},
		{"an L of three unit squares", Region{{0, 0}, {2, 0}, {2, 1}, {1, 1}, {1, 2}, {0, 2}}, 3},
		{"unit square far from the corner", Region{{99999, 99999}, {100000, 99999}, {100000, 100000}, {99999, 100000}}, 1},
		{"on one line", Region{{1, 1}, {2, 2}, {3, 3}}, 0},
		{"a bow tie's halves cancel", Region{{0, 0}, {2, 2}, {2, 0}, {0, 2}}, 0},
	} {
		if got := c.region.Area(); got != c.area {
			t.Errorf("%s: area %v, want %v", c.name, got, c.area)
		}
	}
}

func TestBoundsHoldEveryCorner(t *testing.T) {
	minX, minY, maxX, maxY := Region{{-3, 8}, {4, -2}, {0.5, 9}}.Bounds()
	if minX != -3 || minY != -2 || maxX != 4 || maxY != 9 {
		t.Errorf("bounds %v %v %v %v, want -3 -2 4 9", minX, minY, maxX, maxY)
	}
	if minX, minY, maxX, maxY = (Region{}).Bounds(); minX != 0 || minY != 0 || maxX != 0 || maxY != 0 {
		t.Error("a region without corners has bounds other than zeros")
	}
}

// TestCrossingNamesTheTwoEdges: figures drawn and judged by hand.
func TestCrossingNamesTheTwoEdges(t *testing.T) {
	for _, c := range []struct {
		name   string
		region Region
		i, j   int
		ok     bool
	}{
		{"nothing", nil, 0, 0, false},
		{"one corner", Region{{1, 1}}, 0, 0, false},
		{"triangle", Region{{0, 0}, {4, 0}, {0, 4}}, 0, 0, false},
		{"square", Region{{0, 0}, {1, 0}, {1, 1}, {0, 1}}, 0, 0, false},
		{"square with a corner in the middle of a side", Region{{0, 0}, {1, 0}, {2, 0}, {2, 2}, {0, 2}}, 0, 0, false},
		{"square with each corner twice", Region{{0, 0}, {0, 0}, {1, 0}, {1, 0}, {1, 1}, {1, 1}, {0, 1}, {0, 1}, {0, 0}}, 0, 0, false},
		{"an L", Region{{0, 0}, {2, 0}, {2, 1}, {1, 1}, {1, 2}, {0, 2}}, 0, 0, false},
		{"bow tie", Region{{0, 0}, {2, 2}, {2, 0}, {0, 2}}, 0, 2, true},
		{"bow tie that starts elsewhere", Region{{0, 2}, {0, 0}, {2, 2}, {2, 0}}, 1, 3, true},
		{"bow tie with a corner twice", Region{{0, 0}, {0, 0}, {2, 2}, {2, 0}, {0, 2}}, 1, 3, true},
		{"a five-pointed star, drawn in one go", Region{{0, -10}, {6, 8}, {-10, -3}, {10, -3}, {-6, 8}}, 0, 2, true},
		{"a corner that touches another edge", Region{{0, 0}, {4, 0}, {4, 4}, {2, 0}, {0, 4}}, 0, 2, true},
		{"two squares that share one corner", Region{{0, 0}, {1, 0}, {1, 1}, {2, 1}, {2, 2}, {1, 2}, {1, 1}, {0, 1}}, 1, 5, true},
		{"there and back", Region{{0, 0}, {4, 0}}, 0, 1, true},
		{"three corners on one line", Region{{0, 0}, {2, 2}, {4, 4}}, 0, 2, true},
		{"a spike", Region{{0, 0}, {4, 0}, {4, 4}, {4, 8}, {4, 4}, {0, 4}}, 1, 3, true},
		{"a spike upright", Region{{0, 0}, {4, 0}, {4, 8}, {4, 4}, {0, 4}}, 1, 2, true},
		{"a spike at the closing corner", Region{{0, 0}, {4, 0}, {4, 4}, {0, 4}, {0, -3}}, 0, 3, true},
		{"a key-hole whose slit has no width", Region{{0, 0}, {9, 0}, {9, 9}, {0, 9}, {0, 5}, {3, 5}, {3, 6}, {6, 6}, {6, 3}, {3, 3}, {3, 5}, {0, 5}}, 3, 10, true},
		{"not finite", Region{{0, 0}, {2, 2}, {2, 0}, {math.NaN(), 2}}, 0, 0, false},
		{"infinite", Region{{0, 0}, {2, 2}, {math.Inf(1), 0}, {0, 2}}, 0, 0, false},
		{"huge bow tie", Region{{0, 0}, {1e308, 1e308}, {1e308, 0}, {0, 1e308}}, 0, 2, true},
		{"tiny bow tie", Region{{0, 0}, {2e-300, 2e-300}, {2e-300, 0}, {0, 2e-300}}, 0, 2, true},
		{"tiny square", Region{{0, 0}, {2e-300, 0}, {2e-300, 2e-300}, {0, 2e-300}}, 0, 0, false},
	} {
		if i, j, ok := c.region.Crossing(); i != c.i || j != c.j || ok != c.ok {
			t.Errorf("%s: %d, %d, %v; want %d, %d, %v", c.name, i, j, ok, c.i, c.j, c.ok)
		}
	}
}

// TestCrossingIsExactWhereRoundingWouldDecide moves a corner by one unit in the last place to and from an
// edge of slope 1: on the edge it touches, a step inside the figure it does not.
func TestCrossingIsExactWhereRoundingWouldDecide(t *testing.T) {
	figure := func(y float64) Region { // the notch's tip is at (0.1, y), the edge y = x from (0, 0) to (0.3, 0.3)
		return Region{{0, 0}, {0.3, 0.3}, {-5, 7}, {0.1, y}, {-7, 5}}
	}
	if _, _, ok := figure(0.1).Crossing(); !ok {
		t.Error("a tip on the edge is not seen to touch it")
	}
	if _, _, ok := figure(math.Nextafter(0.1, 1)).Crossing(); ok {
		t.Error("a tip one step above the edge is taken to touch it")
	}
	if _, _, ok := figure(math.Nextafter(0.1, 0)).Crossing(); !ok {
		t.Error("a tip one step through the edge is not seen to cross it")
	}
}

// TestCrossingEqualsTheSlowAnswer compares Crossing with every pair of edges solved in rational numbers, on
// a small grid, where touching, overlapping and repeated corners are common.
func TestCrossingEqualsTheSlowAnswer(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	simple, crossing := 0, 0
	for range 4000 {
		region := make(Region, 3+random.IntN(5))
		for k := range region {
			region[k] = Point{float64(random.IntN(6)), float64(random.IntN(6))}
		}
		wantI, wantJ, want := slowCrossing(region)
		i, j, ok := region.Crossing()
		if i != wantI || j != wantJ || ok != want {
			t.Fatalf("%v: %d, %d, %v; the slow answer is %d, %d, %v", region, i, j, ok, wantI, wantJ, want)
		}
		if ok {
			crossing++
		} else {
			simple++
		}
	}
	if simple < 500 || crossing < 500 {
		t.Errorf("%d simple and %d crossing figures: too few of a kind to tell anything", simple, crossing)
	}
}

// slowCrossing solves a + s (b-a) = c + t (d-c) for every pair of edges. A pair meets where 0 <= s, t <= 1,
// but for the corner that two edges in a row share (s = 1, t = 0, or the other way round).
func slowCrossing(r Region) (int, int, bool) {
	var kept []int // edges with length
	for k, a := range r {
		if a != r[(k+1)%len(r)] {
			kept = append(kept, k)
		}
	}
	rat := func(v float64) *big.Rat { return new(big.Rat).SetFloat64(v) }
	cross := func(ux, uy, vx, vy float64) *big.Rat {
		return new(big.Rat).Sub(new(big.Rat).Mul(rat(ux), rat(vy)), new(big.Rat).Mul(rat(uy), rat(vx)))
	}
	inside := func(q *big.Rat) bool { return q.Sign() >= 0 && q.Cmp(rat(1)) <= 0 }
	for m, i := range kept {
		for n := m + 1; n < len(kept); n++ {
			j := kept[n]
			a, b, c, d := r[i], r[(i+1)%len(r)], r[j], r[(j+1)%len(r)]
			follows, closes := n == m+1, m == 0 && n == len(kept)-1
			if area := cross(b.X-a.X, b.Y-a.Y, d.X-c.X, d.Y-c.Y); area.Sign() != 0 {
				s := new(big.Rat).Quo(cross(c.X-a.X, c.Y-a.Y, d.X-c.X, d.Y-c.Y), area)
				u := new(big.Rat).Quo(cross(c.X-a.X, c.Y-a.Y, b.X-a.X, b.Y-a.Y), area)
				if inside(s) && inside(u) && !follows && !closes {
					return i, j, true
				}
				continue
			}
			if cross(b.X-a.X, b.Y-a.Y, c.X-a.X, c.Y-a.Y).Sign() != 0 {
				continue // side by side
			}
			// On one line: how much of it do both cover, measured along its longer direction?
			along := func(p Point) float64 { return p.X }
			if a.X == b.X {
				along = func(p Point) float64 { return p.Y }
			}
			shared := min(max(along(a), along(b)), max(along(c), along(d))) - max(min(along(a), along(b)), min(along(c), along(d)))
			if shared > 0 || shared == 0 && !follows && !closes {
				return i, j, true
			}
		}
	}
	return 0, 0, false
}

func BenchmarkCrossingOfTwoThousandCorners(b *testing.B) {
	region := make(Region, 2000)
	for k := range region {
		angle := 2 * math.Pi * float64(k) / float64(len(region))
		region[k] = Point{3000 + 2000*math.Cos(angle), 2000 + 1500*math.Sin(angle)}
	}
	for b.Loop() {
		if _, _, ok := region.Crossing(); ok {
			b.Fatal("an ellipse crosses itself")
		}
	}
}
