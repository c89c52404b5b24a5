package mark

// territory says whose each changed pixel is.
type territory struct {
	width, height int
	core          []int32 // by pixel: number of the stack, from 1, whose object is there; 0 for none
	all           []int32 // the same with shadows and the rims of objects
	cut           []int   // by stack: pixels at which its shadow reaches further than it was followed
}

// newTerritory gives the stacks what they are made of, and then lets them grow over what else has changed, all at the
// same pace, so that what lies between two goes to the nearer. They stop at reach pixels.
func newTerritory(g *grown, stacks []*stack, reach int) *territory {
	t := &territory{width: g.width, height: g.height, core: make([]int32, len(g.sure)), cut: make([]int, len(stacks))}
	var front []int32
	for n, s := range stacks {
		for _, p := range s.parts() {
			for _, i := range p.pixels {
				if t.core[i] == 0 {
					t.core[i] = int32(n + 1)
					front = append(front, i)
				}
			}
		}
	}
	t.all = append([]int32(nil), t.core...)
	for step := 0; len(front) > 0; step++ {
		var next []int32
		// Steps to all eight neighbours and to four of them in turn make circles of octagons.
		eight := step%2 == 1
		for _, i := range front {
			x, y := int(i)%g.width, int(i)/g.width
			for dy := -1; dy <= 1; dy++ {
				for dx := -1; dx <= 1; dx++ {
					if !eight && dx != 0 && dy != 0 || x+dx < 0 || x+dx >= g.width || y+dy < 0 || y+dy >= g.height {
						continue
					}
					j := i + int32(dy*g.width+dx)
					if t.all[j] != 0 || g.any[j] == 0 {
						continue
					}
					if step >= reach {
						t.cut[t.all[i]-1]++
						continue
					}
					t.all[j] = t.all[i]
					next = append(next, j)
				}
			}
		}
		if step >= reach {
			break
		}
		front = next
	}
	return t
}

// point is a corner on the working map: pixel (x, y) covers x..x+1 by y..y+1.
type point struct{ x, y float64 }

// outlines are the corners of each stack's pixels that can be on its convex hull, by stack: the ends of its rows.
func (t *territory) outlines(labels []int32, stacks int) [][]point {
	out := make([][]point, stacks)
	first, last := make([]int, stacks+1), make([]int, stacks+1)
	for y := range t.height {
		for n := range first {
			first[n], last[n] = -1, -1
		}
		for x, n := range labels[y*t.width:][:t.width] {
			if first[n] < 0 {
				first[n] = x
			}
			last[n] = x
		}
		for n := 1; n <= stacks; n++ {
			if first[n] < 0 {
				continue
			}
			left, right := float64(first[n]), float64(last[n]+1)
			out[n-1] = append(out[n-1], point{left, float64(y)}, point{left, float64(y + 1)}, point{right, float64(y)}, point{right, float64(y + 1)})
		}
	}
	return out
}
