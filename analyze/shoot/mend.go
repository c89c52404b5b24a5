package shoot

import (
	"fmt"
	"math"
)

const (
	// leastMendedLight is by how many stops a photo must be off to be mended: what is measured to 0.005 stops is not
	// better known to be off than to be right below half of that.
	leastMendedLight = 0.0025
	// leastMendedShift is the same in pixels. To move a photo costs it a trace of sharpness.
	leastMendedShift = 0.1
	// wholeWithin is by how many steps of ShiftUnit a shift may be off whole pixels and yet be taken for whole, half of
	// what it is known to: moved by whole pixels a photo keeps every one of its values.
	wholeWithin = 3
	// betterBy is the share by which moving a photo must bring it nearer to the base plate, in percent.
	betterBy = 2
)

// Mend is what steady may do to a photo, and what it leaves alone.
type Mend struct {
	Gain  [3]int64 // of the photo's light against the base plate's, in GainUnit; zeros to leave it
	Shift [2]int64 // of the scene, in ShiftUnit; zeros to leave it
	// Doubts say why the light, or the shift, is left as it is although it may be off; "" when it is not in doubt.
	LightDoubt, ShiftDoubt string
}

// Mend decides which corrections would bring the photo nearer to the base plate. One that is not sure to is not made.
func (m *Measure) Mend() Mend {
	var out Mend
	off := math.Abs(m.Light)
	for _, v := range m.Channels {
		off = max(off, math.Abs(v))
	}
	switch {
	case !m.LightTrusted:
		out.LightDoubt = "its light can not be compared with the base plate's"
	case off < leastMendedLight:
	case m.even >= m.asIs:
		out.LightDoubt = "to even out its light would bring it no nearer to the base plate"
	default:
		out.Gain = m.gains
	}
	switch {
	case m.Dull && !m.ShiftTrusted:
		out.ShiftDoubt = "it has too little still detail for its shift to be told"
	case !m.ShiftTrusted && m.Confidence >= minConfidence:
		out.ShiftDoubt = unclear
	case !m.ShiftTrusted:
		out.ShiftDoubt = fmt.Sprintf("its shift is not known surely (the match is %.2f, %.1f is wanted)", m.Confidence, minConfidence)
	case math.Hypot(m.Shift[0], m.Shift[1]) < leastMendedShift:
	case m.left*100 > m.inPlace*(100-betterBy):
		out.ShiftDoubt = "to move it would bring it no nearer to the base plate"
	default:
		out.Shift = [2]int64{nearWhole(m.shift[0]), nearWhole(m.shift[1])}
	}
	return out
}

// unclear is a photo that matches the base plate as a whole, but holds nothing that is sharp enough for its place to be told.
const unclear = "none of its still parts is clear enough for its shift to be told (it may be blurred)"

// nearWhole is a shift in whole pixels when it is hardly off them.
func nearWhole(shift int64) int64 {
	whole := nearest(shift, ShiftUnit) * ShiftUnit
	if off := shift - whole; off <= wholeWithin && off >= -wholeWithin {
		return whole
	}
	return shift
}
