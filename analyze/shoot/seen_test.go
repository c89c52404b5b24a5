package shoot

import (
	"strings"
	"testing"

	"colonnade/compose/picture"
)

// The rule is the sensor's: what it shows as white was at least as bright.
func TestWhatIsBurntOutWasAtLeastAsBrightAsItSeems(t *testing.T) {
	at := func(code uint16, white uint8) *Shot {
		s := &Shot{white: []uint8{white}}
		for c := range s.codes {
			s.codes[c] = []uint16{code * codeUnit}
		}
		return s
	}
	for _, c := range []struct {
		name               string
		code, other        uint16
		white, otherWhite  uint8
		want, wantReversed int32
	}{
		{"neither is burnt out", 200, 230, 0, 0, 30, 30},
		{"the darker one is", 200, 230, 7, 0, 0, 0},
		{"the brighter one is", 200, 230, 0, 7, 30, 30},
		{"both are", 200, 230, 7, 7, 0, 0},
		{"the darker one is in red alone", 200, 230, 1, 0, 30, 30},
	} {
		s, o := at(c.code, c.white), at(c.other, c.otherWhite)
		if got, back := s.apart(o, 0)/codeUnit, o.apart(s, 0)/codeUnit; got != c.want || back != c.wantReversed {
			t.Errorf("%s: %d steps apart, and %d the other way; want %d and %d", c.name, got, back, c.want, c.wantReversed)
		}
	}
}

// Compression speckles the stage above a stack; a gap is where an object looks like the stage. The rows are drawn by hand.
func TestTopOfAStackIsThatOfItsParts(t *testing.T) {
	const width, height = 40, 60
	b := &Base{reduced: &reduced{width: width, height: height}}
	marks, inside := make([]uint8, width*height), []int{}
	fill := func(x0, y0, x1, y1 int) {
		for y := y0; y < y1; y++ {
			for x := x0; x < x1; x++ {
				marks[y*width+x] = 1
			}
		}
	}
	for i := range marks {
		inside = append(inside, i)
	}
	fill(10, 40, 30, 55)
	if s := b.stackOf(marks, inside); s.top != 40 || s.bottom != 55 {
		t.Errorf("an object from 40 to 55 is found from %d to %d", s.top, s.bottom)
	}
	fill(5, 8, 12, 10) // 14 specks, as wide as a third of the object
	if s := b.stackOf(marks, inside); s.top != 40 || s.bottom != 55 {
		t.Errorf("with specks above it from %d to %d", s.top, s.bottom)
	}
	fill(12, 20, 28, 28)
	if s := b.stackOf(marks, inside); s.top != 20 || s.bottom != 55 {
		t.Errorf("with another object on one that is not seen from %d to %d, want 20 to 55", s.top, s.bottom)
	}
	scattered := make([]uint8, len(marks))
	for i := range scattered {
		scattered[i] = uint8((i%width + i/width) % 3 / 2) // a third of all
	}
	if n := counted(b.dense(scattered), inside); n != 0 {
		t.Errorf("%d of pixels that are scattered over the picture hang together", n)
	}
	if n := counted(b.dense(marks), inside); n < 20*15+16*8-40 {
		t.Errorf("of two objects with %d pixels %d hang together", 20*15+16*8, n)
	}
}

// softScenery is out of focus itself: its blur can not tell whether a photo is blurred.
func softScenery(s set) *stage { return s.empty.blurred(24) }

// On such a stage what stands in the columns tells it, and no other photo is accused.
func TestBlurIsToldByTheObjectsOnASoftStage(t *testing.T) {
	s := newSet(24, 3, 4, 0.5)
	s.empty = softScenery(s)
	photos := s.photos()
	base, known := NewBase(photos[0], curve, s.regions()), map[*picture.Picture]*Shot{}
	_, report := judgedBy(base, photos, 1, known)
	named(t, report.Faults, nil)
	for level := 1; level <= s.levels; level++ {
		blurred := replaced(photos, level, s.take(s.build(s.empty, level, nil), level, taking{blur: 4}))
		_, report := judgedBy(base, blurred, 1, known)
		named(t, report.Faults, []string{"photo-" + string(rune('0'+level)) + ": it is blurred"})
	}
}

// A way through all photos is shorter where one that is far out of focus comes last; it stays where it is all the same.
func TestBlurredPhotoKeepsItsPlace(t *testing.T) {
	s := newSet(27, 3, 5, 0.5)
	photos := s.photos()
	photos[4] = s.take(s.build(s.empty, 4, nil), 4, taking{blur: 14})
	_, report := judged(photos, s.regions(), 1)
	named(t, report.Faults, []string{"photo-4: it is blurred"})
}

// A light that is off by noise alone is no tint.
func TestNoiseInDarkColoursIsNoTint(t *testing.T) {
	s := newSet(26, 3, 4, 1)
	for i := range s.empty.rgb { // a stage with next to no blue
		if i%3 == 2 {
			s.empty.rgb[i] *= 0.05
		}
	}
	photos := s.photos()
	photos[2] = s.take(s.build(s.empty, 2, nil), 2, taking{noise: 8})
	_, report := judged(photos, s.regions(), 1)
	named(t, report.Faults, []string{"photo-2: its noise is"})
}

// Blur on a soft stage can take away all that sharpness and shift are measured by. Where the other photos' shifts are known, one
// whose shift is not may be blurred, and that is said once, by steady's note where it is at work; where no shift is known
// nothing sets one apart.
func TestPhotoWhoseShiftAloneIsUnknownMayBeBlurred(t *testing.T) {
	s := newSet(24, 2, 3, 0.5)
	photos := s.photos()
	base, known := NewBase(photos[0], curve, s.regions()), map[*picture.Picture]*Shot{}
	judgedBy(base, photos, 1, known)
	forget := func(level int) {
		shot := *known[photos[level]]
		shot.ShiftTrusted, shot.Sharpness, shot.Confidence = false, 0, 0.99
		known[photos[level]] = &shot
	}
	noted := func() (notes []Finding) {
		_, report := judgedBy(base, photos, 1, known)
		named(t, report.Faults, nil)
		for _, n := range report.Notes {
			if strings.Contains(n.What, "may be blurred") {
				notes = append(notes, n)
			}
		}
		return notes
	}
	if notes := noted(); len(notes) != 0 {
		t.Errorf("all shifts are known: %v", notes)
	}
	forget(2)
	if notes := noted(); len(notes) != 1 || notes[0].Where != "photo-2" {
		t.Errorf("one shift is not known: %v", notes)
	}
	if m := known[photos[2]].Mend(); m.ShiftDoubt != unclear || m.Shift != [2]int64{} {
		t.Errorf("steady moves it by %v, and says %q", m.Shift, m.ShiftDoubt)
	}
	forget(1)
	forget(3)
	if notes := noted(); len(notes) != 0 {
		t.Errorf("no shift is known: %v", notes)
	}
}
