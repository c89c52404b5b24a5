// Package sound makes what the proof page carries of a song: the song itself, compact, and how loud it is in many
// narrow cells of frequency, from which the page reads any band at once.
package sound

import "math"

// zeroCrossings of the filter's kernel on either side, at the rate it goes down to: the filter passes up to a third of
// that rate and stops from two thirds on (Blackman's window, Harris, "On the use of windows for harmonic analysis with
// the discrete Fourier transform", 1978).
const zeroCrossings = 8

// decimator keeps every factor-th sample of a stream, filtered so that what the lower rate can not hold is left out.
type decimator struct {
	factor int
	taps   []float64
	buffer []float32 // the samples that outputs to come need
	first  int64     // index of buffer[0] in the stream
	next   int64     // index in the stream of the next output's middle
}

func newDecimator(factor int) *decimator {
	d := &decimator{factor: factor}
	if factor == 1 {
		d.taps = []float64{1}
		return d
	}
	radius := zeroCrossings * factor
	d.taps = make([]float64, 2*radius+1)
	sum := 0.0
	for i := range d.taps {
		x := float64(i-radius) / float64(factor)
		sinc := 1.0
		if x != 0 {
			sinc = math.Sin(math.Pi*x) / (math.Pi * x)
		}
		turn := math.Pi * float64(i) / float64(radius)
		d.taps[i] = sinc * (0.42 - 0.5*math.Cos(turn) + 0.08*math.Cos(2*turn))
		sum += d.taps[i]
	}
	for i := range d.taps {
		d.taps[i] /= sum
	}
	d.buffer = make([]float32, radius) // silence before the first sample
	d.first = -int64(radius)
	return d
}

// push takes the next samples and adds to out what they complete.
func (d *decimator) push(out, samples []float32) []float32 {
	d.buffer = append(d.buffer, samples...)
	radius := int64(len(d.taps) / 2)
	for d.next+radius < d.first+int64(len(d.buffer)) {
		sum := 0.0
		for i, x := range d.buffer[d.next-radius-d.first:][:len(d.taps)] {
			sum += d.taps[i] * float64(x)
		}
		out = append(out, float32(sum))
		d.next += int64(d.factor)
	}
	if drop := d.next - radius - d.first; drop > 0 {
		drop = min(drop, int64(len(d.buffer)))
		d.buffer = append(d.buffer[:0], d.buffer[drop:]...)
		d.first += drop
	}
	return out
}

// finish adds the outputs whose middle lies before the end of the stream.
func (d *decimator) finish(out []float32) []float32 {
	return d.push(out, make([]float32, len(d.taps)/2))
}
