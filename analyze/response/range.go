package response

import "math"

// Range is between which RMS amplitudes the column moves, its reference being R: it rests at or below the first and
// reaches its top at the second.
func (s Settings) Range(reference float64) (rest, top float64) {
	top = reference / math.Pow(10, s.Gain/20)
	return top * math.Pow(10, s.Floor/20), top
}
