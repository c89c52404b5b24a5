package strip

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// cost is the sum of counts x lengths.
func cost(counts []uint32, lengths []uint8) uint64 {
	sum := uint64(0)
	for i, n := range lengths {
		sum += uint64(counts[i]) * uint64(n)
	}
	return sum
}

// filling is the share of all codes of limit bits that a code with these lengths takes: 1<<limit for a complete one.
// More means that it is over-subscribed, less that it is incomplete.
func filling(lengths []uint8, limit int) int {
	sum := 0
	for _, n := range lengths {
		sum += 1 << limit >> n
	}
	return sum
}

// cheapest is the least cost of a complete code, by trying all: the slow twin of codeLengths.
func cheapest(counts []uint32, limit int) uint64 {
	best := uint64(math.MaxUint64)
	var try func(i, left int, sum uint64)
	try = func(i, left int, sum uint64) {
		if i == len(counts) {
			if left == 0 {
				best = min(best, sum)
			}
			return
		}
		for n := 1; n <= limit; n++ {
			if room := 1 << limit >> n; room <= left {
				try(i+1, left-room, sum+uint64(counts[i])*uint64(n))
			}
		}
	}
	try(0, 1<<limit, 0)
	return best
}

func TestCodeLengthsAreTheCheapestWithinTheLimit(t *testing.T) {
	random := rand.New(rand.NewPCG(21, 22))
	for range 300 {
		limit := 3 + random.IntN(2)
		counts := make([]uint32, 2+random.IntN(5))
		for i := range counts {
			counts[i] = 1 + uint32(math.Exp(8*random.Float64()))
		}
		lengths := codeLengths(counts, limit)
		if got, want := cost(counts, lengths), cheapest(counts, limit); got != want || filling(lengths, limit) != 1<<limit {
			t.Errorf("counts %v, limit %d: lengths %v cost %d, the cheapest complete code %d", counts, limit, lengths, got, want)
		}
	}
}

// Counts that grow like Fibonacci's numbers make the deepest codes of all.
func TestTheLongestCodesAreLimited(t *testing.T) {
	for _, test := range []struct{ symbols, limit int }{{30, maxBits}, {286, maxBits}, {19, maxLengthBits}, {2, 1}, {128, 7}} {
		counts := make([]uint32, test.symbols)
		a, b := uint32(1), uint32(1)
		for i := range counts {
			counts[i] = a
			if b < 1<<30 {
				a, b = b, a+b
			}
		}
		lengths := codeLengths(counts, test.limit)
		if longest := int(slices.Max(lengths)); longest != test.limit {
			t.Errorf("%d symbols: longest code has %d bits, limit %d", test.symbols, longest, test.limit)
		}
		if got := filling(lengths, test.limit); got != 1<<test.limit {
			t.Errorf("%d symbols within %d bits: code fills %d of %d", test.symbols, test.limit, got, 1<<test.limit)
		}
	}
}

func TestRarerSymbolsHaveNoShorterCodesAndTiesKeepTheirOrder(t *testing.T) {
	lengths := codeLengths([]uint32{5, 5, 5, 1, 1, 9}, maxBits)
	if want := []uint8{3, 2, 2, 4, 4, 2}; !slices.Equal(lengths, want) {
		t.Errorf("lengths are %v, want %v", lengths, want)
	}
}

// The example of RFC 1951, section 3.2.2 (from memory): symbols A to H of 3, 3, 3, 3, 3, 2, 4, 4 bits have the codes
// 010, 011, 100, 101, 110, 00, 1110, 1111.
func TestCanonicalCodesAreThoseOfTheStandardsExample(t *testing.T) {
	want := []word{
		newWord(0b010, 3), newWord(0b110, 3), newWord(0b001, 3), newWord(0b101, 3), newWord(0b011, 3),
		newWord(0b00, 2), newWord(0b0111, 4), newWord(0b1111, 4), // first bit lowest
	}
	if got := canonical([]uint8{3, 3, 3, 3, 3, 2, 4, 4}); !slices.Equal(got, want) {
		t.Errorf("codes are %x, want %x", got, want)
	}
}

func TestEveryTableIsCompleteAndCanWriteEverything(t *testing.T) {
	random := rand.New(rand.NewPCG(23, 24))
	for range 40 {
		var c counts
		for range random.IntN(300) {
			c.symbols[random.IntN(symbols)] = random.Uint32() >> random.IntN(32)
			c.distances[random.IntN(distances)] = random.Uint32() >> random.IntN(32)
		}
		table := newTable(&c)
		lengths := table.described
		if slices.Min(lengths) < 1 || slices.Max(lengths) > maxBits {
			t.Fatalf("codes of %d to %d bits, want 1 to %d", slices.Min(lengths), slices.Max(lengths), maxBits)
		}
		for _, part := range [][]uint8{lengths[:symbols], lengths[symbols:]} {
			if got := filling(part, maxBits); got != 1<<maxBits {
				t.Errorf("a code of %d symbols fills %d of %d", len(part), got, 1<<maxBits)
			}
		}
	}
}

func TestRepeatedLengthsReadBack(t *testing.T) {
	random := rand.New(rand.NewPCG(25, 26))
	for range 200 {
		var lengths []uint8
		for len(lengths) < 316 {
			n := uint8(1 + random.IntN(15))
			for range 1 + random.IntN(20) {
				lengths = append(lengths, n)
			}
		}
		var read []uint8
		for _, r := range repeated(lengths) {
			if r.symbol < 16 {
				read = append(read, r.symbol)
				continue
			}
			for range 3 + r.extra {
				read = append(read, read[len(read)-1])
			}
		}
		if !slices.Equal(read, lengths) {
			t.Fatalf("%v read back as %v", lengths, read)
		}
	}
}
