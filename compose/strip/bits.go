package strip

import (
	"encoding/binary"
)

// bitWriter packs bits, the first lowest (RFC 1951, section 3.1.1).
type bitWriter struct {
	out  []byte
	bits uint64
	n    uint // how many bits wait in bits, less than 8 between writes
}

// write adds the low n bits of v, at most 56.
func (w *bitWriter) write(v uint64, n uint) {
	w.bits |= v << w.n
	w.n += n
	for w.n >= 8 {
		w.out = append(w.out, byte(w.bits))
		w.bits >>= 8
		w.n -= 8
	}
}

// A coded state is kept as one string of bits for each extent: the number of bits, then the bits themselves
// from a whole byte on. stringHead is the size of the number.
const stringHead = 4

// stringPad is how many bytes may be read beyond the last string's end.
const stringPad = stride

// begin leaves room for a string's head and tells where.
func (w *bitWriter) begin() int {
	w.out = append(w.out, 0, 0, 0, 0)
	return len(w.out)
}

// end completes the string that began at start. It returns its number of bits.
func (w *bitWriter) end(start int) int {
	n := 8*(len(w.out)-start) + int(w.n)
	if w.n > 0 {
		w.write(0, 8-w.n)
	}
	binary.LittleEndian.PutUint32(w.out[start-stringHead:], uint32(n))
	return n
}
