package strip

import (
	"image"
	"math/rand/v2"
	"slices"
	"testing"

	"colonnade/masks"
)

// The slow twin of touch: of each pixel by itself, the columns that show there, and the union over the four pixels that a
// filter may read, unless nothing changes from the row above.
func TestRunsAreThoseOfEachPixelByItself(t *testing.T) {
	random := rand.New(rand.NewPCG(41, 42))
	steady := 0 // rows whose runs are kept
	for range 200 {
		width, height := 1+random.IntN(90), 1+random.IntN(9)
		repeat := random.IntN(3) > 0 // most rows are what the one above is
		var columns []*masks.Mask
		for range random.IntN(5) {
			x, y := random.IntN(width), random.IntN(height)
			m := &masks.Mask{Rect: image.Rect(x, y, x+1+random.IntN(width-x), y+1+random.IntN(height-y))}
			for y := range m.Rect.Dy() {
				if y > 0 && repeat && random.IntN(4) > 0 {
					m.Alpha = append(m.Alpha, m.Alpha[len(m.Alpha)-m.Rect.Dx():]...)
					continue
				}
				for range m.Rect.Dx() {
					m.Alpha = append(m.Alpha, []uint16{0, 1, masks.Full, masks.Full}[random.IntN(4)])
				}
			}
			columns = append(columns, m)
		}
		differ := newDifferences(width, height, []texture{texture(random.IntN(3))})
		for i := range differ.fromBase {
			differ.fromBase[i] = random.Uint64() | random.Uint64()
			if repeat && i >= differ.words && random.IntN(6) > 0 {
				differ.fromBase[i] = differ.fromBase[i-differ.words]
			}
		}
		for i := range differ.fromAbove {
			differ.fromAbove[i] = random.Uint64() & random.Uint64()
		}
		marked := func(marks []uint64, x, y int) bool { return differ.row(marks, y)[x/64]>>(x%64)&1 != 0 }
		shown := func(x, y int) (of []int) {
			if x < 0 || y < 0 || !marked(differ.fromBase, x, y) {
				return nil
			}
			for i, m := range columns {
				if !image.Pt(x, y).In(m.Rect) {
					continue
				}
				switch alpha := m.Row(y)[x-m.Rect.Min.X]; alpha {
				case 0:
				case masks.Full:
					of = []int{i}
				default:
					of = append(of, i)
				}
			}
			return of
		}
		sets := newSets()
		touched := newTouch(width, columns, differ, sets)
		for y := range height {
			runs := touched.next(y)
			if touched.steady {
				steady++
			}
			if last := len(runs) - 1; last < 0 || runs[last].end != width {
				t.Fatalf("runs %v of a row of %d pixels", runs, width)
			}
			for x := range width {
				want := slices.Concat(shown(x, y), shown(x-1, y), shown(x, y-1), shown(x-1, y-1))
				slices.Sort(want)
				want = slices.Compact(want)
				if differ.upright(y) && !marked(differ.fromAbove, x, y) && (x == 0 || !marked(differ.fromAbove, x-1, y)) {
					want = nil
				}
				at := slices.IndexFunc(runs, func(r run) bool { return x < r.end })
				if got := sets.members[runs[at].set]; !slices.Equal(got, want) {
					t.Fatalf("pixel (%d, %d) depends on %v, wanted %v", x, y, got, want)
				}
			}
		}
	}
	if steady < 100 {
		t.Errorf("only %d rows were as those above", steady)
	}
}
