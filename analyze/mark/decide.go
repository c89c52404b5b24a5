package mark

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// oneStack is whether two stacks that something stands on across are pieces of one: together no wider than an object
// usually is, and never seen to grow side by side before.
func (b *builder) oneStack(s, other *stack) bool {
	both := max(s.top.maxX, other.top.maxX) - min(s.top.minX, other.top.minX) + 1
	if 20*both > 27*b.usual.width {
		return false
	}
	together := 0
	for level := range s.levels {
		if len(s.levels[level]) > 0 && len(other.levels[level]) > 0 {
			together++
		}
	}
	return together < 2
}

// merge moves all that other has to s.
func (b *builder) merge(s, other *stack) {
	for level, parts := range other.levels {
		s.levels[level] = append(s.levels[level], parts...)
	}
	s.late = s.late && other.late
	s.settle()
	b.stacks = slices.DeleteFunc(b.stacks, func(t *stack) bool { return t == other })
}

// settle finds the top anew.
func (s *stack) settle() {
	s.top = nil
	for _, parts := range s.levels {
		if len(parts) > 0 {
			s.top = objectOf(parts)
		}
	}
}

// between is the place across at which the tops of two stacks part.
func (b *builder) between(s, other *stack) int {
	left, right := s.top, other.top
	if left.minX+left.maxX > right.minX+right.maxX {
		left, right = right, left
	}
	return (left.maxX + right.minX) / 2
}

// split cuts a stack in two near a place across, where it is thinnest. The right part becomes a stack of its own, nil
// when nothing lies on one of the sides.
func (b *builder) split(s *stack, near int) *stack {
	cut := thinnest(s.parts(), near-b.usual.width/4, near+b.usual.width/4)
	left, right := newStack(b.top), newStack(b.top)
	left.late, right.late = s.late, s.late
	for level, parts := range s.levels {
		for _, p := range parts {
			l, r := splitPart(p, b.width, cut)
			if l != nil {
				left.levels[level] = append(left.levels[level], l)
			}
			if r != nil {
				right.levels[level] = append(right.levels[level], r)
			}
		}
	}
	left.settle()
	right.settle()
	if left.top == nil || right.top == nil {
		return nil
	}
	*s = *left
	b.stacks = append(b.stacks, right)
	return right
}

// thinnest is the place across, from low to high, where parts have the fewest pixels; the middle of several.
func thinnest(parts []*part, low, high int) int {
	counts := make([]int, max(high-low+1, 1))
	for _, p := range parts {
		for _, x := range p.columns() {
			if x >= low && x <= high {
				counts[x-low]++
			}
		}
	}
	least := slices.Min(counts)
	best, distance := 0, math.MaxInt
	for i, n := range counts {
		if d := max(2*i-len(counts), len(counts)-2*i); n == least && d < distance {
			best, distance = i, d
		}
	}
	return low + best
}

// columns is the place across of each of a part's pixels.
func (p *part) columns() []int {
	out := make([]int, len(p.pixels))
	for i, at := range p.pixels {
		out[i] = int(at) % p.mapWidth
	}
	return out
}

// splitPart cuts a part at a place across, which goes to the left. A side without pixels is nil.
func splitPart(p *part, width, cut int) (left, right *part) {
	if p.maxX <= cut {
		return p, nil
	}
	if p.minX > cut {
		return nil, p
	}
	var l, r []int32
	for _, i := range p.pixels {
		if int(i)%width <= cut {
			l = append(l, i)
		} else {
			r = append(r, i)
		}
	}
	half := func(pixels []int32) *part {
		q := newPart(p.level, pixels, width, nil)
		q.radius = min(p.radius, float64(min(q.width(), q.height()))/2)
		return q
	}
	return half(l), half(r)
}

// Shares by which a stack is told from what merely changed.
const (
	// leastShare of the usual stack's area: less is a trifle.
	leastShare = 0.08
	// loneShare of the usual object's area: a stack of one object among taller ones must have as much.
	loneShare = 0.15
)

// outcome is what was decided about the parts.
type outcome struct {
	stacks []*stack // from left to right
	strays []*stack // changes that were taken for no column
	usual  usual
	doubts []string
}

// findColumns finds the stacks, wanted of them if it is above 0. scale is photo pixels a pixel of the map.
func findColumns(g *grown, wanted, scale int) *outcome {
	b := build(g.parts(), g.width, g.top, scale)
	strays := b.sift()
	if wanted > 0 {
		strays = b.fit(wanted, strays)
	}
	slices.SortStableFunc(b.stacks, func(s, t *stack) int {
		f, h := s.foot(), t.foot()
		return cmp.Or(cmp.Compare(f.minX+f.maxX, h.minX+h.maxX), cmp.Compare(h.maxY, f.maxY))
	})
	return &outcome{b.stacks, strays, b.usual, b.doubts}
}

// sift takes out what is no stack.
func (b *builder) sift() (strays []*stack) {
	areas, objects := make([]int, len(b.stacks)), []int{}
	tallest := 0
	for i, s := range b.stacks {
		areas[i] = s.area()
		tallest = max(tallest, s.count())
		for _, parts := range s.levels {
			if len(parts) > 0 {
				objects = append(objects, objectOf(parts).area)
			}
		}
	}
	usualArea, usualObject := upper(areas), upper(objects)
	b.rejoin()
	// A flat patch at the foot of others is their shadow, and is shared out among them later.
	b.stacks = slices.DeleteFunc(b.stacks, func(s *stack) bool { return tallest >= 2 && s.count() == 1 && b.atFoot(s) })
	b.stacks = slices.DeleteFunc(b.stacks, func(s *stack) bool {
		area, count := float64(s.area()), s.count()
		stray := area < leastShare*float64(usualArea) ||
			s.late && (count < 2 || area < leastShare*2*float64(usualArea)) ||
			count == 1 && (tallest >= 3 && area < loneShare*float64(usualObject) || b.sliver(s))
		if stray {
			strays = append(strays, s)
		}
		return stray
	})
	return strays
}

// sliver is whether a stack is nothing but a thin patch, such as JPEG leaves along an edge behind the scene.
func (b *builder) sliver(s *stack) bool {
	for _, p := range s.parts() {
		if p.radius > 0.4*b.usual.radius {
			return false
		}
	}
	return true
}

// rejoin gives a stack that began late to the stack below it or around it, where it is the rest of that after levels that
// can not be seen.
func (b *builder) rejoin() {
	for _, s := range slices.Clone(b.stacks) {
		if !s.late {
			continue
		}
		box := s.bounds()
		var best *stack
		least := 5 * b.usual.height / 2
		for _, other := range b.stacks {
			if other == s {
				continue
			}
			o := other.bounds()
			wide := min(box.maxX, o.maxX) - max(box.minX, o.minX) + 1
			high := min(box.maxY, o.maxY) - max(box.minY, o.minY) + 1
			if 2*wide < min(box.width(), o.width()) {
				continue
			}
			over := o.minY - box.maxY
			if 5*wide*high > 3*box.width()*box.height() {
				over = 0 // it lies within the other
			} else if s.foot().level <= other.top.level || over < -b.usual.height/2 {
				continue
			}
			if over < least {
				best, least = other, over
			}
		}
		if best != nil {
			b.merge(best, s)
		}
	}
}

// atFoot is whether a stack is a thin patch at the foot of another.
func (b *builder) atFoot(s *stack) bool {
	box := s.bounds()
	thin := true
	for _, p := range s.parts() {
		thin = thin && p.radius < 0.7*b.usual.radius
	}
	for _, other := range b.stacks {
		if other == s || other.count() < 2 || !thin {
			continue
		}
		foot := other.foot()
		dx, dy := max(box.minX-foot.maxX, foot.minX-box.maxX), max(box.minY-foot.maxY, foot.minY-box.maxY)
		if max(dx, dy) <= 2 && box.minY > foot.minY {
			return true
		}
	}
	return false
}

// upper is the value at which the smaller values, in order, have come to half of the sum: trifles do not pull it down.
func upper(values []int) int {
	slices.Sort(values)
	total := 0
	for _, v := range values {
		total += v
	}
	sum := 0
	for _, v := range values {
		if sum += v; 2*sum >= total {
			return v
		}
	}
	return 0
}

// fit makes the number of stacks the wanted one: by taking strays for stacks and cutting the widest, or by joining
// those that stand closest and leaving out the least.
func (b *builder) fit(wanted int, strays []*stack) []*stack {
	slices.SortStableFunc(strays, func(s, t *stack) int { return cmp.Compare(t.area(), s.area()) })
	for len(b.stacks) < wanted {
		widest, most := (*stack)(nil), 0
		for _, s := range b.stacks {
			if w := s.bounds().maxX - s.bounds().minX + 1; w > most {
				widest, most = s, w
			}
		}
		// What is far wider than an object is cut before something small is taken for a stack.
		if len(strays) > 0 && (widest == nil || 2*most < 3*b.usual.width) {
			b.stacks = append(b.stacks, strays[0])
			strays = strays[1:]
			continue
		}
		if widest == nil {
			break
		}
		box := widest.bounds()
		if b.split(widest, (box.minX+box.maxX)/2) == nil {
			break
		}
	}
	for len(b.stacks) > wanted {
		least, closest := 0, [2]int{0, 1}
		areas := make([]int, len(b.stacks))
		gap := math.MaxInt
		for i, s := range b.stacks {
			areas[i] = s.area()
			if areas[i] < areas[least] {
				least = i
			}
			for j := range i {
				a, c := s.bounds(), b.stacks[j].bounds()
				dx, dy := max(a.minX-c.maxX, c.minX-a.maxX), max(a.minY-c.maxY, c.minY-a.maxY)
				if d := max(dx, dy); d < gap {
					gap, closest = d, [2]int{j, i}
				}
			}
		}
		smallest := areas[least]
		if 10*smallest < 3*upper(areas) {
			strays = append(strays, b.stacks[least])
			b.stacks = slices.Delete(b.stacks, least, least+1)
			continue
		}
		b.merge(b.stacks[closest[0]], b.stacks[closest[1]])
	}
	if len(b.stacks) != wanted {
		b.doubts = append(b.doubts, fmt.Sprintf("--columns: %d could be told apart, not %d; add the others by hand", len(b.stacks), wanted))
	}
	return strays
}
