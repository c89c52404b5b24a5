package strip

import (
	"math/rand/v2"
	"testing"
)

// An extent whose bytes are alike from where a match may begin is coded without a rest, if the gap allows it.
func TestExtentsOfDrawingsEndWhereNothingIsLeft(t *testing.T) {
	random := rand.New(rand.NewPCG(43, 44))
	whole, short, rows := 0, 0, 0
	for range 10_000 {
		s := segments{stride: int32(1 + 3*(1+random.IntN(1000)))}
		before := extent{from: random.Int32N(5000), lead: random.Int32N(near + 1)}
		before.to = before.from + 4 + random.Int32N(1000)
		gap := extent{from: before.to, to: before.to + 1 + random.Int32N(600)}
		if gap.to%s.stride == 0 {
			continue // a pixel follows, and a filter's number stands before each
		}
		end := s.divide(before, gap)
		if end < gap.from || end > gap.to {
			t.Fatalf("extent %v, gap %v: the one is said to end at %d, outside the other", before, gap, end)
		}
		// What follows the last filter's number before the gap, and one byte to be repeated, is alike.
		alike := before.from
		if before.lead == 0 {
			alike++
		}
		row := int32(-1)
		for at := before.from; at < gap.to; at++ {
			if at%s.stride != 0 {
				continue
			}
			if at >= gap.from {
				row = at
			} else {
				alike = at + 2
			}
		}
		if row >= 0 {
			rows++
			if end != row {
				t.Fatalf("rows of %d: extent %v, gap %v: the one ends at %d, the row at %d", s.stride, before, gap, end, row)
			}
			continue
		}
		possible := false
		for at := gap.from + near; at <= gap.to; at++ {
			possible = possible || (at-alike)%longest == 0
		}
		switch left := (end - alike) % longest; {
		case possible && left != 0:
			t.Fatalf("rows of %d: extent %v, gap %v: %d bytes are left before %d, and need not be", s.stride, before, gap, left, end)
		case possible:
			whole++
		default:
			short++
			if end != min(gap.from+near, gap.to) {
				t.Fatalf("rows of %d: extent %v, gap %v: %d bytes are left before %d, fewer would do", s.stride, before, gap, left, end)
			}
		}
	}
	if min(whole, short, rows) < 500 {
		t.Errorf("tried %d extents with nothing left, %d with a rest, %d at a row's end", whole, short, rows)
	}
}
