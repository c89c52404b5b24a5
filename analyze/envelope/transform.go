package envelope

import "math"

// transform is the discrete Fourier transform of a size that is a power of two. It is decimation in frequency by
// radix 4, in place, and leaves the bins where they fall: bin k stands at place[k]. Libraries put them
// in order, allocate or start goroutines on each call, and leave products to be fused, so that they take several
// times as long and differ in the last bits between processors. This one gives the same bits on all.
//
// It is not changed by use, so that any number of goroutines may share one.
type transform struct {
	size   int
	passes [][]twiddle // one pass over the whole, then over its quarters, their quarters ...
	place  []int32
}

// twiddle holds the factors of the 2nd, 3rd and 4th output of a butterfly: w^i, w^2i and w^3i.
type twiddle [3]complex128

// inCache is how many values stay near the processor while all the passes go over them.
const inCache = 256

func newTransform(size int) *transform {
	t := &transform{size: size, place: make([]int32, size)}
	circle := roots(size)
	part := size
	for ; part > 4; part /= 4 {
		pass := make([]twiddle, part/4)
		for i := range pass {
			for p := range pass[i] {
				pass[i][p] = circle[(p+1)*i*(size/part)]
			}
		}
		t.passes = append(t.passes, pass)
	}
	t.drop(0, size, 0, 1)
	return t
}

// drop notes where the bins first, first+step ... are left: in count values from at on.
func (t *transform) drop(at, count, first, step int) {
	if count == 1 {
		t.place[first] = int32(at)
		return
	}
	radix := min(4, count)
	for p := range radix {
		t.drop(at+p*count/radix, count/radix, first+p*step, step*radix)
	}
}

// roots are exp(-2 pi i k / size) for every k below size. Each lies half-way between two others and is their sum, brought
// to length 1: sums and roots are the same on every processor, unlike sines.
func roots(size int) []complex128 {
	w := make([]complex128, size)
	for k, z := range []complex128{1, -1i, -1, 1i} {
		if k*size%4 == 0 {
			w[k*size/4] = z
		}
	}
	for step := size / 4; step > 1; step /= 2 {
		length := math.Sqrt(power(w[0] + w[step]))
		for k := step / 2; k < size; k += step {
			z := w[k-step/2] + w[(k+step/2)%size]
			w[k] = complex(real(z)/length, imag(z)/length)
		}
	}
	return w
}

// of replaces z, of the transform's size, by its bins: bin k is then z[place[k]].
func (t *transform) of(z []complex128) { t.from(z, 0) }

// from transforms a part of z from a pass on. Large parts are finished one quarter after the other.
func (t *transform) from(z []complex128, pass int) {
	if len(z) > inCache && pass < len(t.passes) {
		twiddles := t.passes[pass]
		butterflies(z, twiddles)
		for quarter := len(twiddles); len(z) > 0; z = z[quarter:] {
			t.from(z[:quarter], pass+1)
		}
		return
	}
	for ; pass < len(t.passes); pass++ {
		twiddles := t.passes[pass]
		part := 4 * len(twiddles)
		for at := 0; at < len(z); at += part {
			butterflies(z[at:at+part], twiddles)
		}
	}
	if t.size > 1 && t.size&0x5555555555555555 == 0 { // an odd power of two
		for ; len(z) >= 2; z = z[2:] {
			z[0], z[1] = z[0]+z[1], z[0]-z[1]
		}
		return
	}
	for ; len(z) >= 4; z = z[4:] {
		z[0], z[1], z[2], z[3] = butterfly(z[0], z[1], z[2], z[3])
	}
}

// butterfly is the transform of four values.
func butterfly(a, b, c, d complex128) (w, x, y, z complex128) {
	sum, difference := a+c, a-c
	cross, turned := b+d, complex(imag(b)-imag(d), real(d)-real(b)) // -i (b - d)
	return sum + cross, difference + turned, sum - cross, difference - turned
}

// butterflies makes one transform of four times the length of twiddles into four of their length.
func butterflies(z []complex128, twiddles []twiddle) {
	quarter := len(twiddles)
	// Slices of one length let the compiler leave out the checks of every index.
	z0, z1, z2, z3 := z[:quarter], z[quarter:2*quarter], z[2*quarter:3*quarter], z[3*quarter:4*quarter]
	z1, z2, z3, twiddles = z1[:len(z0)], z2[:len(z0)], z3[:len(z0)], twiddles[:len(z0)]
	for i := range z0 {
		a, b, c, d := butterfly(z0[i], z1[i], z2[i], z3[i])
		w := &twiddles[i]
		z0[i], z1[i], z2[i], z3[i] = a, product(b, w[0]), product(c, w[1]), product(d, w[2])
	}
}

// product is a times b, with every step rounded: Go may otherwise fuse a product and a sum on some processors.
func product(a, b complex128) complex128 {
	return complex(float64(real(a)*real(b))-float64(imag(a)*imag(b)), float64(real(a)*imag(b))+float64(imag(a)*real(b)))
}
