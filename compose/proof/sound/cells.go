package sound

import (
	"math"
	"slices"

	"colonnade/analyze/envelope"
)

const (
	// lowestEdge and cellsPerOctave make the grid of edges: steps that the ear just tells apart in a band's limits.
	lowestEdge     = 16.0
	cellsPerOctave = 6
	// nearestEdges: edges of the grid nearer than this to a band's own edge are left out.
	nearestEdges = 1.03
)

// Edges are the edges of the cells for a song's rate, in rising order: a grid from 16 to 20000 Hz in sixths of an octave, as
// far as the song reaches, and the edges of the bands themselves.
func Edges(sampleRate int, bands []envelope.Band) []float64 {
	half := float64(sampleRate) / 2
	var own, edges []float64
	for _, band := range bands {
		own = append(own, band.LowHz, band.HighHz)
	}
	slices.Sort(own)
	own = slices.Compact(own)
	for k := 0; ; k++ {
		edge := threeDigits(lowestEdge * math.Exp2(float64(k)/cellsPerOctave))
		if edge > 15000 {
			break
		}
		edges = append(edges, edge)
	}
	edges = append(edges, 16000, 18000, 20000)
	edges = slices.DeleteFunc(edges, func(edge float64) bool {
		return edge > half || slices.ContainsFunc(own, func(v float64) bool { return edge < v*nearestEdges && v < edge*nearestEdges })
	})
	edges = append(edges, own...)
	slices.Sort(edges)
	return edges
}

// threeDigits rounds to three digits, as one writes an edge.
func threeDigits(v float64) float64 {
	unit := math.Pow(10, math.Floor(math.Log10(v))-2)
	if unit < 1 {
		return math.Round(v*10) / 10
	}
	return math.Round(v/unit) * unit
}

// cell is what a cell takes of a spectrum: weights times the power of the bins from first on.
type cell struct {
	first   int
	weights []float64
}

// newCell is the integral of the spectrum's power from low to high, fractions of the rate, where it runs straight from bin to
// bin.
func newCell(low, high float64, size int) cell {
	low, high = low*float64(size), math.Min(high, 0.5)*float64(size)
	c := cell{first: max(int(math.Floor(low)), 1)}
	for k := c.first; k <= min(int(math.Ceil(high)), size/2); k++ {
		c.weights = append(c.weights, 2*(hat(high-float64(k))-hat(low-float64(k))))
	}
	return c
}

// hat is the integral up to x of the function that rises straight from 0 at -1 to 1 at 0 and falls to 0 at 1.
func hat(x float64) float64 {
	switch {
	case x <= -1:
		return 0
	case x < 0:
		return (1 + x) * (1 + x) / 2
	case x < 1:
		return 1 - (1-x)*(1-x)/2
	}
	return 1
}

// reading is one length of window, and the cells that are read with it.
type reading struct {
	seconds      float64
	length, size int
	hann         []float64
	scale        float64
	first        int // index of the first cell
	cells        []cell
}

// newReading reads the cells between edges[first] and edges[last] of a signal with so many samples a second. Bins are finer
// times as close as the window can tell apart, or closer.
func newReading(seconds, rate float64, edges []float64, first, last, finer int) *reading {
	r := &reading{seconds: seconds, length: 2 * max(2, int(math.Round(seconds*rate/2))), first: first}
	r.size = 1
	for r.size < finer*r.length {
		r.size *= 2
	}
	r.hann = make([]float64, r.length)
	for i := range r.hann {
		r.hann[i] = 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/float64(r.length))
	}
	r.scale = 1 / (float64(r.size) * float64(r.length) * 3 / 8)
	for i := first; i < last; i++ {
		r.cells = append(r.cells, newCell(edges[i]/rate, edges[i+1]/rate, r.size))
	}
	return r
}

// window weighs the samples, two channels at a time, without their steady part; see package envelope.
func (r *reading) window(dst []complex128, left, right func(i int) float64) {
	var leftMean, rightMean float64
	for i, w := range r.hann {
		leftMean += w * left(i)
		rightMean += w * right(i)
	}
	leftMean, rightMean = leftMean/float64(r.length/2), rightMean/float64(r.length/2)
	for i, w := range r.hann {
		dst[i] = complex((left(i)-leftMean)*w, (right(i)-rightMean)*w)
	}
	clear(dst[r.length:])
}

// add adds the mean power of both channels in each cell, as far as a spectrum holds it.
func (r *reading) add(power []float64, spectrum []complex128) {
	for i, c := range r.cells {
		sum := 0.0
		for j, weight := range c.weights {
			k := c.first + j
			a, b := spectrum[k], spectrum[(r.size-k)&(r.size-1)]
			sum += weight * (real(a)*real(a) + imag(a)*imag(a) + real(b)*real(b) + imag(b)*imag(b))
		}
		power[i] += sum / 2 * r.scale
	}
}
