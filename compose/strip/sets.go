package strip

import (
	"encoding/binary"
	"slices"
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
