package mark

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// photoDoubts names photos whose light is far from the stage's, which is evened out here and not in the video, and photos
// that differ from it almost everywhere.
func photoDoubts(changes []*change) []string {
	const far = 0.1 // stops; about 7 %, plain to see where regions end
	var lines []string
	for level, c := range changes {
		if c == nil {
			continue
		}
		changed := 0
		for _, g := range c.grades {
			if g >= shade {
				changed++
			}
		}
		if 2*changed > len(c.grades) {
			lines = append(lines, fmt.Sprintf("photo of level %d: %d %% of it differs from the empty stage; see whether the camera moved", level, 100*changed/len(c.grades)))
			continue
		}
		stops := math.Log2((c.gains[0].mid + c.gains[1].mid + c.gains[2].mid) / 3)
		if rounded := math.Round(stops*100) / 100; math.Abs(rounded) >= far {
			word := "brighter"
			if rounded < 0 {
				word = "darker"
			}
			lines = append(lines, fmt.Sprintf("photo of level %d: %.2f stops %s than the empty stage, which will show; see what check says of it", level, math.Abs(rounded), word))
		}
	}
	return lines
}

// grows is whether a level adds something to the stack that is worth the name: a sixth of what its levels usually add.
func (s *stack) grows(level int) bool {
	var areas []int
	at := 0
	for k, parts := range s.levels {
		if len(parts) == 0 {
			continue
		}
		area := objectOf(parts).area
		areas = append(areas, area)
		if k == level {
			at = area
		}
	}
	if at == 0 {
		return false
	}
	slices.Sort(areas)
	return 6*at >= areas[len(areas)/2]
}

// highest is the last level at which the stack grows.
func (s *stack) highest() int {
	for level := len(s.levels) - 1; level > 0; level-- {
		if s.grows(level) {
			return level
		}
	}
	return 1
}

// stillLevels is the levels between the first and the highest of two columns or more at which none of them grows. One stack
// may lack an object or hide it; that all do is a photo's doing: it shows what another one showed, or has changed places.
func (out *outcome) stillLevels() map[int]bool {
	reach, grown := map[int]int{}, map[int]bool{}
	for _, s := range out.stacks {
		for level := 1; level <= s.highest(); level++ {
			reach[level]++
			if s.grows(level) {
				grown[level] = true
			}
		}
	}
	still := map[int]bool{}
	for level, n := range reach {
		still[level] = n > 1 && !grown[level]
	}
	return still
}

// backward is whether every column of two levels or more begins above where it ends: stacks grow upward, so that the photos seem to
// run from the full stage to the empty one.
func (out *outcome) backward() bool {
	some := false
	for _, s := range out.stacks {
		first, last := 1, s.highest()
		for first < last && !s.grows(first) {
			first++
		}
		if first == last {
			continue
		}
		a, b := objectOf(s.levels[first]), objectOf(s.levels[last])
		if b.minY+b.maxY-a.minY-a.maxY < a.height() { // by less than half an object
			return false
		}
		some = true
	}
	return some
}

// stackDoubts tells what is odd about single columns, by the numbers they have in the end.
func (f *Found) stackDoubts(out *outcome, t *territory) []string {
	var lines []string
	say := func(n int, format string, args ...any) {
		lines = append(lines, fmt.Sprintf("column %d: ", n+1)+fmt.Sprintf(format, args...))
	}
	if out.backward() {
		lines = append(lines, "the photos seem to run from the full stage to the empty one: what is new in each lies lower than before; number them the other way round, so that photo 0 is the empty stage")
	}
	everywhere := out.stillLevels()
	for level := range f.Top {
		if everywhere[level] {
			lines = append(lines, fmt.Sprintf("photo of level %d: nothing is added to any column; see what check says of the photos' order", level))
		}
	}
	for n, s := range out.stacks {
		first, top := 1, s.highest()
		for !s.grows(first) && first < top {
			first++
		}
		if first > 1 {
			say(n, "nothing is seen of it below level %d; see whether its first objects look like what is behind them", first)
		}
		var missing []string
		for level := first + 1; level < top; level++ {
			if !s.grows(level) && !everywhere[level] {
				missing = append(missing, fmt.Sprint(level))
			}
		}
		if len(missing) > 0 {
			say(n, "nothing is added at level %s; see whether the photo lacks an object or it looks like what is behind it", strings.Join(missing, ", "))
		}
		if top < f.Top {
			say(n, "it ends at level %d of %d, so its top is set; take the line out if it goes on", top, f.Top)
		}
		box := s.bounds()
		if box.minX == 0 || box.minY == 0 || box.maxX == t.width-1 || box.maxY == t.height-1 {
			say(n, "it reaches the edge of the photo; move the camera if it is cut off")
		}
		if 2*t.cut[n] > out.usual.width {
			say(n, "what changes around it reaches further than its region; see whether a shadow is cut")
		}
	}
	return lines
}

// strayDoubts tells of the largest changes that were taken for no column.
func (f *Found) strayDoubts(out *outcome) []string {
	const most = 3
	strays := slices.Clone(out.strays)
	slices.SortStableFunc(strays, func(s, t *stack) int { return t.area() - s.area() })
	var lines []string
	for i, s := range strays {
		if 20*s.area() < out.usual.area {
			break
		}
		if i == most {
			lines = append(lines, fmt.Sprintf("%d more changes are taken for no column", len(strays)-most))
			break
		}
		box := s.bounds()
		lines = append(lines, fmt.Sprintf("around %s: something %d x %d pixels large comes at level %d and is taken for no column; give --columns %d if it is one",
			box.place(f.Reduction), box.width()*f.Reduction, box.height()*f.Reduction, s.foot().level, len(out.stacks)+1))
	}
	return lines
}
