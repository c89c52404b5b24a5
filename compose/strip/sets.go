package strip

import (
	"cmp"
	"encoding/binary"
	"slices"

	"colonnade/masks"
)

// sets gives every set of columns that occurs a number, so that a set can be compared and stored as one. Set 0
// is the empty set: what depends on no column, the static part of a frame.
type sets struct {
	members [][]int // columns of each set, rising
	numbers map[string]int32
	unions  map[[2]int32]int32
}

const static = 0

func newSets() *sets {
	s := &sets{numbers: map[string]int32{}, unions: map[[2]int32]int32{}}
	s.number(nil)
	return s
}

// number is the number of the set of these columns, which rise.
func (s *sets) number(columns []int) int32 {
	var key []byte
	for _, column := range columns {
		key = binary.LittleEndian.AppendUint32(key, uint32(column))
	}
	if n, ok := s.numbers[string(key)]; ok {
		return n
	}
	n := int32(len(s.members))
	s.numbers[string(key)] = n
	s.members = append(s.members, columns)
	return n
}

// union is the number of the set of all columns that are in a or in b.
func (s *sets) union(a, b int32) int32 {
	if a == b || b == static {
		return a
	}
	if a == static {
		return b
	}
	if n, ok := s.unions[[2]int32{a, b}]; ok {
		return n
	}
	columns := slices.Concat(s.members[a], s.members[b])
	slices.Sort(columns)
	n := s.number(slices.Compact(columns))
	s.unions[[2]int32{a, b}] = n
	return n
}

// Columns that lie side by side within narrow bytes of a row are coded together in flat bands, as long as they have no more
// than manyStates states among them. What costs there is the ends of extents (divide), of which they then have one in common.
const (
	narrow     = 2 * longest
	manyStates = 1024
)

// alone is the set of each of n columns by itself.
func (s *sets) alone(n int) []int32 {
	of := make([]int32, n)
	for i := range of {
		of[i] = s.number([]int{i})
	}
	return of
}

// together is the set of each column and its neighbours that are coded with it in flat bands.
func (s *sets) together(columns []*masks.Mask, photos int) []int32 {
	order := make([]int, len(columns))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(columns[a].Rect.Min.X, columns[b].Rect.Min.X) })
	of := make([]int32, len(columns))
	for len(order) > 0 {
		n, states := 1, photos
		for n < len(order) && states*photos <= manyStates &&
			3*(columns[order[n]].Rect.Max.X-columns[order[0]].Rect.Min.X) <= narrow {
			n++
			states *= photos
		}
		group := slices.Sorted(slices.Values(order[:n]))
		for _, column := range group {
			of[column] = s.number(group)
		}
		order = order[n:]
	}
	return of
}
