package shoot

import (
	"math"
	"testing"

	"colonnade/compose/photos"
	"colonnade/compose/picture"
)

// mendedError is the root mean square difference, in codes, from a photo that was taken without drift, of the photo as it is
// and as steady makes it. A frame of pixels at the border, which steady fills, is left out.
func mendedError(t *testing.T, s set, stage *stage, base *Base, plate *picture.Picture, c taking) (before, after float64) {
	t.Helper()
	truth := s.take(stage, 1, taking{})
	photo := s.take(stage, 1, c) // the same noise
	m := base.Measure(photo)
	mend := m.Mend()
	mended := photos.Correction{Gain: mend.Gain, Shift: mend.Shift}.Apply(photo, plate, curve)
	difference := func(p *picture.Picture) float64 {
		sum, n := 0.0, 0.0
		for y := 12; y < p.Height-12; y++ {
			for x := 12; x < p.Width-12; x++ {
				for c := range 3 {
					d := float64(p.Row(y)[3*x+c]) - float64(truth.Row(y)[3*x+c])
					sum, n = sum+d*d, n+1
				}
			}
		}
		return math.Sqrt(sum / n)
	}
	return difference(photo), difference(mended)
}

// The aims are the ones set: a tenth of the error for light, a third for shift. What is left of light is what rounding to
// 8 bits twice leaves, so that a drift of few codes can not fall by ten; it falls to less than half a code.
func TestSteadyTakesDriftAway(t *testing.T) {
	s := newSet(31, 3, 4, 0)
	full := s.build(s.empty, 4, nil)
	plate := s.take(s.empty, 0, taking{})
	base := NewBase(plate, curve, s.regions())
	for _, c := range []struct {
		taking
		times, codes float64
	}{
		{taking{gain: 0.8}, 10, 0.6}, {taking{gain: 1.2}, 10, 0.6}, {taking{gain: 1.1}, 10, 0.6}, {taking{gain: 0.9, tint: [3]float64{1.05, 1, 0.93}}, 10, 0.6}, {taking{gain: 1.03}, 2, 0.6},
		{taking{dx: 4, dy: -8}, 1000, 0}, {taking{dx: 32, dy: 12}, 1000, 0}, {taking{dx: 2}, 3, 6}, {taking{dx: 1, dy: 3}, 3, 6}, {taking{dx: 29, dy: -14}, 3, 6}, {taking{dx: 3, dy: 2, gain: 0.9}, 3, 6},
	} {
		before, after := mendedError(t, s, full, base, plate, c.taking)
		if after*c.times > before || after > c.codes {
			t.Errorf("%+v: an error of %.2f codes becomes %.2f, want a %.0fth and at most %.1f", c.taking, before, after, c.times, c.codes)
		}
		t.Logf("%+v: %.2f codes to %.2f", c.taking, before, after)
	}
}

// Noise, focus and turns can not be mended; what steady does to such a photo makes it no worse.
func TestSteadyNeverMakesWorse(t *testing.T) {
	s := newSet(32, 3, 4, 2)
	full := s.build(s.empty, 4, nil)
	plate := s.take(s.empty, 0, taking{})
	base := NewBase(plate, curve, s.regions())
	for _, c := range []taking{{}, {noise: 6}, {blur: 4}, {blur: 10}, {turn: 0.01}, {grow: 0.01}, {gain: 1.002}, {blur: 6, dx: 3, gain: 0.97}, {gain: 3}, {gain: 0.004}} {
		if before, after := mendedError(t, s, full, base, plate, c); after > before*1.01 {
			t.Errorf("%+v: an error of %.2f codes becomes %.2f", c, before, after)
		}
	}
	other := newScenery(photoWidth, photoHeight, 98)
	m := base.Measure(s.take(other, 1, taking{}))
	if mend := m.Mend(); mend.Shift != [2]int64{} || mend.ShiftDoubt == "" {
		t.Errorf("another scene would be moved: %+v", mend)
	}
}
