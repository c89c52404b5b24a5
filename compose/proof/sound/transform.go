package sound

import "math"

// transform is a discrete Fourier transform whose size is a power of two, by Stockham's order in steps of four (Van Loan,
// "Computational Frameworks for the Fast Fourier Transform", 1992, 1.7 and 2.4): nothing is put in order before or after.
type transform struct {
	size  int
	turns []complex128 // exp(-2 pi i k / size) for k below 3/4 of the size
	spare []complex128
}

func newTransform(size int) *transform {
	t := &transform{size: size, turns: make([]complex128, size*3/4+1), spare: make([]complex128, size)}
	for k := range t.turns {
		sin, cos := math.Sincos(-2 * math.Pi * float64(k) / float64(size))
		t.turns[k] = complex(cos, sin)
	}
	return t
}

// of transforms x, which is overwritten, and gives the spectrum, valid until x is used again or the next call.
func (t *transform) of(x []complex128) []complex128 {
	y := t.spare
	stride := 1
	for n := t.size; n > 1; {
		if n == 2 {
			for q := range stride {
				a, b := x[q], x[q+stride]
				y[q], y[q+stride] = a+b, a-b
			}
			return y
		}
		quarter := n / 4
		for p := range quarter {
			w1, w2, w3 := t.turns[p*stride], t.turns[2*p*stride], t.turns[3*p*stride]
			a, b, c, d := x[stride*p:][:stride], x[stride*(p+quarter):][:stride], x[stride*(p+2*quarter):][:stride], x[stride*(p+3*quarter):][:stride]
			to := y[4*stride*p:][:4*stride]
			y0, y1, y2, y3 := to[:stride], to[stride:][:stride], to[2*stride:][:stride], to[3*stride:][:stride]
			for q := range stride {
				sum, difference := a[q]+c[q], a[q]-c[q]
				other, turned := b[q]+d[q], b[q]-d[q]
				turned = complex(-imag(turned), real(turned))
				y0[q] = sum + other
				y1[q] = w1 * (difference - turned)
				y2[q] = w2 * (sum - other)
				y3[q] = w3 * (difference + turned)
			}
		}
		x, y = y, x
		n, stride = n/4, 4*stride
	}
	return x
}
