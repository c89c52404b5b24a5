package strip

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// The values are worked by hand from the PNG Recommendation, section 9.4.
func TestPaethPredictorBreaksTiesInOrder(t *testing.T) {
	for _, test := range [][4]uint8{
		{10, 20, 15, 15}, {10, 20, 10, 20}, {10, 20, 20, 10}, {255, 0, 128, 128}, {100, 50, 200, 50}, {1, 2, 3, 1}, {5, 5, 9, 5},
	} {
		if got := paeth(test[0], test[1], test[2]); got != test[3] {
			t.Errorf("predictor of left %d, above %d, above left %d is %d, want %d", test[0], test[1], test[2], got, test[3])
		}
	}
}

// The row 12 18 33 41 below 10 20 30 40, one byte a pixel, worked by hand from section 9.2. Here a pixel has three
// bytes, of which the first is looked at.
func TestFiltersOfARowWorkedByHand(t *testing.T) {
	spread := func(values ...uint8) []byte {
		out := make([]byte, 3)
		for _, v := range values {
			out = append(out, v, 0, 0)
		}
		return out
	}
	row, above := spread(12, 18, 33, 41), spread(10, 20, 30, 40)
	for kind, want := range [filters][]uint8{
		filterNone: {12, 18, 33, 41}, filterSub: {12, 6, 15, 8}, filterUp: {2, 254, 3, 1},
		filterAverage: {7, 2, 9, 5}, filterPaeth: {2, 254, 3, 1},
	} {
		got := make([]byte, 12)
		filter(kind, got, row, above, 0, 12)
		if first := []uint8{got[0], got[3], got[6], got[9]}; !slices.Equal(first, want) {
			t.Errorf("filter %d makes %v, want %v", kind, first, want)
		}
	}
}

// Bytes are filtered eight at once; the slow twin takes one after the other.
func TestPaethOfARowIsThatOfItsBytes(t *testing.T) {
	random := rand.New(rand.NewPCG(51, 52))
	for range 2000 {
		n := random.IntN(100)
		row, above := make([]byte, n+3), make([]byte, n+3)
		spread := 1 + random.IntN(256) // near values meet all the ties
		for i := range row {
			row[i], above[i] = uint8(random.IntN(spread)), uint8(random.IntN(spread))
		}
		from := random.IntN(n + 1)
		got := make([]byte, n-from)
		filter(filterPaeth, got, row, above, from, n)
		for i := range got {
			at := from + i + 3
			if want := row[at] - paeth(row[at-3], above[at], above[at-3]); got[i] != want {
				t.Fatalf("byte %d of %v below %v from %d on is %d, want %d", i, row, above, from, got[i], want)
			}
		}
	}
}

// oneByOne is the slow twin of join: bit by bit.
func oneByOne(out []byte, end int, strings [][]bool) int {
	for _, s := range strings {
		for _, bit := range s {
			out[end>>3] &^= 1 << (end & 7)
			if bit {
				out[end>>3] |= 1 << (end & 7)
			}
			end++
		}
	}
	return end
}

func TestJoinedStringsAreTheirBitsInTurn(t *testing.T) {
	random := rand.New(rand.NewPCG(41, 42))
	for range 400 {
		parts := 1 + random.IntN(4)
		writers, readers := make([]bitWriter, parts), make([]reader, parts)
		var order []int32
		var strings [][]bool
		for range random.IntN(12) {
			part := random.IntN(parts)
			length := random.IntN([...]int{1, 9, 70, 260, 1000, 4 * 8 * stride}[random.IntN(6)])
			if random.IntN(3) == 0 {
				length = length / 64 * 64 // whole words
			}
			var s []bool
			w := &writers[part]
			start := w.begin()
			for range length {
				bit := random.IntN(2)
				w.write(uint64(bit), 1)
				s = append(s, bit == 1)
			}
			if n := w.end(start); n != length {
				t.Fatalf("a string of %d bits is taken for one of %d", length, n)
			}
			order, strings = append(order, int32(part)), append(strings, s)
		}
		for i := range writers {
			data := writers[i].out
			for range stringPad {
				data = append(data, uint8(random.Uint32()))
			}
			readers[i] = reader{data: data}
		}
		begin := 8 + random.IntN(20)
		bits := begin
		for _, s := range strings {
			bits += len(s)
		}
		size := (bits+7)/8 + 1 + random.IntN(60) // what comes behind a frame's picture is more than one byte
		got, want := make([]byte, size), make([]byte, size)
		for i := range begin / 8 {
			got[i], want[i] = uint8(i+1), uint8(i+1)
		}
		if begin%8 > 0 {
			got[begin/8], want[begin/8] = 1, 1
		}
		middle := len(order) / 2
		end := join(got, join(got, begin, readers, order[:middle]), readers, order[middle:])
		got[end>>3] &= 1<<(end&7) - 1
		if wantEnd := oneByOne(want, begin, strings); end != wantEnd || !slices.Equal(got[:(end+7)/8], want[:(end+7)/8]) {
			t.Fatalf("%d strings from bit %d joined to bit %d, want %d; bytes\n%x, want\n%x", len(strings), begin, end, wantEnd, got, want)
		}
	}
}

func TestLogarithmsAreRoundedDown(t *testing.T) {
	for _, v := range []int64{1, 2, 3, 5, 255, 256, 1000, 65535, 1 << 40, math.MaxInt64} {
		got, want := float64(log2(v))/65536, math.Log2(float64(v))
		if got > want+1e-9 || got < want-1.0/65536-1e-9 {
			t.Errorf("the logarithm of %d is %v, want at most %v", v, got, want)
		}
	}
	if e := entropy([]uint32{0, 1000, 0}); e != 0 {
		t.Errorf("one symbol alone has entropy %d, want 0", e)
	}
	if e := entropy([]uint32{500, 0, 500}); e != 1000<<16 {
		t.Errorf("1000 symbols of two kinds have entropy %d, want 1000 bits", e)
	}
	// Two lengths and two distances, each as often: a bit for the symbol of either. A length of 40 has 3 extra bits, a
	// distance of 1000 has 8 (RFC 1951, 3.2.5).
	var c counts
	c.count([]token{match(40, 1000), match(258, 1)}, 500)
	if e := c.entropy(); e != (1000+1000+500*3+500*8)<<16 {
		t.Errorf("1000 matches have entropy %d bits, want %d", e>>16, 1000+1000+500*3+500*8)
	}
}
