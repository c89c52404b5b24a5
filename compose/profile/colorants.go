package profile

import (
	"math"
	"slices"
)

var identity = [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}

// srgbColorants are the colorants of sRGB, adapted to the profile connection space's white (D50), as the rXYZ, gXYZ
// and bXYZ of sRGB profiles hold them: row X, Y, Z; column red, green, blue.
var srgbColorants = [3][3]float64{
	{0.43607, 0.38515, 0.14307},
	{0.22249, 0.71687, 0.06061},
	{0.01392, 0.09708, 0.71410},
}

// Bounds of a matrix that is taken.
const (
	sameMatrix  = 0.003 // sRGB profiles differ by that much in how they round and adapt
	sameWhite   = 0.02  // of each row's sum from 1: white is white in every profile
	widestPrime = 8     // no set of colorants in use is as wide
)

// toSRGB is the way from a profile's colorants (XYZType, 10.31) to those of sRGB; the identity where they are
// missing, make no sense, or are those of sRGB.
func toSRGB(colorants ...[]byte) [3][3]float64 {
	var own [3][3]float64
	for channel, tag := range colorants {
		if len(tag) < 20 || string(tag[:4]) != "XYZ " {
			return identity
		}
		for axis := range 3 {
			own[axis][channel] = fixed16(tag[8+4*axis:])
		}
	}
	back := inverse(srgbColorants)
	var out [3][3]float64
	same := true
	for i := range 3 {
		sum := 0.0
		for j := range 3 {
			for k := range 3 {
				out[i][j] += float64(back[i][k] * own[k][j])
			}
			sum += out[i][j]
			same = same && math.Abs(out[i][j]-identity[i][j]) <= sameMatrix
		}
		if math.Abs(sum-1) > sameWhite || slices.ContainsFunc(out[i][:], func(v float64) bool { return math.Abs(v) > widestPrime }) {
			return identity
		}
	}
	if same {
		return identity
	}
	return out
}

// inverse is that of a matrix which has one, by Cramer's rule.
func inverse(m [3][3]float64) (out [3][3]float64) {
	minor := func(i, j int) float64 {
		a, b, c, d := (i+1)%3, (i+2)%3, (j+1)%3, (j+2)%3
		return float64(m[a][c]*m[b][d]) - float64(m[a][d]*m[b][c])
	}
	determinant := 0.0
	for j := range 3 {
		determinant += float64(m[0][j] * minor(0, j))
	}
	for i := range 3 {
		for j := range 3 {
			out[j][i] = minor(i, j) / determinant
		}
	}
	return out
}
