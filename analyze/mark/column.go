package mark

import (
	"cmp"
	"fmt"
	"slices"
)

// stack is a column being found: the parts that each level adds to it.
type stack struct {
	levels [][]*part // by level
	top    *object   // what was added last
	late   bool      // it does not begin at level 1
}

// object is what one level adds to a stack.
type object struct {
	level                  int
	minX, minY, maxX, maxY int
	area                   int
}

func (o *object) width() int  { return o.maxX - o.minX + 1 }
func (o *object) height() int { return o.maxY - o.minY + 1 }

// objectOf joins parts of one level.
func objectOf(parts []*part) *object {
	o := &object{level: parts[0].level, minX: parts[0].minX, minY: parts[0].minY, maxX: parts[0].maxX, maxY: parts[0].maxY}
	for _, p := range parts {
		o.minX, o.maxX, o.minY, o.maxY = min(o.minX, p.minX), max(o.maxX, p.maxX), min(o.minY, p.minY), max(o.maxY, p.maxY)
		o.area += p.area()
	}
	return o
}

func newStack(top int) *stack { return &stack{levels: make([][]*part, top+1)} }

// put adds parts to the stack as its new top.
func (s *stack) put(level int, parts ...*part) {
	s.levels[level] = append(s.levels[level], parts...)
	s.top = objectOf(s.levels[level])
}

// attach adds a part that lies beside the stack and carries nothing.
func (s *stack) attach(p *part) { s.levels[p.level] = append(s.levels[p.level], p) }

// count is the number of levels at which the stack grows.
func (s *stack) count() int {
	n := 0
	for _, parts := range s.levels {
		if len(parts) > 0 {
			n++
		}
	}
	return n
}

func (s *stack) parts() []*part { return slices.Concat(s.levels...) }

func (s *stack) area() int {
	sum := 0
	for _, p := range s.parts() {
		sum += p.area()
	}
	return sum
}

// bounds is the box around the stack, both ends in it.
func (s *stack) bounds() *object { return objectOf(s.parts()) }

// foot is the lowest object.
func (s *stack) foot() *object {
	for _, parts := range s.levels {
		if len(parts) > 0 {
			return objectOf(parts)
		}
	}
	return nil
}

// usual is the size of most of what is added: medians over the parts, each counted by its area.
type usual struct {
	width, height, area int
	radius              float64
}

func usualOf(parts [][]*part) usual {
	all := slices.Concat(parts...)
	middle := func(value func(*part) int) int {
		slices.SortStableFunc(all, func(a, b *part) int { return cmp.Compare(value(a), value(b)) })
		total := 0
		for _, p := range all {
			total += p.area()
		}
		sum := 0
		for _, p := range all {
			if sum += p.area(); 2*sum >= total {
				return value(p)
			}
		}
		return 0
	}
	const fine = 64
	return usual{middle((*part).width), middle((*part).height), middle((*part).area),
		float64(middle(func(p *part) int { return int(p.radius * fine) })) / fine}
}

// builder lets stacks grow from level to level.
type builder struct {
	usual  usual
	width  int // of the map
	top    int
	scale  int // photo pixels a pixel of the map
	stacks []*stack
	doubts []string
}

// build makes stacks of the parts. Level 1 begins them; what a further level adds goes to the stack that it stands on.
func build(parts [][]*part, width, top, scale int) *builder {
	b := &builder{usual: usualOf(parts), width: width, top: top, scale: scale}
	for level := 1; level <= top; level++ {
		b.level(level, parts[level])
	}
	return b
}

// level distributes the parts of one level.
func (b *builder) level(level int, parts []*part) {
	taken := make(map[*stack][]*part)
	var rest []*part
	todo := slices.Clone(parts)
	for len(todo) > 0 {
		p := todo[0]
		todo = todo[1:]
		under := b.under(p)
		switch {
		case len(under) == 0:
			rest = append(rest, p)
		case len(under) == 1:
			taken[under[0]] = append(taken[under[0]], p)
		default:
			first, second := under[0], under[1]
			if b.oneStack(first, second) {
				b.doubt(first.top, "two pieces side by side, and one object on both, are taken for one column")
				b.merge(first, second)
				taken[first] = append(taken[first], taken[second]...)
				delete(taken, second)
				todo = append([]*part{p}, todo...)
				continue
			}
			near := b.between(first, second)
			left, right := splitPart(p, b.width, thinnest([]*part{p}, near-b.usual.width/4, near+b.usual.width/4))
			if left == nil || right == nil {
				taken[first] = append(taken[first], p)
				continue
			}
			b.doubt(objectOf([]*part{p}), fmt.Sprintf("what comes with level %d reaches across two columns, and was cut between them", level))
			todo = append([]*part{left, right}, todo...)
		}
	}
	for _, s := range slices.Clone(b.stacks) { // in order, not as the map has them
		if parts := taken[s]; parts != nil {
			b.grow(s, level, parts)
		}
	}
	for _, slight := range []bool{false, true} {
		for _, p := range rest {
			if b.slight(p) == slight {
				b.place(p)
			}
		}
	}
}

// under are the stacks that a part stands on, the best first. More than one only if it covers much of each.
func (b *builder) under(p *part) []*stack {
	type candidate struct {
		*stack
		score  float64
		covers bool
	}
	var found []candidate
	for _, s := range b.stacks {
		t := s.top
		overlap := min(p.maxX, t.maxX) - max(p.minX, t.minX) + 1
		if t.level >= p.level || overlap <= 0 {
			continue
		}
		share := float64(overlap) / float64(min(p.width(), t.width()))
		if share < 0.25 || p.middleY >= (t.minY+t.maxY)/2 {
			continue
		}
		// A level that can not be seen leaves the room of an object.
		room := b.usual.height*3/4 + (p.level-t.level-1)*b.usual.height*5/4
		gap := t.minY - p.maxY - 1
		if gap > room || gap < -max(p.height(), t.height()) {
			continue
		}
		match := float64(overlap) / float64(max(p.width(), t.width()))
		found = append(found, candidate{s, match - float64(max(gap, -gap))/float64(2*b.usual.height), 2*overlap >= t.width()})
	}
	slices.SortStableFunc(found, func(a, b candidate) int { return cmp.Compare(b.score, a.score) })
	var out []*stack
	for i, c := range found {
		// Two tops one above the other do not share what stands on the upper one.
		if i == 0 || c.covers && found[0].covers && apart(c.top, found[0].top) {
			out = append(out, c.stack)
		}
	}
	return out
}

// apart is whether two objects stand side by side.
func apart(a, b *object) bool {
	overlap := min(a.maxX, b.maxX) - max(a.minX, b.minX) + 1
	return 3*overlap < min(a.width(), b.width())
}

// grow puts parts of one level on a stack. Where they are two objects side by side, the stack was two all along.
func (b *builder) grow(s *stack, level int, parts []*part) {
	if left, right, ok := b.fork(s, parts); ok {
		other := b.split(s, (left.maxX+right.minX)/2)
		if other != nil {
			b.doubt(s.top, "looks like one column at the foot and like two above, and is taken for two")
			for _, p := range parts {
				if p.middleX <= (left.maxX+right.minX)/2 {
					s.put(level, p)
				} else {
					other.put(level, p)
				}
			}
			return
		}
	}
	s.put(level, parts...)
}

// fork finds two objects side by side among parts that stand on one stack.
func (b *builder) fork(s *stack, parts []*part) (left, right *part, ok bool) {
	for i, p := range parts {
		for _, q := range parts[i+1:] {
			if p.middleX > q.middleX {
				p, q = q, p
			}
			both := max(p.maxX, q.maxX) - min(p.minX, q.minX) + 1
			wide := 20*both > 29*b.usual.width && 20*s.top.width() > 27*b.usual.width
			if wide && min(p.radius, q.radius) > 0.45*b.usual.radius && apart(objectOf([]*part{p}), objectOf([]*part{q})) {
				return p, q, true
			}
		}
	}
	return nil, nil, false
}

// place finds a place for a part that stands on nothing. The other half of an object belongs to its stack, and so does a
// mirror image. Something slight next to a stack is left alone: it is a shadow mostly, and goes to whom it is nearest to
// in the end. What stands by itself begins a stack.
func (b *builder) place(p *part) {
	var best *stack
	least := max(b.usual.width/4, 2)
	for _, s := range b.stacks {
		for _, q := range s.parts() {
			dx, dy := max(p.minX-q.maxX, q.minX-p.maxX, 0), max(p.minY-q.maxY, q.minY-p.maxY, 0)
			d := max(dx, dy)
			if b.slight(p) && d <= max(b.usual.width/8, 2) {
				return
			}
			overlap := min(p.maxX, q.maxX) - max(p.minX, q.minX) + 1
			same := 5*overlap > 3*max(p.width(), q.width())
			if d <= least && (same || p.level > 1 && b.slight(p)) {
				best, least = s, d
			}
		}
	}
	if best != nil {
		best.attach(p)
		return
	}
	s := newStack(b.top)
	s.put(p.level, p)
	s.late = p.level > 1
	b.stacks = append(b.stacks, s)
}

// slight is whether a part is much thinner than an object usually is.
func (b *builder) slight(p *part) bool { return p.radius < 0.5*b.usual.radius }

// doubt keeps a decision that may be wrong, with its place in photo pixels.
func (b *builder) doubt(at *object, what string) {
	line := fmt.Sprintf("around %s: %s; look at the picture, and give --columns if it is wrong", at.place(b.scale), what)
	if !slices.Contains(b.doubts, line) {
		b.doubts = append(b.doubts, line)
	}
}

// place is the middle of an object in photo pixels.
func (o *object) place(scale int) string {
	return fmt.Sprintf("(%d, %d)", (o.minX+o.maxX+1)*scale/2, (o.minY+o.maxY+1)*scale/2)
}
