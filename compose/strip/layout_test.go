package strip

import (
	"context"
	"math/rand/v2"
	"slices"
	"testing"

	"colonnade/compose/picture"
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

// Bytes are in one extent each, of a set with all columns that they depend on, whatever texture is said to be where. Leads
// are static, and no extent of the same part reaches into them.
func TestExtentsHoldEveryByteOnceAndLeadsAreStatic(t *testing.T) {
	random := rand.New(rand.NewPCG(45, 46))
	led := map[bool]int{} // bytes, of drawn bands and of others
	for range 200 {
		s := randomStage(random)
		c := s.coder(t, Options{Workers: 1}).full
		textures := make([]texture, (s.Base.Height+bandRows-1)/bandRows)
		for i := range textures {
			textures[i] = texture(random.IntN(3))
		}
		differ, err := c.compare(context.Background(), textures, s.Base, picture.Readers(s.Photos))
		if err != nil {
			t.Fatal(err)
		}
		l := newLayout(s.Base.Width, s.Base.Height, s.Masks, differ)
		sets := newSets()
		touched := newTouch(s.Base.Width, s.Masks, differ, sets)
		y := 0
		for _, band := range l.bands {
			var needs []int32 // by byte: the set that it depends on
			for ; y < band.top+band.rows; y++ {
				needs = append(needs, static)
				for _, run := range touched.next(y) {
					for len(needs)%l.stride != (3*run.end+1)%l.stride {
						needs = append(needs, run.set)
					}
				}
			}
			at, taken, ends := int32(0), make([]int, len(band.parts)), make([]int32, len(band.parts))
			for _, nth := range band.order {
				part := &band.parts[nth]
				e := part.extents[taken[nth]]
				taken[nth]++
				if e.from != at || e.to < e.from {
					t.Fatalf("extent %v follows byte %d", e, at)
				}
				most := int32(leads)
				if band.drawn() {
					most = leadsFlat
				}
				if e.lead < 0 || e.lead > most || e.lead > 0 && e.from-e.lead < ends[nth] {
					t.Fatalf("extent %v leads into one that ends at %d", e, ends[nth])
				}
				led[band.drawn()] += int(e.lead)
				for k := e.from - e.lead; k < e.to; k++ {
					for _, column := range sets.members[needs[k]] {
						if k < e.from || !slices.Contains(l.sets.members[part.set], column) {
							t.Fatalf("byte %d of extent %v depends on column %d, its part on %v", k, e, column, l.sets.members[part.set])
						}
					}
				}
				at, ends[nth] = e.to, e.to
			}
			if int(at) != band.rows*l.stride {
				t.Fatalf("%d rows of %d bytes end at %d", band.rows, l.stride, at)
			}
		}
		if y != s.Base.Height {
			t.Fatalf("bands end at row %d of %d", y, s.Base.Height)
		}
	}
	if led[true] < 2000 || led[false] < 1000 {
		t.Errorf("only %d bytes led extents of drawn bands, %d of others", led[true], led[false])
	}
}
