package strip

import (
	"math/bits"
	"slices"
)

// codeLengths gives each symbol a length of at most limit bits so that the sum of counts x lengths is the least
// that a complete prefix code can have. Every count is at least 1, and there are 2 to 2^limit of them.
//
// It is the package-merge algorithm (Larmore and Hirschberg, A fast algorithm for optimal length-limited Huffman
// codes, Journal of the ACM 37(3), 1990). Equal counts keep the order of their symbols.
func codeLengths(counts []uint32, limit int) []uint8 {
	symbols := make([]uint64, len(counts)) // rarest first, below their counts
	for i, n := range counts {
		symbols[i] = uint64(n)<<32 | uint64(i)
	}
	slices.Sort(symbols)

	// One list for each bit of length, from the deepest: the symbols, merged with the pairs of the list before.
	lists := make([][]item, limit)
	room := make([]item, 0, len(symbols))
	for depth := range lists {
		pairs := room
		if depth > 0 {
			before := lists[depth-1]
			for i := 0; i+1 < len(before); i += 2 {
				pairs = append(pairs, item{weight: before[i].weight + before[i+1].weight, pair: true})
			}
		}
		list := make([]item, 0, len(symbols)+len(pairs))
		for _, s := range symbols {
			weight := s >> 32
			for len(pairs) > 0 && pairs[0].weight < weight {
				list, pairs = append(list, pairs[0]), pairs[1:]
			}
			list = append(list, item{weight: weight})
		}
		lists[depth] = append(list, pairs...)
	}

	// The cheapest 2n-2 items of the last list make the code; a pair among them takes two of the list before.
	// A symbol is as many bits long as it has been taken times, and the rarest are taken first.
	lengths := make([]uint8, len(counts))
	take := 2*len(counts) - 2
	for depth := limit - 1; depth >= 0; depth-- {
		pairs := 0
		for _, it := range lists[depth][:take] {
			if it.pair {
				pairs++
			}
		}
		for _, s := range symbols[:take-pairs] {
			lengths[uint32(s)]++
		}
		take = 2 * pairs
	}
	return lengths
}

// item is a symbol or a pair of items of the list before.
type item struct {
	weight uint64
	pair   bool
}

// canonical gives out the codes for lengths in the order that RFC 1951, section 3.2.2 lays down.
func canonical(lengths []uint8) []word {
	var count [maxBits + 1]uint16
	for _, n := range lengths {
		count[n]++
	}
	count[0] = 0
	var next [maxBits + 2]uint16
	for n := 1; n <= maxBits; n++ {
		next[n+1] = (next[n] + count[n]) << 1
	}
	codes := make([]word, len(lengths))
	for s, n := range lengths {
		if n > 0 {
			codes[s] = newWord(uint32(bits.Reverse16(next[n])>>(16-n)), n)
			next[n]++
		}
	}
	return codes
}
