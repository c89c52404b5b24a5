package profile

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"

	"colonnade/compose/light"
)

// curve takes a code, 0 to 1, to an amount of light, 0 to 1. Beyond its ends it stays as it is there.
type curve func(code float64) float64

// readCurve reads a curveType (10.6) or a parametricCurveType (10.18).
func readCurve(tag []byte) (curve, error) {
	if len(tag) < 12 {
		return nil, errors.New("is damaged")
	}
	var c curve
	var err error
	switch kind := string(tag[:4]); kind {
	case "curv":
		c, err = sampledCurve(tag)
	case "para":
		c, err = parametricCurve(tag)
	default:
		err = fmt.Errorf("is of the unknown kind %q", kind)
	}
	if err != nil {
		return nil, err
	}
	return func(code float64) float64 {
		v := c(math.Min(math.Max(code, 0), 1))
		if !(v > 0) { // so that what is not a number is no light
			return 0
		}
		return math.Min(v, 1)
	}, nil
}

// sampledCurve: no value is the straight line, one is a power in 256ths, more are amounts of light at even
// distances, 65535 for 1, with straight lines between.
func sampledCurve(tag []byte) (curve, error) {
	count, values := uint64(binary.BigEndian.Uint32(tag[8:])), tag[12:]
	if 2*count > uint64(len(values)) {
		return nil, errors.New("is cut off")
	}
	switch count {
	case 0:
		return func(code float64) float64 { return code }, nil
	case 1:
		power := float64(binary.BigEndian.Uint16(values)) / 256
		return func(code float64) float64 { return math.Pow(code, power) }, nil
	}
	sample := func(i int) float64 { return float64(binary.BigEndian.Uint16(values[2*i:])) / 65535 }
	last := int(count) - 1
	return func(code float64) float64 {
		at := float64(code * float64(last))
		i := min(int(at), last-1)
		return sample(i) + float64((sample(i+1)-sample(i))*(at-float64(i)))
	}, nil
}

// parameterCount is the number of parameters of each function of a parametricCurveType (table 68): g, a, b, c, d, e, f.
var parameterCount = [...]int{1, 3, 4, 5, 7}

// parametricCurve reads Y = (aX+b)^g + e where X >= d, cX + f below, of which the simpler functions are cases.
func parametricCurve(tag []byte) (curve, error) {
	kind := int(binary.BigEndian.Uint16(tag[8:]))
	if kind >= len(parameterCount) {
		return nil, fmt.Errorf("is of the unknown function %d", kind)
	}
	if len(tag) < 12+4*parameterCount[kind] {
		return nil, errors.New("is cut off")
	}
	var v [7]float64
	for i := range parameterCount[kind] {
		v[i] = fixed16(tag[12+4*i:])
	}
	g, a, b, c, d, e, f := v[0], v[1], v[2], v[3], v[4], v[5], v[6]
	switch kind {
	case 0:
		a = 1
	case 1, 2:
		// 0, or the constant that the third adds, below -b/a.
		c, d, e, f = 0, -b/a, v[3], v[3]
	}
	return func(code float64) float64 {
		if kind != 0 && !(code >= d) {
			return float64(c*code) + f
		}
		return math.Pow(math.Max(float64(a*code)+b, 0), g) + e
	}, nil
}

// fixed16 is an s15Fixed16Number (4.6).
func fixed16(b []byte) float64 { return float64(int32(binary.BigEndian.Uint32(b))) / 65536 }

// tolerance is how far apart, in steps of the 8-bit code, two curves may be that are meant to be the same. Profiles
// round their parameters to 1/65536 and their samples to 1/65535, which comes to a fortieth of a step in the darks.
const tolerance = 1. / 20

// alike tells whether no 8-bit code could tell two curves apart.
func alike(a, b curve) bool {
	at := func(code int) float64 { return float64(code) / 255 }
	for code := range 256 {
		below, above := max(code-1, 0), min(code+1, 255)
		step := math.Abs(a(at(above))-a(at(below))) / float64(above-below)
		if !(math.Abs(a(at(code))-b(at(code))) <= float64(tolerance*step)) {
			return false
		}
	}
	return true
}

// ownCurve makes the curve for mixing; nil when it is that of sRGB, so that photos which say that they are sRGB, or
// share its curve as Display P3 does, give the same bytes as photos that say nothing.
func ownCurve(decode curve) (*light.Curve, error) {
	if alike(light.DecodeSRGB, decode) {
		return nil, nil
	}
	made := light.NewCurve(decode)
	for code := range 256 {
		if made.Code(made.Linear[code]) != uint8(code) {
			return nil, fmt.Errorf("has a curve that does not rise from code %d to the next", code)
		}
	}
	return made, nil
}
