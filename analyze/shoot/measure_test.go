package shoot

import (
	"fmt"
	"math"
	"testing"

	"colonnade/compose/picture"
)

const photoWidth, photoHeight = 360, 240

// set is a stage with stones, from which photos are taken.
type set struct {
	stones
	empty *stage
	noise float64
	seed  uint64
}

func newSet(seed uint64, columns, levels int, noise float64) set {
	return set{stones{photoWidth, photoHeight, columns, levels, seed}, newScenery(photoWidth, photoHeight, seed), noise, seed}
}

// take photographs a stage; each photo has noise of its own.
func (s set) take(stage *stage, photo int, t taking) *picture.Picture {
	t.noise = max(t.noise, s.noise)
	t.seed = 1000*s.seed + uint64(photo)
	return stage.photograph(photoWidth, photoHeight, t)
}

// photos is a whole set, in level order.
func (s set) photos() []*picture.Picture {
	var out []*picture.Picture
	for level := range s.levels + 1 {
		out = append(out, s.take(s.build(s.empty, level, nil), level, taking{}))
	}
	return out
}

// The truth is the light by which the photos were taken; the limit is the one promised. Drift of a fifth either way
// is common practice for daylight behind thin clouds.
func TestLightIsKnownToFiveThousandthsOfAStop(t *testing.T) {
	s := newSet(3, 3, 4, 2)
	full := s.build(s.empty, 4, nil)
	for _, columns := range [][]Column{s.regions(), nil} {
		base := NewBase(s.take(s.empty, 0, taking{}), curve, columns)
		for i, c := range []taking{{gain: 0.8}, {gain: 0.9, noise: 4}, {gain: 0.95, dx: 9, dy: -5}, {gain: 0.99}, {gain: 1}, {gain: 1.01, noise: 4}, {gain: 1.05}, {gain: 1.2, dx: -2}} {
			m := base.Measure(s.take(full, i+1, c))
			if want := math.Log2(c.gain); math.Abs(m.Light-want) > 0.005 || !m.LightTrusted {
				t.Errorf("%d columns, %+v: %.4f stops (trusted %v), want %.4f", len(columns), c, m.Light, m.LightTrusted, want)
			}
			if m.Uneven != 0 {
				t.Errorf("%d columns, %+v: uneven by %.3f stops", len(columns), c, m.Uneven)
			}
		}
	}
}

func TestColourIsKnownByChannel(t *testing.T) {
	s := newSet(4, 2, 3, 1)
	base := NewBase(s.take(s.empty, 0, taking{}), curve, s.regions())
	tint := [3]float64{1.06, 1, 0.9}
	m := base.Measure(s.take(s.build(s.empty, 3, nil), 1, taking{tint: tint, gain: 1.1}))
	for c := range 3 {
		if want := math.Log2(1.1 * tint[c]); math.Abs(m.Channels[c]-want) > 0.005 {
			t.Errorf("channel %d: %.4f stops, want %.4f", c, m.Channels[c], want)
		}
	}
}

func TestLightThatChangesInOneCornerIsUneven(t *testing.T) {
	s := newSet(5, 2, 3, 1)
	base := NewBase(s.take(s.empty, 0, taking{}), curve, s.regions())
	dusk := s.empty.clone()
	dusk.shadow(0, 0, photoWidth, photoHeight, 0.2)
	if m := base.Measure(s.take(dusk, 1, taking{})); m.Uneven < visibleUneven {
		t.Errorf("a corner a fifth darker: uneven by %.3f stops", m.Uneven)
	}
}

// The photos are reduced by area from a stage drawn four times larger, so that quarters of a pixel are what a sensor
// sees. The limits are those promised: 0.1 pixel for whole ones, 0.15 for fractions, under noise and another light.
func TestShiftIsKnownToAFractionOfAPixel(t *testing.T) {
	s := newSet(6, 3, 4, 2)
	full := s.build(s.empty, 4, nil)
	for _, columns := range [][]Column{s.regions(), nil} {
		base := NewBase(s.take(s.empty, 0, taking{}), curve, columns)
		for i, quarters := range [][2]int{{0, 0}, {1, 0}, {2, -1}, {3, 2}, {-4, 8}, {5, -6}, {13, 0}, {-32, 20}, {31, -27}} {
			c := taking{dx: quarters[0], dy: quarters[1], gain: 1 - 0.03*float64(i), noise: 2 + float64(i%3)}
			m := base.Measure(s.take(full, i+1, c))
			limit := 0.15
			if quarters[0]%over == 0 && quarters[1]%over == 0 {
				limit = 0.1
			}
			offX, offY := m.Shift[0]-float64(c.dx)/over, m.Shift[1]-float64(c.dy)/over
			if !m.ShiftTrusted || math.Abs(offX) > limit || math.Abs(offY) > limit {
				t.Errorf("%d columns, %v quarters of a pixel: %.3f (trusted %v, match %.2f), off by %.3f and %.3f", len(columns), quarters, m.Shift, m.ShiftTrusted, m.Confidence, offX, offY)
			}
			if m.Corner != 0 {
				t.Errorf("%d columns, %v quarters of a pixel: a turn of %.3f degrees, a zoom of %.3f %%", len(columns), quarters, m.Rotation, m.Zoom)
			}
		}
	}
}

func TestTurnAndZoomAreToldFromAShift(t *testing.T) {
	s := newSet(7, 2, 3, 1)
	base := NewBase(s.take(s.empty, 0, taking{}), curve, s.regions())
	for i, c := range []taking{{turn: 0.006}, {turn: -0.008, dx: 8}, {grow: 0.006}, {grow: -0.008, turn: 0.004, dy: 4}} {
		m := base.Measure(s.take(s.empty, i+1, c))
		degrees, percent := c.turn*180/math.Pi, c.grow*100
		if math.Abs(m.Rotation-degrees) > 0.08 || math.Abs(m.Zoom-percent) > 0.14 {
			t.Errorf("%+v: turned by %.3f degrees, zoomed by %.3f %%, want %.3f and %.3f", c, m.Rotation, m.Zoom, degrees, percent)
		}
	}
}

func TestTheSamePhotoMatchesWhole(t *testing.T) {
	s := newSet(8, 2, 3, 3)
	photo := s.take(s.empty, 0, taking{})
	base := NewBase(photo, curve, s.regions())
	m := base.Measure(photo)
	if m.Light != 0 || m.Shift != [2]float64{} || m.Confidence != 1 || !m.LightTrusted || !m.ShiftTrusted || m.Sharpness != 1 {
		t.Errorf("%+v", m)
	}
	if mend := m.Mend(); mend != (Mend{}) {
		t.Errorf("it would be mended: %+v", mend)
	}
}

func TestNoiseIsKnownInSteps(t *testing.T) {
	s := newSet(9, 2, 3, 0)
	for i, noise := range []float64{1.5, 3, 6} {
		base := NewBase(s.take(s.empty, 0, taking{noise: noise}), curve, s.regions())
		m := base.Measure(s.take(s.empty, i+1, taking{noise: noise}))
		if math.Abs(m.Noise-noise) > 0.15*noise {
			t.Errorf("noise of %.1f steps: %.2f", noise, m.Noise)
		}
		// Noise is no detail: the photo is as sharp as the base plate.
		if math.Abs(m.Sharpness-1) > 0.1 {
			t.Errorf("noise of %.1f steps: sharpness %.2f", noise, m.Sharpness)
		}
	}
}

func TestBlurLowersSharpness(t *testing.T) {
	s := newSet(10, 2, 3, 1)
	base := NewBase(s.take(s.empty, 0, taking{}), curve, s.regions())
	last := 0.95
	for i, blur := range []int{2, 4, 8} {
		m := base.Measure(s.take(s.empty, i+1, taking{blur: blur}))
		if m.Sharpness >= last-0.05 {
			t.Errorf("blurred over %d quarters of a pixel: sharpness %.2f, less than %.2f wanted", blur, m.Sharpness, last)
		}
		last = m.Sharpness
	}
}

func TestBurntAreaIsKnown(t *testing.T) {
	s := newSet(11, 2, 3, 0)
	base := NewBase(s.take(s.empty, 0, taking{}), curve, s.regions())
	lamp := s.empty.clone()
	lamp.each(photoWidth/2, 8, 40, 8, func(_, _, r float64, rgb []float32) {
		if r < 1 {
			rgb[0], rgb[1], rgb[2] = 5, 5, 5
		}
	})
	m := base.Measure(s.take(lamp, 1, taking{}))
	want := math.Pi * 40 * 8 / (base.stillShare() * photoWidth * photoHeight)
	if math.Abs(m.Burnt-want) > 0.1*want {
		t.Errorf("burnt share %.4f, want %.4f", m.Burnt, want)
	}
}

func TestWhatCanNotBeToldIsNotTrusted(t *testing.T) {
	s := newSet(12, 2, 3, 2)
	base := NewBase(s.take(s.empty, 0, taking{}), curve, s.regions())
	other := newScenery(photoWidth, photoHeight, 99)
	if m := base.Measure(s.take(other, 1, taking{})); m.ShiftTrusted {
		t.Errorf("another scene: shift %.2f trusted, match %.2f", m.Shift, m.Confidence)
	}
	wall := newStage(s.empty.width, s.empty.height)
	for i := range wall.rgb {
		wall.rgb[i] = 0.2
	}
	plain := NewBase(s.take(wall, 0, taking{}), curve, s.regions())
	m := plain.Measure(s.take(wall, 1, taking{}))
	if m.ShiftTrusted || !m.LightTrusted || math.Abs(m.Light) > 0.005 {
		t.Errorf("a plain wall: %+v", m)
	}
	night := NewBase(s.take(s.empty, 0, taking{gain: 0.003}), curve, s.regions())
	if m := night.Measure(s.take(s.empty, 1, taking{gain: 0.003})); m.LightTrusted {
		t.Errorf("a photo as good as black: light %.3f trusted", m.Light)
	}
}

func TestTinyPhotosAreMeasured(t *testing.T) {
	for _, size := range [][2]int{{1, 1}, {3, 40}, {17, 9}, {64, 48}} {
		photo := picture.New(size[0], size[1])
		for i := range photo.Pix {
			photo.Pix[i] = uint8(40 + i*7%50)
		}
		m := NewBase(photo, curve, nil).Measure(photo)
		if m.Light != 0 || m.Shift != [2]float64{} {
			t.Errorf("%v: %+v", size, m)
		}
	}
}

// Everything that is decided rests on whole numbers and rounded figures: workers do not change it.
func TestMeasuresAreTheSameEachTime(t *testing.T) {
	s := newSet(13, 2, 3, 2)
	photo := s.take(s.build(s.empty, 2, nil), 1, taking{gain: 0.93, dx: 5, dy: 2})
	base := NewBase(s.take(s.empty, 0, taking{}), curve, s.regions())
	results := make(chan string)
	for range 3 {
		go func() { results <- fmt.Sprintf("%+v", base.Measure(photo)) }()
	}
	first := <-results
	for range 2 {
		if again := <-results; again != first {
			t.Errorf("%s, then %s", first, again)
		}
	}
}
