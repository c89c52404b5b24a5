package main

import (
	"math"
	"math/rand/v2"
)

// The instruments, each kept to its own band so that its column of stones
// answers to it alone. Times are in seconds, frequencies in Hz, strengths are
// amplitudes before the mix is brought to level, and places run from -1 at
// the left to 1 at the right.

// sampleRate of the song, in Hz.
const sampleRate = 44100

// track is stereo sound, left and right.
type track [2][]float64

func newTrack(seconds float64) track {
	length := int(math.Round(seconds * sampleRate))
	return track{make([]float64, length), make([]float64, length)}
}

// play adds a voice to the track. The voice is asked for its value at times
// from 0 until seconds have passed; place is held at equal power.
func (t track) play(start, seconds, place float64, voice func(at float64) float64) {
	left, right := math.Cos((place+1)*math.Pi/4), math.Sin((place+1)*math.Pi/4)
	first := int(math.Round(start * sampleRate))
	for i := 0; i < int(seconds*sampleRate); i++ {
		if first+i >= len(t[0]) {
			return
		}
		value := voice(float64(i) / sampleRate)
		t[0][first+i] += value * left
		t[1][first+i] += value * right
	}
}

// swell is an envelope that rises smoothly over attack and is let go over the
// last release before length.
func swell(at, attack, length, release float64) float64 {
	return smooth(0, attack, at) * (1 - smooth(length-release, length, at))
}

// pitch is the frequency of a MIDI note number in equal temperament with
// note 69 at 440 Hz.
func pitch(note int) float64 {
	return 440 * math.Exp2(float64(note-69)/12)
}

// partial is a sine that falls to 1/e every fall.
type partial struct{ frequency, strength, fall float64 }

// ring plays partials together under one swell. Each is a complex number that
// is turned and shortened from sample to sample: far cheaper than asking for
// a sine and a power each time, and as true over a few seconds.
func (t track) ring(start, length, attack, release, place float64, partials ...partial) {
	arms := make([]complex128, len(partials))
	steps := make([]complex128, len(partials))
	for i, p := range partials {
		angle := 2 * math.Pi * p.frequency / sampleRate
		shorter := decay(1 / (p.fall * sampleRate))
		arms[i] = complex(p.strength, 0)
		steps[i] = complex(shorter*math.Cos(angle), shorter*math.Sin(angle))
	}
	t.play(start, length, place, func(at float64) float64 {
		sum := 0.0
		for i := range arms {
			sum += imag(arms[i])
			arms[i] *= steps[i]
		}
		return sum * swell(at, attack, length, release)
	})
}

// kick is a drum that settles at 50 Hz within a few hundredths of a second.
func (t track) kick(start, strength float64) {
	const settled, above, settling, fall, length = 50.0, 26.0, 0.022, 0.135, 0.75
	t.play(start, length, 0, func(at float64) float64 {
		// The phase is the integral of settled + above·e^(-at/settling).
		turns := settled*at + above*settling*(1-decay(at/settling))
		return strength * math.Sin(2*math.Pi*turns) * decay(at/fall) * swell(at, 0.006, length, 0.1)
	})
}

// bass is a round low string: a sine with a little of its overtones.
func (t track) bass(start, length float64, note int, strength float64) {
	frequency := pitch(note)
	t.ring(start, length, 0.018, 0.07, 0,
		partial{frequency, strength, 0.55},
		partial{2 * frequency, 0.16 * strength, 0.12},
		partial{3 * frequency, 0.04 * strength, 0.08})
}

// chord is a soft keyboard: each note twice, a hair apart and on both sides,
// with overtones that fade first.
func (t track) chord(start, length, attack, fall float64, notes []int, strength float64) {
	for i, note := range notes {
		for side := -1.0; side <= 1; side += 2 {
			frequency := pitch(note) * (1 + side*0.0011)
			place := 0.35*side + 0.2*(float64(i)/float64(len(notes)-1)*2-1)
			t.ring(start, length, attack, 0.12, place,
				partial{frequency, strength, fall},
				partial{2 * frequency, 0.30 * strength, 0.6 * fall},
				partial{3 * frequency, 0.10 * strength, 0.35 * fall})
		}
	}
}

// pluck is a tine of a music box, with its octave below to warm it.
func (t track) pluck(start float64, note int, strength, place float64) {
	frequency := pitch(note)
	t.ring(start, 1.1, 0.003, 0.2, place,
		partial{frequency, strength, 0.17},
		partial{frequency / 2, 0.22 * strength, 0.12},
		partial{2 * frequency, 0.04 * strength, 0.04})
}

// hiss is noise between about 7 and 13 kHz, the stuff of hats and shakers.
func hiss(seconds float64, number uint64) []float64 {
	chance := rand.New(rand.NewPCG(seed, number))
	noise := make([]float64, int(seconds*sampleRate)+1)
	for i := range noise {
		noise[i] = 2*chance.Float64() - 1
	}
	// Two second-order filters with these qualities make a Butterworth filter
	// of the fourth order, which falls by 24 dB an octave.
	for _, quality := range []float64{0.54, 1.31} {
		highPass(noise, 7200, quality)
		lowPass(noise, 13000, quality)
	}
	return noise
}

// hat is a hat or, with a slow attack, the stroke of a shaker.
func (t track) hat(start, attack, fall, strength, place float64, number uint64) {
	length := attack + 6*fall
	noise := hiss(length, number)
	t.play(start, length, place, func(at float64) float64 {
		return strength * noise[int(math.Round(at*sampleRate))] * decay(at/fall) * swell(at, attack, length, fall)
	})
}

// highPass and lowPass run a second-order filter over the sound, with the
// coefficients of Robert Bristow-Johnson's "Cookbook formulae for audio EQ
// biquad filter coefficients" (written from memory).
func highPass(sound []float64, frequency, quality float64) {
	cosine := math.Cos(2 * math.Pi * frequency / sampleRate)
	secondOrder(sound, frequency, quality, (1+cosine)/2, -(1 + cosine))
}

func lowPass(sound []float64, frequency, quality float64) {
	cosine := math.Cos(2 * math.Pi * frequency / sampleRate)
	secondOrder(sound, frequency, quality, (1-cosine)/2, 1-cosine)
}

// secondOrder is the filter whose numerator is outer, middle, outer, and whose
// denominator all filters of that frequency and quality share.
func secondOrder(sound []float64, frequency, quality, outer, middle float64) {
	angle := 2 * math.Pi * frequency / sampleRate
	cosine, alpha := math.Cos(angle), math.Sin(angle)/(2*quality)
	a0 := 1 + alpha
	b0, b1 := outer/a0, middle/a0
	a1, a2 := -2*cosine/a0, (1-alpha)/a0
	x1, x2, y1, y2 := 0.0, 0.0, 0.0, 0.0
	for i, x := range sound {
		y := b0*x + b1*x1 + b0*x2 - a1*y1 - a2*y2
		x1, x2, y1, y2 = x, x1, y, y1
		sound[i] = y
	}
}

// room adds the echo of a small room: on each side four feedback combs side
// by side, then two all-passes (Schroeder, "Natural Sounding Artificial
// Reverberation", 1962). The delays share no factor, and the right side's are
// a little longer, which makes the room wide.
func (t track) room(strength float64) {
	combs := [4]int{1557, 1617, 1491, 1422}
	passes := [2]int{225, 556}
	const feedback, passFeedback, widening = 0.80, 0.5, 23
	for side := range t {
		dry := t[side]
		wet := make([]float64, len(dry))
		for _, delay := range combs {
			delay += side * widening
			line := make([]float64, delay)
			dulled := 0.0
			for i, x := range dry {
				echo := line[i%delay]
				dulled = 0.7*echo + 0.3*dulled // soft walls swallow the highs first
				line[i%delay] = x + feedback*dulled
				wet[i] += echo / 4
			}
		}
		for _, delay := range passes {
			delay += side * widening
			line := make([]float64, delay)
			for i, x := range wet {
				echo := line[i%delay]
				y := echo - passFeedback*x
				line[i%delay] = x + passFeedback*y
				wet[i] = y
			}
		}
		for i := range dry {
			dry[i] += strength * wet[i]
		}
	}
}
