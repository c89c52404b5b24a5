package strip

// Names and numbers in this file are those of RFC 1951, DEFLATE Compressed Data Format Specification.
const (
	maxBits       = 15  // longest code of a literal, length or distance (3.2.7)
	maxLengthBits = 7   // longest code of a code length
	endOfBlock    = 256 // 3.2.5
	firstLength   = 257
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

// count adds tokens, each weight times.
func (c *counts) count(tokens []token, weight uint32) {
	for _, k := range tokens {
		if k&isMatch == 0 {
			c.symbols[k] += weight
			continue
		}
		symbol, _, _ := lengthSymbol(k.length())
		c.symbols[symbol] += weight
		symbol, _, _ = distanceSymbol(k.distance())
		c.distances[symbol] += weight
	}
}

// all is how many symbols there are.
func (c *counts) all() (sum int64) {
	for _, n := range c.symbols {
		sum += int64(n)
	}
	return sum
}

// add adds other's counts.
func (c *counts) add(other *counts) {
	for i, n := range other.symbols {
		c.symbols[i] += n
	}
	for i, n := range other.distances {
		c.distances[i] += n
	}
}

// word is bits to be written, at most 24, the first lowest, and above them their number.
type word uint32

func newWord(bits uint32, count uint8) word { return word(bits) | word(count)<<24 }

func (w word) bits() uint64  { return uint64(w & (1<<24 - 1)) }
func (w word) count() uint32 { return uint32(w >> 24) }

// table is the code of a block, ready for use.
type table struct {
	literals  [256]word
	end       word
	lengths   [longest + 1]word    // by length of a match, the extra bits with the code's
	distances [distances]word      // by class; the count is that of the code and the extra bits, which come after
	singles   [256]step            // the cost of literals
	prices    [longest + 1]step    // by length of a match
	pixels    [longest/3 + 1]step  // the same by whole pixels
	distant   [window]uint8        // by distance less 1, its bits, extra ones included
	triples   [nearTriple + 1]step // the cost of matches of three bytes, by distance; 0 is none
	described []uint8              // lengths of the symbols' codes, then of the distances'
}

// newTable makes the best code for the counts in which every symbol and distance can still be written.
func newTable(c *counts) *table {
	for i := range c.symbols {
		c.symbols[i] = max(c.symbols[i], 1)
	}
	for i := range c.distances {
		c.distances[i] = max(c.distances[i], 1)
	}
	t := new(table)
	lengths := codeLengths(c.symbols[:], maxBits)
	t.described = append(t.described, lengths...)
	codes := canonical(lengths)
	copy(t.literals[:], codes)
	for i, code := range t.literals {
		t.singles[i] = newStep(0, code.count())
	}
	t.end = codes[endOfBlock]
	for n := shortest; n <= longest; n++ {
		symbol, extra, count := lengthSymbol(n)
		code := codes[symbol]
		t.lengths[n] = newWord(uint32(code.bits()|extra<<code.count()), uint8(code.count())+uint8(count))
		t.prices[n] = newStep(match(n, 1), t.lengths[n].count())
	}
	for n := range t.pixels {
		t.pixels[n] = t.prices[3*n]
	}
	lengths = codeLengths(c.distances[:], maxBits)
	t.described = append(t.described, lengths...)
	for class, code := range canonical(lengths) {
		t.distances[class] = newWord(uint32(code.bits()), uint8(code.count())+uint8(distanceExtra(class)))
	}
	bits := t.distant[:]
	for class, code := range t.distances {
		same := bits[:1<<distanceExtra(class)]
		for i := range same {
			same[i] = uint8(code.count())
		}
		bits = bits[len(same):]
	}
	t.triples[0] = unreached >> 1
	for distance := 1; distance <= nearTriple; distance++ {
		t.triples[distance] = t.prices[3] + t.distance(distance)
	}
	return t
}

// distance is what a match's distance adds to the price of its length: its bits, and itself in step's token, which is
// turned over and so becomes less.
func (t *table) distance(distance int) step {
	return step(t.distant[distance-1])<<stepShift - step(distance-1)
}

// header writes what begins a block: whether it is the last, its kind, and its code (3.2.3, 3.2.7).
func (t *table) header(w *bitWriter, last bool) {
	if last {
		w.write(1, 1)
	} else {
		w.write(0, 1)
	}
	w.write(2, 2)
	repeats := repeated(t.described)
	var seen [len(lengthOrder)]uint32
	for i := range seen {
		seen[i] = 1 // so that the code is complete whatever occurs
	}
	for _, r := range repeats {
		seen[r.symbol] += 16
	}
	lengths := codeLengths(seen[:], maxLengthBits)
	w.write(symbols-257, 5)
	w.write(distances-1, 5)
	w.write(uint64(len(lengthOrder)-4), 4)
	for _, s := range lengthOrder {
		w.write(uint64(lengths[s]), 3)
	}
	codes := canonical(lengths)
	for _, r := range repeats {
		c := codes[r.symbol]
		w.write(c.bits()|uint64(r.extra)<<c.count(), uint(c.count())+r.extraBits)
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
