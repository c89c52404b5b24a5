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
	// leastSlope is the least slope, in codeUnit steps a reduced pixel, at which there is detail, and leastEdges are how many pixels
	// must have it for its amount to be compared.
	leastSlope, leastEdges = 4 * codeUnit, 40
	// denseReach is how far around a pixel others are counted: half of them must have changed as well, or it is noise. What
	// JPEG does to a block of detail lies scattered, objects do not.
	denseReach = 2
	// leastPart is the part of a stack's largest piece, one in so many, that another piece of it has at the least.
	leastPart = 10
)

// levelStep is what has happened in a column from one level to the next.
type levelStep struct {
	Grown  int     // reduced pixels that have changed
	Grows  bool    // something new is there
	Shrunk bool    // much of what was there is gone
	Fell   bool    // much of what was there two levels below is gone
	Moved  bool    // what stood below has moved
	Little bool    // little more of it than must be for it to count
	Where  area    // what has moved, in photo pixels
	top    int     // the row of the stack's top, in reduced pixels
	rise   int     // by how many reduced pixels the top has risen
	detail float64 // of what stood below, against the level before; 0 where there is none to compare
}

// steps follows a column through photos in level order; the first is the empty stage. The step to level k is at k-1.
func (b *Base) steps(column int, shots []*Shot) []levelStep {
	out := make([]levelStep, len(shots)-1)
	inside := b.inside(column)
	before, beforeTop := []uint8(nil), -1
	earlier := make([]uint8, len(b.still)) // as before, one level below it
	beforeCount := 0
	for k := 1; k < len(shots); k++ {
		s := &out[k-1]
		now := b.dense(b.changed(shots[0], shots[k]))
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
			gone, fallen := 0, 0
			for _, i := range inside {
				v := before[i] &^ now[i] & fresh[i]
				gone, fallen = gone+int(v), fallen+int(v&earlier[i])
			}
			s.Shrunk = gone >= leastGrown && float64(gone) > lost*float64(beforeCount)
			s.Fell = fallen >= leastGrown && float64(fallen) > lost*float64(beforeCount)
		}
		if k > 1 && beforeTop >= 0 {
			b.lookBelow(s, shots[k-1], shots[k], before, now, inside, beforeTop, k-1)
		}
		if k > 1 {
			earlier = before
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

// dense leaves of the marks those around which more than half is marked.
func (b *Base) dense(marks []uint8) []uint8 {
	wide := make([]int32, len(marks))
	for i, v := range marks {
		wide[i] = int32(v)
	}
	out := make([]uint8, len(marks))
	for i, n := range boxSums(wide, b.reduced.width, b.reduced.height, denseReach) {
		if 2*n > (2*denseReach+1)*(2*denseReach+1) {
			out[i] = 1
		}
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
	rows := make([]int, b.reduced.height+1)
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
	var runs []stack // of rows beside each other
	run, largest := stack{top: -1}, 0
	for y, n := range rows {
		// A row of few pixels is noise, or the rim of a shadow.
		if 6*n >= widest && n > 1 {
			if run.top < 0 {
				run.top = y
			}
			run.bottom, run.count = y+1, run.count+n
		} else if run.top >= 0 {
			runs, largest = append(runs, run), max(largest, run.count)
			run = stack{top: -1}
		}
	}
	for _, run := range runs {
		// A stack may have a gap, where an object looks like the stage. What is small is none of its parts.
		if leastPart*run.count >= largest {
			if s.top < 0 {
				s.top = run.top
			}
			s.bottom = run.bottom
		}
	}
	return s
}

// lookBelow tells whether what stood at the level before has moved: whether its detail has changed below the part
// where the new object touches it. Soft shadows change the brightness and leave the detail. objects is how many
// stood there.
func (b *Base) lookBelow(s *levelStep, before, after *Shot, stood, stands []uint8, inside []int, top, objects int) {
	width := b.reduced.width
	was := b.stackOf(stood, inside)
	high := (was.bottom - was.top) / objects
	from := top + int(contact*float64(high)) + 1
	limit := max(before.lumaLimit, after.lumaLimit, leastDetail*codeUnit)
	doubt := max(before.doubt(), after.doubt())
	box := area{}
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
	moved, area := 0, image.Rectangle{}
	var slopesWere, slopesAre, edges int64 // sums of squares of the slopes, and how many there are
	own := make(map[int]bool, len(inside))
	for _, i := range inside {
		own[i] = true
	}
	for y := range h {
		for x := range w {
			at := y*w + x
			i := (box.Min.Y+y)*width + box.Min.X + x
			// Where something is gone its detail is, too.
			if slope := max(before.slopes[i], after.slopes[i]); own[i] && slope >= leastSlope && stood[i]&^stands[i] == 0 {
				slopesWere += int64(before.slopes[i]) * int64(before.slopes[i])
				slopesAre += int64(after.slopes[i]) * int64(after.slopes[i])
				edges++
			}
			detail := apart[at] - int32(sums[at]/counts[at])
			if own[i] && before.white[i]|after.white[i] == 0 && max(detail, -detail) > limit+max(before.slopes[i], after.slopes[i])*doubt/32 {
				moved++
				area = area.Union(image.Rect(i%width, i/width, i%width+1, i/width+1))
			}
		}
	}
	if edges >= leastEdges && slopesWere > 0 {
		s.detail = rounded(squareRoot(float64(slopesAre)/float64(slopesWere)), 1000)
	}
	size := float64(was.count) / float64(objects)
	if moved >= leastGrown && float64(moved) >= leastMoved*size {
		s.Moved, s.Where = true, b.bounds(area)
		s.Little = float64(moved) < 3*leastMoved*size
	}
}
