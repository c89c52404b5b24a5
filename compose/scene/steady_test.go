package scene

import (
	"bytes"
	"image"
	"sync/atomic"
	"testing"

	"colonnade/analyze/levels"
	"colonnade/compose/photos"
	"colonnade/compose/picture"
)

// measuring stands in for the measure: every photo of the set is twice as bright as the base plate.
func measuring(calls *atomic.Int32, got func(level int)) func(*picture.Picture) func(*picture.Picture, int) photos.Correction {
	return func(*picture.Picture) func(*picture.Picture, int) photos.Correction {
		return func(_ *picture.Picture, level int) photos.Correction {
			calls.Add(1)
			got(level)
			return photos.Correction{Gain: [3]int64{2 * photos.GainUnit, 2 * photos.GainUnit, 2 * photos.GainUnit}, Shift: [2]int64{photos.ShiftUnit, 0}}
		}
	}
}

func TestSteadyChangesTheKey(t *testing.T) {
	set := photoSet(t)
	columns := []Column{{box(3, 3, 10, 20), 1}}
	seen := make(map[string]string)
	for what, steady := range map[string]Steady{"off": {}, "light": {Light: true}, "shift": {Shift: true}, "both": {Light: true, Shift: true}} {
		s := newScene(t, set, set.Size, columns, 0, false)
		plain := s.Key([]levels.Level{1000})
		s.SetSteady(steady)
		key := s.Key([]levels.Level{1000})
		if (key == plain) != (what == "off") {
			t.Errorf("steady %s: the key is the plain one: %v", what, key == plain)
		}
		if other, taken := seen[key]; taken {
			t.Errorf("%s and %s have the same key", what, other)
		}
		seen[key] = what
	}
}

func TestSteadyCorrectsPhotosBeforeTheView(t *testing.T) {
	set := photoSet(t)
	var calls atomic.Int32
	for _, steady := range []Steady{{Light: true}, {Shift: true}, {Light: true, Shift: true}} {
		s := newScene(t, set, image.Pt(20, 15), []Column{{box(3, 3, 10, 20), 1}}, 0, false)
		calls.Store(0)
		steady.Measure = measuring(&calls, func(level int) {
			if level < 1 || level > 2 {
				t.Errorf("level %d is measured; the base plate is level 0, the set ends at 2", level)
			}
		})
		s.SetSteady(steady)
		if calls.Load() != 0 {
			t.Error("something is measured before a photo is asked for")
		}
		base, err := set.Photos[0].Pixels()
		if err != nil {
			t.Fatal(err)
		}
		for level := range 3 {
			pixels, err := set.Photos[level].Pixels()
			if err != nil {
				t.Fatal(err)
			}
			correction := photos.Correction{}
			if steady.Light && level > 0 {
				correction.Gain = [3]int64{2 * photos.GainUnit, 2 * photos.GainUnit, 2 * photos.GainUnit}
			}
			if steady.Shift && level > 0 {
				correction.Shift = [2]int64{photos.ShiftUnit, 0}
			}
			want := picture.Whole(s.View.Apply(correction.Apply(pixels, base, s.profile.Curve), s.profile.Curve))
			got, err := s.Photo(level)
			if err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(got.Pix, want.Pix) {
				t.Errorf("%v %v: level %d is not the corrected photo", steady.Light, steady.Shift, level)
			}
		}
		s.Drop()
		if _, err := s.Photo(1); err != nil {
			t.Fatal(err)
		}
		if calls.Load() != 2 {
			t.Errorf("%d measures of two photos, one decoded twice", calls.Load())
		}
	}
}
