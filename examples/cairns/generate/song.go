package main

import (
	"bufio"
	"encoding/binary"
	"math"
)

// The song: eleven bars of four at 120 beats a minute in D major, between two
// half seconds of silence. The layers come in bar by bar, leave for a break,
// and come back fuller.
//
//	bar       1  2  3  4  5  6  7  8  9  10   11
//	chord     D  Bm G  A  D  Bm G  A  D  G A  D
//	chords    .  .  .  .  x  x  .  .  x  x    x
//	plucks       .  .  .  x  x  x  x  x  x    .
//	bass            .  x  x  x     .  x  x    x
//	hats               .  x  x     .  x  x    .
//	kick                  x  x     .  x  x    x
const (
	songSeconds  = 24.0
	songStart    = 0.5
	beat         = 0.5
	bar          = 4 * beat
	fadeStart    = 22.6 // the last chord is let go from here
	fadeEnd      = 23.48
	fullPeak     = 0.891 // -1 dB below full scale
	lastBarStart = songStart + 10*bar
)

// Chords are named by their root; the voices move as little as they can.
// Numbers are MIDI notes.
var (
	chordD  = []int{62, 66, 69, 76}
	chordBm = []int{62, 66, 71, 74}
	chordG  = []int{62, 67, 71, 78}
	chordA  = []int{64, 69, 73, 76}
)

// composeSong returns the finished mix, its peak at fullPeak.
func composeSong() track {
	mix := newTrack(songSeconds)
	air := newTrack(songSeconds) // what sounds in the room
	composeChords(air)
	composePlucks(air)
	air.room(0.22)
	composeBass(mix)
	composeKick(mix)
	composeHats(mix)

	peak := 0.0
	for side := range mix {
		for i := range mix[side] {
			at := float64(i) / sampleRate
			mix[side][i] = (mix[side][i] + air[side][i]) * (1 - smooth(fadeStart, fadeEnd, at))
			peak = max(peak, math.Abs(mix[side][i]))
		}
	}
	for side := range mix {
		for i := range mix[side] {
			mix[side][i] *= fullPeak / peak
		}
	}
	return mix
}

// barStart is the time of a beat of a bar; both are counted from 1.
func barStart(number int, beats float64) float64 {
	return songStart + float64(number-1)*bar + (beats-1)*beat
}

func composeChords(t track) {
	// One slow breath a bar.
	t.chord(barStart(1, 1), bar+0.1, 0.7, 3, chordD, 0.030)
	t.chord(barStart(2, 1), bar+0.1, 0.35, 2, chordBm, 0.040)
	t.chord(barStart(3, 1), bar+0.1, 0.15, 1.2, chordG, 0.052)
	t.chord(barStart(4, 1), 1.1, 0.05, 0.9, chordA, 0.058)
	t.chord(barStart(4, 3), 1.1, 0.05, 0.9, chordA, 0.050)
	// Short strokes that push against the beat.
	strokes := func(number int, notes []int, strength float64, beats ...float64) {
		for i, at := range beats {
			fall := 0.38
			if i%2 == 1 {
				fall = 0.24
			}
			t.chord(barStart(number, at), 0.85, 0.012, fall, notes, strength*(1-0.12*float64(i%3)))
		}
	}
	strokes(5, chordD, 0.072, 1, 2.5, 4)
	strokes(6, chordBm, 0.072, 1, 2.5, 3.5)
	// The break: one long chord, and one that grows towards the return.
	t.chord(barStart(7, 1), bar+0.2, 0.03, 1.1, chordG, 0.070)
	t.chord(barStart(8, 1), bar, 1.6, 3, chordA, 0.062)
	strokes(9, chordD, 0.088, 1, 2.5, 3.5, 4.5)
	strokes(10, chordG, 0.088, 1, 2)
	strokes(10, chordA, 0.090, 3, 3.75, 4.5)
	// The end.
	t.chord(lastBarStart, 2.9, 0.02, 1.0, append([]int{57}, chordD...), 0.085)
}

func composePlucks(t track) {
	// line plays a row of notes at equal steps; 0 is a rest.
	line := func(number int, first, step, strength float64, notes ...int) {
		for i, note := range notes {
			if note == 0 {
				continue
			}
			place := 0.5
			if i%2 == 1 {
				place = -0.5
			}
			// The middle of a phrase is louder than its ends.
			arch := 0.7 + 0.3*math.Sin(math.Pi*(float64(i)+0.5)/float64(len(notes)))
			t.pluck(barStart(number, first+step*float64(i)), note, strength*arch, place)
		}
	}
	line(2, 1, 1, 0.075, 0, 105, 102, 0)
	line(3, 1, 0.5, 0.090, 107, 0, 105, 0, 102, 0, 98, 0)
	line(4, 1, 0.5, 0.095, 100, 0, 105, 0, 107, 105, 0, 100)
	line(5, 1, 0.5, 0.120, 98, 102, 105, 0, 107, 105, 102, 0)
	line(6, 1, 0.5, 0.120, 107, 0, 105, 102, 98, 0, 102, 105)
	line(7, 1, 0.5, 0.135, 102, 107, 0, 105, 102, 0, 98, 0)
	line(8, 1, 0.5, 0.110, 100, 0, 0, 0, 105, 0, 0, 0)
	line(8, 3, 0.25, 0.115, 100, 102, 105, 107, 105, 107, 105, 107)
	line(9, 1, 0.25, 0.150, 98, 102, 105, 102, 107, 105, 102, 105, 98, 102, 105, 102, 107, 0, 105, 0)
	line(10, 1, 0.25, 0.150, 98, 0, 107, 102, 107, 105, 102, 98, 100, 105, 0, 100, 105, 107, 105, 100)
	line(11, 1, 1, 0.120, 102, 105, 98, 0)
}

func composeBass(t track) {
	// line plays notes of which each lasts until the next begins.
	type tone struct {
		at     float64
		note   int
		length float64
	}
	line := func(number int, strength float64, tones ...tone) {
		for _, tone := range tones {
			t.bass(barStart(number, tone.at), tone.length*beat, tone.note, strength)
		}
	}
	const d, g, a, b, e, f = 50, 43, 45, 47, 52, 42
	line(3, 0.20, tone{1, g, 2.8}, tone{4, b, 0.9})
	line(4, 0.24, tone{1, a, 1.8}, tone{3, e, 0.9}, tone{4, a, 0.9})
	line(5, 0.30, tone{1.5, d, 0.9}, tone{2.5, a, 0.45}, tone{3, d, 0.9}, tone{4.5, a, 0.45})
	line(6, 0.30, tone{1.5, b, 0.9}, tone{2.5, f, 0.45}, tone{3, b, 0.9}, tone{4, a, 0.45}, tone{4.5, f, 0.45})
	line(8, 0.26, tone{3, a, 1.4}, tone{4.5, e, 0.45})
	line(9, 0.34, tone{1, d, 0.7}, tone{1.75, d, 0.45}, tone{2.5, a, 0.7}, tone{3.5, f, 0.45}, tone{4, a, 0.9})
	line(10, 0.34, tone{1, g, 0.7}, tone{1.75, g, 0.45}, tone{2.5, b, 0.45}, tone{3, a, 0.7}, tone{3.75, e, 0.45}, tone{4.5, a, 0.45})
	t.bass(lastBarStart, 2.6, d, 0.34)
}

func composeKick(t track) {
	kicks := func(number int, strength float64, beats ...float64) {
		for _, at := range beats {
			t.kick(barStart(number, at), strength)
		}
	}
	kicks(5, 0.46, 1, 3)
	kicks(6, 0.50, 1, 2.75, 3.5)
	kicks(8, 0.40, 4.5)
	kicks(9, 0.58, 1, 2, 3, 4)
	kicks(10, 0.58, 1, 2, 3, 4, 4.5)
	kicks(11, 0.58, 1)
}

func composeHats(t track) {
	number := uint64(1000) // every stroke has noise of its own
	hat := func(bar int, at, fall, strength float64) {
		number++
		t.hat(barStart(bar, at), 0.002, fall, strength, 0.25, number)
	}
	shake := func(bar int, at, strength float64) {
		number++
		t.hat(barStart(bar, at)-0.03, 0.035, 0.04, strength, -0.3, number)
	}
	for step := 0.0; step < 4; step++ {
		shake(4, 1.5+step, 0.20+0.02*step)
		hat(5, 1.5+step, 0.05, 0.30)
		hat(6, 1.5+step, 0.05, 0.32)
		shake(5, 1+step, 0.20)
		shake(6, 1+step, 0.20)
		hat(9, 1.5+step, 0.10, 0.38)
		hat(10, 1.5+step, 0.10, 0.38)
	}
	hat(6, 4.75, 0.05, 0.22)
	for step := 0.0; step < 8; step++ {
		shake(8, 3+step/4, 0.07+0.03*step) // a crescendo into the return
		shake(9, 1+step/2, 0.24)
		shake(10, 1+step/2, 0.24)
	}
	hat(11, 1, 0.28, 0.34)
}

// writeWAV writes the sound as 16-bit stereo PCM in a RIFF file.
func writeWAV(out *bufio.Writer, sound track) error {
	const channels, bytesPerFrame = 2, 4
	size := uint32(len(sound[0]) * bytesPerFrame)
	out.WriteString("RIFF")
	binary.Write(out, binary.LittleEndian, 36+size)
	out.WriteString("WAVEfmt ")
	binary.Write(out, binary.LittleEndian, struct {
		Size              uint32
		Format, Channels  uint16
		Rate, BytesPerSec uint32
		Block, Bits       uint16
	}{16, 1, channels, sampleRate, sampleRate * bytesPerFrame, bytesPerFrame, 16})
	out.WriteString("data")
	binary.Write(out, binary.LittleEndian, size)
	var err error
	for i := range sound[0] {
		frame := [channels]int16{sample16(sound[0][i]), sample16(sound[1][i])}
		_, err = out.Write([]byte{byte(frame[0]), byte(frame[0] >> 8), byte(frame[1]), byte(frame[1] >> 8)})
	}
	return err // a bufio.Writer keeps its first error
}

func sample16(value float64) int16 {
	return int16(math.Round(clamp(value, -1, 1) * 32767))
}
