package strip

// Names and numbers in this file are those of RFC 1951, DEFLATE Compressed Data Format Specification.
const (
	maxBits       = 15  // longest code of a literal, length or distance (3.2.7)
	maxLengthBits = 7   // longest code of a code length
	endOfBlock    = 256 // 3.2.5
	symbols       = 286 // literals, the end, 29 lengths
	distances     = 30
)

// lengthOrder is the order in which the lengths of the code length code are sent (3.2.7).
var lengthOrder = [19]int{16, 17, 18, 0, 8, 7, 9, 6, 10, 5, 11, 4, 12, 3, 13, 2, 14, 1, 15}

// counts is how often each symbol is expected in a block.
type counts struct {
	symbols   [symbols]uint32
	distances [distances]uint32
}

// table is the code of a block.
type table struct {
	symbols   []code
	distances []code
	dynamic   bool // described in the block's header; else the fixed code of section 3.2.6
}

// newTable makes the best code for the counts in which every symbol and distance can still be written.
func newTable(c *counts) *table {
	seen := *c
	for i := range seen.symbols {
		seen.symbols[i] = max(seen.symbols[i], 1)
	}
	for i := range seen.distances {
		seen.distances[i] = max(seen.distances[i], 1)
	}
	return &table{
		canonical(codeLengths(seen.symbols[:], maxBits)),
		canonical(codeLengths(seen.distances[:], maxBits)),
		true,
	}
}

// header writes what begins a block: whether it is the last, its kind, and its code (3.2.3, 3.2.7).
func (t *table) header(w *bitWriter, last bool) {
	final := uint64(0)
	if last {
		final = 1
	}
	w.write(final, 1)
	if !t.dynamic {
		w.write(1, 2)
		return
	}
	w.write(2, 2)
	var lengths []uint8
	for _, c := range t.symbols {
		lengths = append(lengths, c.length)
	}
	for _, c := range t.distances {
		lengths = append(lengths, c.length)
	}
	repeats := repeated(lengths)
	var seen [19]uint32
	for i := range seen {
		seen[i] = 1 // so that the code is complete whatever occurs
	}
	for _, r := range repeats {
		seen[r.symbol] += 16
	}
	lengthCode := canonical(codeLengths(seen[:], maxLengthBits))
	w.write(uint64(len(t.symbols)-257), 5)
	w.write(uint64(len(t.distances)-1), 5)
	w.write(uint64(len(lengthOrder)-4), 4)
	for _, s := range lengthOrder {
		w.write(uint64(lengthCode[s].length), 3)
	}
	for _, r := range repeats {
		w.write(uint64(lengthCode[r.symbol].bits), uint(lengthCode[r.symbol].length))
		w.write(uint64(r.extra), r.extraBits)
	}
}

// repeat is a symbol of the code length code with its extra bits.
type repeat struct {
	symbol    uint8
	extra     uint8
	extraBits uint
}

// repeated writes lengths, none of which is 0, with symbol 16 for three to six repetitions of the one before.
func repeated(lengths []uint8) []repeat {
	var out []repeat
	for i := 0; i < len(lengths); {
		run := 1
		for i+run < len(lengths) && lengths[i+run] == lengths[i] {
			run++
		}
		out = append(out, repeat{symbol: lengths[i]})
		i += run
		run--
		for run >= 3 {
			n := min(run, 6)
			out = append(out, repeat{16, uint8(n - 3), 2})
			run -= n
		}
		for ; run > 0; run-- {
			out = append(out, repeat{symbol: lengths[i-1]})
		}
	}
	return out
}
