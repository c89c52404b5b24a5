package strip

import "encoding/binary"

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
const stringPad = 8

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

// appender lays strings of bits end to end in out.
type appender struct {
	out  []byte
	at   int // bytes written
	bits uint64
	n    uint // how many bits wait in bits, less than 64
}

// add appends the string at the head of from, which goes on for stringPad bytes beyond it. It returns the size
// of the string with its head. Up to eight bytes beyond the last bit of out may be overwritten.
func (a *appender) add(from []byte) int {
	count := uint(binary.LittleEndian.Uint32(from))
	from = from[stringHead:]
	bits, n, at := a.bits, a.n&63, a.at
	for range count / 64 {
		v := binary.LittleEndian.Uint64(from)
		binary.LittleEndian.PutUint64(a.out[at:], bits|v<<n)
		bits = v >> 1 >> (63 - n)
		from = from[8:]
		at += 8
	}
	if rest := count & 63; rest > 0 {
		v := binary.LittleEndian.Uint64(from) & (1<<rest - 1)
		bits |= v << n
		n += rest
		if n >= 64 {
			binary.LittleEndian.PutUint64(a.out[at:], bits)
			at += 8
			n -= 64
			bits = v >> (rest - n)
		}
	}
	a.bits, a.n, a.at = bits, n, at
	return stringHead + int(count+7)/8
}

// flush fills the last byte with zeros and writes what waits.
func (a *appender) flush() {
	for ; a.n > 0; a.n -= min(a.n, 8) {
		a.out[a.at] = byte(a.bits)
		a.bits >>= 8
		a.at++
	}
}
