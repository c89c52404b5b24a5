package main

import "math"

// vector is a point or a direction in the scene, in units of one hundred
// photo pixels at the stones (x to the right, y up, z towards the camera), or
// a colour in linear light (x red, y green, z blue).
type vector struct{ x, y, z float64 }

func (a vector) plus(b vector) vector   { return vector{a.x + b.x, a.y + b.y, a.z + b.z} }
func (a vector) minus(b vector) vector  { return vector{a.x - b.x, a.y - b.y, a.z - b.z} }
func (a vector) times(s float64) vector { return vector{a.x * s, a.y * s, a.z * s} }
func (a vector) filter(b vector) vector { return vector{a.x * b.x, a.y * b.y, a.z * b.z} }
func (a vector) dot(b vector) float64   { return a.x*b.x + a.y*b.y + a.z*b.z }
func (a vector) length() float64        { return math.Sqrt(a.dot(a)) }
func (a vector) towards(d vector, t float64) vector {
	return vector{a.x + d.x*t, a.y + d.y*t, a.z + d.z*t}
}

func (a vector) cross(b vector) vector {
	return vector{a.y*b.z - a.z*b.y, a.z*b.x - a.x*b.z, a.x*b.y - a.y*b.x}
}

func (a vector) unit() vector {
	length := a.length()
	if length == 0 {
		return vector{0, 1, 0}
	}
	return a.times(1 / length)
}

// mix goes from a at 0 to b at 1.
func mix(a, b, t float64) float64 { return a + (b-a)*t }

func mixColour(a, b vector, t float64) vector { return a.plus(b.minus(a).times(t)) }

func clamp(x, low, high float64) float64 { return max(low, min(high, x)) }

// smooth rises from 0 at low to 1 at high along a cubic with level ends.
func smooth(low, high, x float64) float64 {
	t := clamp((x-low)/(high-low), 0, 1)
	return t * t * (3 - 2*t)
}

// decay is e to the power -x. It is made from Exp2, whose code on amd64 does
// not ask the processor for fused multiply-adds as that of Exp does, so that
// older and newer processors agree on its bits.
func decay(x float64) float64 { return math.Exp2(-x * math.Log2E) }

// frame returns two directions that are at right angles to the unit vector n
// and to each other.
func (n vector) frame() (vector, vector) {
	side := vector{1, 0, 0}
	if math.Abs(n.x) > 0.7 {
		side = vector{0, 1, 0}
	}
	a := n.cross(side).unit()
	return a, n.cross(a)
}
