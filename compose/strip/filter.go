package strip

import "encoding/binary"

// Filters of the PNG Recommendation (Third Edition, section 9.2).
const (
	filterNone = iota
	filterSub
	filterUp
	filterAverage
	filterPaeth
	filters
)

// filter writes the filtered bytes from to before to of a row to dst. row and above begin three bytes before
// their picture's left border; these and what lies above the picture are 0.
func filter(kind int, dst, row, above []byte, from, to int) {
	n := to - from
	dst = dst[:n]
	x := row[from+3:][:n]
	a := row[from:][:n]     // left
	b := above[from+3:][:n] // above
	c := above[from:][:n]   // above left
	switch kind {
	case filterNone:
		copy(dst, x)
	case filterSub:
		for i := range dst {
			dst[i] = x[i] - a[i]
		}
	case filterUp:
		for i := range dst {
			dst[i] = x[i] - b[i]
		}
	case filterAverage:
		for i := range dst {
			dst[i] = x[i] - byte((int(a[i])+int(b[i]))/2)
		}
	case filterPaeth:
		i := 0
		for ; i <= n-8; i += 8 {
			binary.LittleEndian.PutUint64(dst[i:i+8], lessPaeth(
				binary.LittleEndian.Uint64(x[i:i+8]), binary.LittleEndian.Uint64(a[i:i+8]),
				binary.LittleEndian.Uint64(b[i:i+8]), binary.LittleEndian.Uint64(c[i:i+8])))
		}
		for ; i < n; i++ {
			dst[i] = x[i] - paeth(a[i], b[i], c[i])
		}
	}
}

// paeth is the one of left, above and above left that is nearest to left + above - above left; of equally near
// ones the first (section 9.4).
func paeth(a, b, c byte) byte {
	pa, pb := int(b)-int(c), int(a)-int(c)
	pc := abs(pa + pb)
	pa, pb = abs(pa), abs(pb)
	if pa <= pb && pa <= pc {
		return a
	}
	if pb <= pc {
		return b
	}
	return c
}

func abs(v int) int {
	if v < 0 {
		return -v
	}
	return v
}

// Eight bytes are filtered at once as two times four numbers of 16 bits, called lanes. Of a sum that may be negative,
// sign is set in addition; it stays set where the sum is not negative.
const (
	lanes = 0x0001_0001_0001_0001
	codes = lanes * 0xff
	sign  = lanes << 15
)

// lessPaeth is eight bytes x less the paeth of a, b and c.
func lessPaeth(x, a, b, c uint64) uint64 {
	even := paeths(a&codes, b&codes, c&codes)
	odd := paeths(a>>8&codes, b>>8&codes, c>>8&codes)
	return (x&codes+sign-even)&codes | (x>>8&codes+sign-odd)&codes<<8
}

// paeths is paeth by lanes. Paeth chooses the lower of a and b if it is nearer than half the way of c to the
// higher, and the higher likewise; otherwise c.
func paeths(a, b, c uint64) uint64 {
	apart := a + sign - b
	apart &= spread(apart) &^ sign
	low, high := a-apart, b+apart
	c3 := 3 * c
	low2c := c ^ (c^low)&spread(sign+c3-low-2*high)
	return low2c ^ (low2c^high)&spread(sign+high+2*low-c3)
}

// spread sets all bits of the lanes whose sign is set, and clears those of the others.
func spread(v uint64) uint64 { return v & sign >> 15 * 0xffff }
