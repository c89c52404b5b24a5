package strip

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
		for i := range dst {
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
