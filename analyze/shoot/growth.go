package shoot

import (
	"image"
	"sort"
)

const (
	// leastGrowth is the least share of a column's usual growth that is a growth; less is a shadow of what grew elsewhere.
	leastGrowth = 0.1
	// leastGrown is the fewest reduced pixels that count as something new.
	leastGrown = 6
	// lost is the share of a column that may look as the empty stage again at the next level before it has shrunk.
	lost = 0.15
	// contact is which part of an object's height, below the top of a stack, may change when another is put on it:
	// the foot of the new one and its shadow.
	contact = 0.6
	// leastDetail is by how many 8-bit steps the detail must change: reflections in polished wood come to less.
	leastDetail = 6
	// leastMoved is the share of an object's pixels that must change in their detail, below the contact, for the object
	// to have moved.
	leastMoved = 0.04
)

// Step is what has happened in a column from one level to the next.
type Step struct {
	Grown  int  // reduced pixels that have changed
	Grows  bool // something new is there
	Shrunk bool // much of what was there is gone
	Moved  bool // what stood below has moved
	Where  Area // what has moved, in photo pixels
	top    int  // the row of the stack's top, in reduced pixels
	rise   int  // by how many reduced pixels the top has risen
}

// steps follows a column through photos in level order; the first is the empty stage. The step to level k is at k-1.
func (b *Base) steps(column int, shots []*Shot) []Step {
	out := make([]Step, len(shots)-1)
	inside := b.inside(column)
	before, beforeTop := []uint8(nil), -1
	beforeCount := 0
	for k := 1; k < len(shots); k++ {
		s := &out[k-1]
		now := b.changed(shots[0], shots[k])
		stack := b.stackOf(now, inside)
		fresh := b.changed(shots[k-1], shots[k])
		s.Grown = counted(fresh, inside)
		s.top = stack.top
		if k == 1 {
			s.rise = stack.bottom - stack.top
		} else if beforeTop >= 0 && stack.top >= 0 {
			s.rise = beforeTop - stack.top
		}
		if k > 1 {
			gone := 0
			for _, i := range inside {
				gone += int(before[i] &^ now[i] & fresh[i])
			}
			s.Shrunk = gone >= leastGrown && float64(gone) > lost*float64(beforeCount)
		}
		if k > 1 && beforeTop >= 0 {
			b.lookBelow(s, shots[k-1], shots[k], before, inside, beforeTop, k-1)
		}
		before, beforeTop, beforeCount = now, stack.top, stack.count
	}
	var sizes []int
	for _, s := range out {
		sizes = append(sizes, s.Grown)
	}
	sort.Ints(sizes)
	usual := sizes[len(sizes)/2]
	for k := range out {
		out[k].Grows = out[k].Grown >= leastGrown && float64(out[k].Grown) >= leastGrowth*float64(usual)
	}
	return out
}

// inside lists a column's pixels: those of which it shows half or more.
func (b *Base) inside(column int) []int {
	mask := b.masks[column]
	var out []int
	for y := mask.Rect.Min.Y; y < mask.Rect.Max.Y; y++ {
		for i, alpha := range mask.Row(y) {
			if alpha >= 1<<15 {
				out = append(out, y*b.reduced.width+mask.Rect.Min.X+i)
			}
		}
	}
	return out
}

func counted(marks []uint8, inside []int) int {
	n := 0
	for _, i := range inside {
		n += int(marks[i])
	}
	return n
}

// stack is what stands in a column: the rows of its top and its bottom, -1 for none, and its pixels.
type stack struct{ top, bottom, count int }

func (b *Base) stackOf(marks []uint8, inside []int) stack {
	rows := make(map[int]int)
	widest := 0
	s := stack{top: -1, bottom: -1}
	for _, i := range inside {
		if marks[i] != 0 {
			s.count++
			y := i / b.reduced.width
			rows[y]++
			widest = max(widest, rows[y])
		}
	}
	for y := range b.reduced.height {
		// A row of few pixels is noise, or the rim of a shadow.
		if 6*rows[y] >= widest && rows[y] > 1 {
			if s.top < 0 {
				s.top = y
			}
			s.bottom = y + 1
		}
	}
	return s
}

// lookBelow tells whether what stood at the level before has moved: whether its detail has changed below the part
// where the new object touches it. Soft shadows change the brightness and leave the detail. objects is how many
// stood there.
func (b *Base) lookBelow(s *Step, before, after *Shot, stood []uint8, inside []int, top, objects int) {
	width := b.reduced.width
	was := b.stackOf(stood, inside)
	high := (was.bottom - was.top) / objects
	from := top + int(contact*float64(high)) + 1
	limit := max(before.lumaLimit, after.lumaLimit, leastDetail*codeUnit)
	doubt := max(before.doubt(), after.doubt())
	box := Area{}
	for _, i := range inside {
		box = box.Union(image.Rect(i%width, i/width, i%width+1, i/width+1))
	}
	if from >= box.Max.Y {
		return
	}
	box.Min.Y = from
	w, h := box.Dx(), box.Dy()
	apart := make([]int32, w*h)
	for y := range h {
		for x := range w {
			i := (box.Min.Y+y)*width + box.Min.X + x
			apart[y*w+x] = after.codes.luma(i) - before.codes.luma(i)
		}
	}
	radius := max(high/6, 2)
	ones := make([]int32, w*h)
	for i := range ones {
		ones[i] = 1
	}
	sums, counts := boxSums(apart, w, h, radius), boxSums(ones, w, h, radius)
	moved, area := 0, Area{}
	own := make(map[int]bool, len(inside))
	for _, i := range inside {
		own[i] = true
	}
	for y := range h {
		for x := range w {
			at := y*w + x
			i := (box.Min.Y+y)*width + box.Min.X + x
			detail := apart[at] - int32(sums[at]/counts[at])
			if own[i] && max(detail, -detail) > limit+max(before.slopes[i], after.slopes[i])*doubt/32 {
				moved++
				area = area.Union(image.Rect(i%width, i/width, i%width+1, i/width+1))
			}
		}
	}
	size := float64(was.count) / float64(objects)
	if moved >= leastGrown && float64(moved) >= leastMoved*size {
		s.Moved, s.Where = true, b.bounds(area)
	}
}
