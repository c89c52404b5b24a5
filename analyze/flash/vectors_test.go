package flash

import (
	"image"
	"testing"

	"colonnade/analyze/levels"
	"colonnade/analyze/timing"
	"colonnade/compose/light"
	"colonnade/compose/picture"
	"colonnade/masks"
)

var sRGB = NewColour(&light.SRGB().Linear, [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}})

type colour [3]uint8

func grey(v uint8) colour { return colour{v, v, v} }

// flat is a picture of one colour.
func flat(width, height int, c colour) *picture.Picture {
	p := picture.New(width, height)
	for i := range p.Pix {
		p.Pix[i] = c[i%3]
	}
	return p
}

// box is a mask with hard edges.
func box(x, y, width, height int) *masks.Mask {
	m := &masks.Mask{Alpha: make([]uint16, width*height)}
	m.Rect.Min.X, m.Rect.Min.Y, m.Rect.Max.X, m.Rect.Max.Y = x, y, x+width, y+height
	for i := range m.Alpha {
		m.Alpha[i] = masks.Full
	}
	return m
}

// read is a scene as Warnings takes it.
func read(s *picture.Scene) *Scene {
	return &Scene{Base: s.Base, Photos: picture.Readers(s.Photos), Masks: s.Masks, Curve: s.Curve}
}

func warn(s *picture.Scene, colour *Colour, table *levels.Table) []Warning {
	return Warnings(read(s), colour, table)
}

// stage is a scene of one column that shows plain colours, one a level, over a base of the first.
func stage(width, height int, column *masks.Mask, colours ...colour) *picture.Scene {
	s := &picture.Scene{Base: flat(width, height, colours[0]), Masks: []*masks.Mask{column}, Curve: light.SRGB()}
	for _, c := range colours {
		s.Photos = append(s.Photos, flat(width, height, c))
	}
	return s
}

func rate(t *testing.T, text string) timing.Rate {
	t.Helper()
	r, err := timing.ParseRate(text)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// square is a table of one column that takes turns between levels 0 and 1, half frames each, for seconds.
func square(r timing.Rate, half int, seconds float64) *levels.Table {
	table := &levels.Table{Rate: r, First: 1, Names: []string{"drum"}}
	for n := range int(seconds * r.PerSecond()) {
		table.Rows = append(table.Rows, []levels.Level{levels.Level(n / half % 2 * 1000)})
	}
	return table
}

// of picks the warnings of a kind by one standard.
func of(warnings []Warning, standard string, kind Kind) (out []Warning) {
	for _, w := range warnings {
		if w.Standard == standard && w.Kind == kind {
			out = append(out, w)
		}
	}
	return out
}

// Pairs of colours that take turns fast and over the whole frame. Thresholds: WCAG 2.2, definition of general flash and
// red flash thresholds; the values beside the pairs are computed from its formulas for relative luminance and, for u'v',
// from CIE 1976 UCS with the matrix of IEC 61966-2-1.
func TestWhichPairsOfColoursFlash(t *testing.T) {
	r := rate(t, "25")
	for _, c := range []struct {
		a, b         colour
		general, red bool
		why          string
	}{
		{grey(0), grey(89), false, false, "a step of .09990"},
		{grey(0), grey(90), true, false, "a step of .10224"},
		{grey(128), grey(157), true, false, "a step of .12130"},
		{grey(231), grey(255), true, false, "the darker is .79910"},
		{grey(232), grey(255), false, false, "the darker is .80695"},
		{grey(0), grey(255), true, false, "black and white"},
		{grey(255), grey(255), false, false, "no step"},
		{colour{255, 0, 0}, grey(255), true, true, "u'v' .45070, .52289 and .19784, .46834 are .25868 apart"},
		{colour{200, 50, 50}, grey(128), false, false, "a ratio of .9005, but .19794 apart"},
		{colour{255, 100, 100}, grey(255), true, false, "a ratio of .7969"},
		{colour{255, 0, 0}, colour{64, 0, 0}, true, false, "the same hue"},
		{colour{255, 128, 0}, colour{255, 0, 0}, true, false, "a ratio of .8225, but .13219 apart"},
		{colour{255, 0, 0}, grey(0), true, true, "black stands at the white point"},
		{colour{20, 0, 0}, grey(0), false, false, "R+G+B of .0070 is black, less than a hundredth of white's"},
		{colour{120, 0, 0}, grey(50), false, true, "luminances .0402 and .0319"},
		{colour{0, 0, 255}, colour{0, 255, 0}, true, false, "no red"},
		{colour{255, 0, 0}, colour{0, 0, 255}, true, true, "red and blue"},
	} {
		warnings := warn(stage(32, 24, box(0, 0, 32, 24), c.a, c.b), sRGB, square(r, 2, 3))
		for _, standard := range []string{WCAG, BT1702} {
			if got := len(of(warnings, standard, General)) > 0; got != c.general {
				t.Errorf("%v and %v: a general flash by %s is %v, want %v: %s", c.a, c.b, standard, got, c.general, c.why)
			}
			if got := len(of(warnings, standard, Red)) > 0; got != c.red {
				t.Errorf("%v and %v: a red flash by %s is %v, want %v: %s", c.a, c.b, standard, got, c.red, c.why)
			}
		}
	}
}

// A whole frame that takes turns between black and white, so many frames each. Seven changes in a second are too many
// (W3C technique G19: three flashes are allowed, that is six changes). Counts computed.
func TestHowOftenIsTooOften(t *testing.T) {
	scene := stage(32, 24, box(0, 0, 32, 24), grey(0), grey(255))
	for _, c := range []struct {
		rate           string
		half           int // frames
		open, closed   int // changes in a half-open and in a closed second
		warns, atLimit bool
	}{
		{"23.976", 3, 8, 8, true, false}, {"23.976", 4, 6, 6, false, false},
		{"24", 3, 8, 9, true, false}, {"24", 4, 6, 7, true, true}, {"24", 5, 5, 5, false, false},
		{"25", 4, 7, 7, true, false}, {"25", 5, 5, 6, false, false},
		{"29.97", 4, 8, 8, true, false}, {"29.97", 5, 6, 6, false, false},
		{"30", 4, 8, 8, true, false}, {"30", 5, 6, 7, true, true}, {"30", 6, 5, 6, false, false},
		{"50", 8, 7, 7, true, false}, {"50", 9, 6, 6, false, false},
		{"59.94", 9, 7, 7, true, false}, {"59.94", 10, 6, 6, false, false},
		{"60", 9, 7, 7, true, false}, {"60", 10, 6, 7, true, true}, {"60", 11, 6, 6, false, false},
		{"25", 1, 25, 26, true, false}, {"60", 1, 60, 61, true, false}, {"6", 1, 6, 7, true, true}, {"5", 1, 5, 6, false, false},
	} {
		r := rate(t, c.rate)
		for _, standard := range []string{WCAG, BT1702} {
			got := of(warn(scene, sRGB, square(r, c.half, 5)), standard, General)
			if (len(got) > 0) != c.warns {
				t.Errorf("%s frames a second, %d frames each: %v, want a warning %v", c.rate, c.half, got, c.warns)
				continue
			}
			if !c.warns {
				continue
			}
			w := got[0]
			// The first change is at frame half, so of seconds that begin with it.
			if len(got) != 1 || w.Changes != c.closed || w.AtLimit != c.atLimit || w.Flashes != float64(c.closed)/2 || w.Share != 1 {
				t.Errorf("%s frames a second, %d frames each: %+v, want %d changes, at the limit %v", c.rate, c.half, got, c.closed, c.atLimit)
			}
			if (c.open > mostChanges) == c.atLimit {
				t.Errorf("%s frames a second, %d frames each: the row contradicts itself", c.rate, c.half)
			}
			last := (int(5*r.PerSecond()) - 1) / c.half * c.half
			if w.First != c.half+1 || w.Last != last+1 {
				t.Errorf("%s frames a second, %d frames each: frames %d to %d, want %d to %d", c.rate, c.half, w.First, w.Last, c.half+1, last+1)
			}
		}
	}
}

// The quarter of a field of 341 x 256 in a picture of 1024 x 768 is 21 824 pixels (W3C technique G176): a square of 147
// has 21 609, one of 148 21 904. That of the screen is 196 608: 443 squared is 196 249, 444 squared 197 136.
func TestHowLargeIsTooLarge(t *testing.T) {
	table := square(rate(t, "25"), 3, 2)
	for _, c := range []struct {
		side         int
		wcag, bt1702 bool
	}{{147, false, false}, {148, true, false}, {443, true, false}, {444, true, true}} {
		for _, at := range [][2]int{{0, 0}, {1024 - c.side, 768 - c.side}, {333, 251}} {
			warnings := warn(stage(1024, 768, box(at[0], at[1], c.side, c.side), grey(0), grey(255)), sRGB, table)
			if got := len(of(warnings, WCAG, General)) > 0; got != c.wcag {
				t.Errorf("a square of %d at %v: a warning by %s is %v, want %v", c.side, at, WCAG, got, c.wcag)
			}
			if got := len(of(warnings, BT1702, General)) > 0; got != c.bt1702 {
				t.Errorf("a square of %d at %v: a warning by %s is %v, want %v", c.side, at, BT1702, got, c.bt1702)
			}
			for _, w := range of(warnings, WCAG, General) {
				field := image.Rect(w.Field.X, w.Field.Y, w.Field.X+w.Field.Width, w.Field.Y+w.Field.Height)
				square := image.Rect(at[0], at[1], at[0]+c.side, at[1]+c.side)
				if both := field.Intersect(square).Size(); 4*both.X*both.Y <= 341*256 || !field.In(image.Rect(0, 0, 1024, 768)) {
					t.Errorf("a square of %d at %v: the field is %v", c.side, at, field)
				}
			}
		}
	}
}
