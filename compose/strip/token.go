package strip

import (
	"encoding/binary"
	"math/bits"
	"slices"
)

// token is a literal byte, or a match: a repetition of bytes that lie up to 32768 before.
type token uint32

const (
	isMatch     = token(1 << 31)
	lengthShift = 16
	shortest    = 3 // RFC 1951, section 3.2.5
	longest     = 258
	window      = 32768
)

// match is length bytes, shortest to longest, from distance before, 1 to window.
func match(length, distance int) token {
	return isMatch | token(length)<<lengthShift | token(distance-1)
}

func (t token) length() int   { return int(t>>lengthShift) & 0x1ff }
func (t token) distance() int { return int(t&0x7fff) + 1 }

// lengthSymbol is the symbol of a match's length with its extra bits (3.2.5).
func lengthSymbol(length int) (symbol int, extra uint64, extraBits uint) {
	if length == longest {
		return 285, 0, 0
	}
	symbol, extra, extraBits = split(length-shortest, 2)
	return 257 + symbol, extra, extraBits
}

// distanceSymbol is the same for a match's distance.
func distanceSymbol(distance int) (symbol int, extra uint64, extraBits uint) {
	return split(distance-1, 1)
}

// lengthExtra is the number of extra bits that come with a symbol for a length.
func lengthExtra(symbol int) int {
	if symbol == symbols-1 {
		return 0
	}
	return max(0, (symbol-firstLength)/4-1)
}

// distanceExtra is the same for a distance.
func distanceExtra(symbol int) int { return max(0, symbol/2-1) }

// split numbers the classes of the section's two tables: 2<<steps values have a class of their own, and from
// there on every power of two is parted into 1<<steps classes.
func split(v int, steps uint) (class int, extra uint64, extraBits uint) {
	if v < 2<<steps {
		return v, 0, 0
	}
	extraBits = uint(bits.Len(uint(v))) - 1 - steps
	return int(extraBits)<<steps + v>>extraBits, uint64(v) & (1<<extraBits - 1), extraBits
}

// encode writes tokens.
func (t *table) encode(w *bitWriter, tokens []token) {
	size := len(w.out)
	w.out = slices.Grow(w.out, 8*len(tokens)+8)
	out := w.out[:cap(w.out)]
	bits, n := w.bits, w.n
	flush := func() {
		binary.LittleEndian.PutUint64(out[size:], bits)
		size += int(n >> 3)
		bits >>= n &^ 7
		n &= 7
	}
	for _, k := range tokens {
		if k&isMatch == 0 {
			c := t.literals[uint8(k)]
			bits |= c.bits() << n
			n += uint(c.count())
			flush()
			continue
		}
		c := t.lengths[k.length()]
		bits |= c.bits() << n
		n += uint(c.count())
		class, extra, extraBits := distanceSymbol(k.distance())
		c = t.distances[class]
		bits |= (c.bits() | extra<<(uint(c.count())-extraBits)) << n
		n += uint(c.count())
		flush()
	}
	w.out, w.bits, w.n = out[:size], bits, n
}
