package shoot

import "slices"

const (
	// orderPixels is about how many pixels are compared in all to find the order: a second's work.
	orderPixels = 100_000_000
	// betterOrder is by which share of a usual step from level to level another order must be shorter to be believed.
	betterOrder = 0.5
	// betterInAll is the same as a share of the whole way.
	betterInAll = 0.04
)

// order finds the order in which the photos change least from one to the next: order[i] is the photo that belongs
// in place i. It is nil when the photos lie in that order already, or no other is clearly better. Where objects are
// added one by one, two photos differ by all objects between them, so that the right order is the shortest way.
func (b *Base) order(shots []*Shot) []int {
	n := len(shots)
	if n < 3 {
		return nil
	}
	apart := b.distances(shots)
	given := make([]int, n)
	for i := range given {
		given[i] = i
	}
	best := shortest(given, apart)
	// A way is as long backwards: the direction with more photos in their place is taken, of two alike the one that begins
	// nearer to the empty stage.
	if back := backwards(best); kept(best) < kept(back) || kept(best) == kept(back) && slices.Index(back, 0) < slices.Index(best, 0) {
		best = back
	}
	steps := make([]int, n-1)
	for i := range steps {
		steps[i] = apart[given[i]][given[i+1]]
	}
	slices.Sort(steps)
	was, is := length(given, apart), length(best, apart)
	if gain := float64(was - is); gain < betterOrder*float64(steps[len(steps)/2]) || gain < betterInAll*float64(was) || was == is {
		best = slices.Clone(given)
	}
	if b.falling(shots, best) {
		slices.Reverse(best)
	}
	if slices.Equal(best, given) {
		return nil
	}
	return best
}

// falling tells whether what is new from one photo to the next lies lower and lower, in the columns or, without them, anywhere: in stacks that
// are built it lies higher and higher.
func (b *Base) falling(shots []*Shot, order []int) bool {
	var places [][]int
	for c := range b.columns {
		places = append(places, b.inside(c))
	}
	if len(places) == 0 {
		all := make([]int, len(b.still))
		for i := range all {
			all[i] = i
		}
		places = append(places, all)
	}
	rows := make([]float64, len(places)) // the middle of what was new last
	up, down := 0, 0
	for k := 1; k < len(order); k++ {
		fresh := b.dense(b.changed(shots[order[k-1]], shots[order[k]]))
		for c, inside := range places {
			n, sum := 0, 0
			for _, i := range inside {
				n += int(fresh[i])
				sum += int(fresh[i]) * (i / b.reduced.width)
			}
			if n < leastGrown {
				continue
			}
			row := float64(sum) / float64(n)
			switch before := rows[c]; {
			case before == 0:
			case row < before-1:
				up++
			case row > before+1:
				down++
			}
			rows[c] = row
		}
	}
	return down > 3*up+1
}

func kept(order []int) int {
	n := 0
	for i, photo := range order {
		if i == photo {
			n++
		}
	}
	return n
}

func backwards(order []int) []int {
	out := slices.Clone(order)
	slices.Reverse(out)
	return out
}

func length(order []int, apart [][]int) int {
	sum := 0
	for i := 1; i < len(order); i++ {
		sum += apart[order[i-1]][order[i]]
	}
	return sum
}

// shortest improves an order until no move of a photo to another place, no exchange of two and no part the other way
// round makes it shorter.
func shortest(order []int, apart [][]int) []int {
	best, least := slices.Clone(order), length(order, apart)
	next := make([]int, len(order))
	for improved := true; improved; {
		improved = false
		from := slices.Clone(best)
		for i := range from {
			for j := i + 1; j < len(from); j++ {
				for _, change := range []func(part []int){exchange, slices.Reverse[[]int], firstToLast, lastToFirst} {
					copy(next, from)
					change(next[i : j+1])
					if l := length(next, apart); l < least {
						copy(best, next)
						least, improved = l, true
					}
				}
			}
		}
	}
	return best
}

func exchange(part []int) { part[0], part[len(part)-1] = part[len(part)-1], part[0] }

func firstToLast(part []int) {
	first := part[0]
	copy(part, part[1:])
	part[len(part)-1] = first
}

func lastToFirst(part []int) {
	last := part[len(part)-1]
	copy(part[1:], part)
	part[0] = last
}

// distances are how many pixels have changed between each two photos: in the columns, or anywhere without them.
func (b *Base) distances(shots []*Shot) [][]int {
	n := len(shots)
	var places []int
	for i := range b.still {
		if len(b.columns) == 0 || b.still[i] == 0 {
			places = append(places, i)
		}
	}
	every := max(len(places)*n*(n-1)/2/orderPixels, 1)
	out := make([][]int, n)
	for i := range out {
		out[i] = make([]int, n)
	}
	for i, u := range shots {
		for j, v := range shots[:i] {
			limit, doubt := max(u.limit, v.limit), max(u.doubt(), v.doubt())
			for p := 0; p < len(places); p += every {
				at := places[p]
				if u.apart(v, at) > limit+max(u.slopes[at], v.slopes[at])*doubt/32 {
					out[i][j]++
				}
			}
			out[j][i] = out[i][j]
		}
	}
	return out
}
