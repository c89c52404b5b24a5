package flash

import (
	"encoding/json"
	"image"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"colonnade/analyze/levels"
	"colonnade/analyze/timing"
	"colonnade/compose/light"
	"colonnade/compose/picture"
)

var pal = timing.Rate{Num: 25, Den: 1}

// table repeats rows for seconds at 25 frames a second.
func table(seconds int, rows ...[]levels.Level) *levels.Table {
	t := &levels.Table{Rate: pal, First: 1, Names: []string{"drum", "bass", "bells"}[:len(rows[0])]}
	for n := range 25 * seconds {
		t.Rows = append(t.Rows, rows[n%len(rows)])
	}
	return t
}

// row is levels in thousandths.
func row(thousandths ...levels.Level) []levels.Level { return thousandths }

func TestFadeOfSeveralFramesIsOneChange(t *testing.T) {
	// Light of 0, 1/4, 1/2, 3/4 and 1 in five photos, so that each of four steps would be a change by itself.
	curve := light.SRGB()
	var greys []colour
	for i := range 5 {
		greys = append(greys, grey(curve.Code(uint32(i*light.One/4))))
	}
	scene := stage(32, 24, box(0, 0, 32, 24), greys...)
	blackAndWhite := stage(32, 24, box(0, 0, 32, 24), grey(0), grey(255))
	for _, c := range []struct {
		name    string
		scene   *picture.Scene
		table   *levels.Table
		changes int // in a closed second; 0 for no warning
	}{
		{"three frames up, three down", blackAndWhite, table(3, row(0), row(333), row(667), row(1000), row(667), row(333)), 9},
		{"at once, three frames each", blackAndWhite, table(3, row(0), row(0), row(0), row(1000), row(1000), row(1000)), 9},
		{"four steps up, four down", scene, table(3, row(0), row(1000), row(2000), row(3000), row(4000), row(3000), row(2000), row(1000)), 7},
		{"ten frames up, ten down", blackAndWhite, table(3, row(0), row(100), row(200), row(300), row(400), row(500), row(600), row(700), row(800), row(900),
			row(1000), row(900), row(800), row(700), row(600), row(500), row(400), row(300), row(200), row(100)), 0},
		// Steps back of less than a tenth are no valleys.
		{"a fade that trembles", blackAndWhite, table(3, row(0), row(250), row(200), row(500), row(450), row(750), row(700), row(1000), row(950), row(1000)), 6},
		{"trembling alone", blackAndWhite, table(3, row(500), row(590)), 0},
		{"a stair without a way back", scene, table(1, row(0), row(0), row(1000), row(1000), row(2000), row(2000), row(3000), row(3000), row(4000)), 6},
	} {
		got := of(warn(c.scene, sRGB, c.table), WCAG, General)
		if c.changes <= mostChanges {
			if len(got) > 0 {
				t.Errorf("%s: %v", c.name, got)
			}
		} else if len(got) != 1 || got[0].Changes != c.changes {
			t.Errorf("%s: %+v, want %d changes", c.name, got, c.changes)
		}
	}
}

// two is a scene of two columns, black at level 0 and white at level 1.
func two(size image.Point, a, b image.Rectangle) *picture.Scene {
	s := stage(size.X, size.Y, box(a.Min.X, a.Min.Y, a.Dx(), a.Dy()), grey(0), grey(255))
	s.Masks = append(s.Masks, box(b.Min.X, b.Min.Y, b.Dx(), b.Dy()))
	return s
}

func TestPlacesAddUp(t *testing.T) {
	// A field is 42 x 32 pixels: a quarter is 336. A quarter of the screen is 3072.
	size := image.Pt(128, 96)
	left, right := image.Rect(4, 4, 20, 20), image.Rect(20, 4, 36, 20) // 256 pixels each
	far := image.Rect(100, 70, 116, 86)
	large, larger := image.Rect(0, 0, 32, 60), image.Rect(90, 0, 122, 60) // 1920 each
	together := table(2, row(0, 0), row(0, 0), row(1000, 1000), row(1000, 1000))
	opposed := table(2, row(1000, 0), row(1000, 0), row(0, 1000), row(0, 1000))
	for _, c := range []struct {
		name         string
		a, b         image.Rectangle
		table        *levels.Table
		wcag, bt1702 []string // the columns
	}{
		{"neighbours together", left, right, together, []string{"drum", "bass"}, nil},
		{"neighbours opposed", left, right, opposed, []string{"drum", "bass"}, nil},
		{"one alone", left, image.Rectangle{}, together, nil, nil},
		{"far from each other", left, far, together, nil, nil},
		{"one of them little", left.Union(right), image.Rect(36, 4, 37, 20), together, []string{"drum"}, nil},
		{"large, far from each other", large, larger, together, []string{"drum"}, []string{"drum", "bass"}},
	} {
		warnings := warn(two(size, c.a, c.b), sRGB, c.table)
		for standard, want := range map[string][]string{WCAG: c.wcag, BT1702: c.bt1702} {
			var got []string
			for _, w := range of(warnings, standard, General) {
				got = append(got, w.Columns...)
			}
			if !slices.Equal(got, want) {
				t.Errorf("%s: columns %q by %s, want %q", c.name, got, standard, want)
			}
		}
	}
}

// Two columns of a third of a field each, neither of which changes more than four times in a second: taking turns they
// make eight changes.
func TestPlacesThatTakeTurnsFlashTogether(t *testing.T) {
	dark, drum, bass := row(0, 0), row(1000, 0), row(0, 1000)
	turns := table(2, dark, dark, dark, drum, drum, drum, dark, dark, dark, bass, bass, bass)
	once := table(2, dark, dark, dark, dark, dark, dark, drum, drum, drum, drum, drum, drum)
	warned := warn(two(image.Pt(128, 96), image.Rect(0, 0, 21, 24), image.Rect(21, 0, 42, 24)), sRGB, turns)
	if got := of(warned, WCAG, General); len(got) != 1 || got[0].Changes != 9 || !slices.Equal(got[0].Columns, []string{"drum", "bass"}) || len(warned) != 1 {
		t.Errorf("taking turns: %+v", warned)
	}
	if got := warn(two(image.Pt(128, 96), image.Rect(0, 0, 21, 24), image.Rect(21, 0, 42, 24)), sRGB, once); got != nil {
		t.Errorf("one alone: %+v", got)
	}
	if got := warn(two(image.Pt(128, 96), image.Rect(0, 0, 21, 24), image.Rect(90, 0, 111, 24)), sRGB, turns); got != nil {
		t.Errorf("in different fields: %+v", got)
	}
}

func TestPassagesTellWhenAndWhere(t *testing.T) {
	table := &levels.Table{Rate: pal, First: 101, Names: []string{"drum"}}
	calm, burst := 100, 30
	for range 2 {
		for n := range burst {
			table.Rows = append(table.Rows, row(levels.Level(n/2%2*1000)))
		}
		for range calm {
			table.Rows = append(table.Rows, row(0))
		}
	}
	warnings := of(warn(stage(128, 96, box(60, 50, 30, 20), grey(0), grey(255)), sRGB, table), WCAG, General)
	if len(warnings) != 2 {
		t.Fatalf("%d passages: %+v", len(warnings), warnings)
	}
	// The first two frames of a burst are dark, so are its last two, the 29th and 30th, and all that follow: the first
	// change is in the third, the last in the 29th.
	for i, w := range warnings {
		first, last := 101+i*(burst+calm)+2, 101+i*(burst+calm)+28
		if w.First != first || w.Last != last || w.From != float64(first-1)/25 || w.To != float64(last)/25 {
			t.Errorf("passage %d: frames %d to %d, %g to %g s; want frames %d to %d", i, w.First, w.Last, w.From, w.To, first, last)
		}
		field, square := image.Rect(w.Field.X, w.Field.Y, w.Field.X+w.Field.Width, w.Field.Y+w.Field.Height), image.Rect(60, 50, 90, 70)
		if !square.In(field) || w.Share != 600./(42*32) || w.Hold != 5 || w.Changes != 13 {
			t.Errorf("passage %d: %+v", i, w)
		}
	}
}

// TestHoldAsAdvisedCalms: columns that hold each level as long as a warning says, in whatever order, do not flash.
func TestHoldAsAdvisedCalms(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	scene := stage(32, 24, box(0, 0, 32, 24), grey(0), grey(255), grey(90), grey(180))
	for _, text := range []string{"23.976", "24", "25", "29.97", "30", "50", "60"} {
		r := rate(t, text)
		wild := warn(scene, sRGB, square(r, 1, 2))
		if len(wild) == 0 {
			t.Fatalf("at %s: no warning", text)
		}
		held := &levels.Table{Rate: r, First: 1, Names: []string{"drum"}}
		for len(held.Rows) < 400 {
			level := levels.Level(random.IntN(4) * 1000)
			for range wild[0].Hold + random.IntN(2) {
				held.Rows = append(held.Rows, row(level))
			}
		}
		if got := warn(scene, sRGB, held); got != nil {
			t.Errorf("at %s frames a second, held for %d: %v", text, wild[0].Hold, got)
		}
		if got := warn(scene, sRGB, square(r, wild[0].Hold-1, 4)); got == nil {
			t.Errorf("at %s frames a second, held for %d: no warning; less would do", text, wild[0].Hold-1)
		}
	}
}

func TestLargeFramesAreLookedAtInSamples(t *testing.T) {
	scene := stage(4200, 60, box(100, 0, 1200, 60), grey(0), grey(255))
	a := newAnalysis(read(scene), sRGB, table(2, row(0), row(0), row(1000), row(1000)))
	if found := a.look(effort); found.step != 3 {
		t.Errorf("looked at one pixel in each square of %d, want 3", found.step)
	}
	// 1200 x 60 of a field of 1398 x 1050 that the frame cuts off: less than a quarter. Of the screen it is more.
	warnings := a.warnings(effort)
	if got := of(warnings, BT1702, General); len(warnings) != 1 || len(got) != 1 || got[0].Share < 0.28 || got[0].Share > 0.29 {
		t.Errorf("%+v", warnings)
	}
}

func TestColoursOfAWiderGamutAreSeenAsTheyAre(t *testing.T) {
	// The way from Display P3 to sRGB (CSS Color 4, sample code; from memory).
	p3 := NewColour(&light.SRGB().Linear, [3][3]float64{{1.2249, -0.2249, 0}, {-0.0421, 1.0421, 0}, {-0.0196, -0.0786, 1.0982}})
	pink := []uint8{255, 110, 100}
	if sRGB.hueOf(pink).red || !p3.hueOf(pink).red {
		t.Errorf("in sRGB it is red: %v; in Display P3: %v", sRGB.hueOf(pink).red, p3.hueOf(pink).red)
	}
	// Display P3's red, green and blue have luminances of 0.2290, 0.6917 and 0.0793 (from memory).
	for channel, want := range []float64{0.2290, 0.6917, 0.0793} {
		var pixel [3]uint8
		pixel[channel] = 255
		if got := float64(p3.luminanceOf(pixel[:])) / fullLuminance; got < want-0.0005 || got > want+0.0005 {
			t.Errorf("channel %d has a luminance of %.4f, want %.4f", channel, got, want)
		}
	}
}

func TestPhotosThatAreNotShownAreNotNeeded(t *testing.T) {
	scene := stage(32, 24, box(0, 0, 32, 24), grey(0), grey(10), grey(255), grey(60))
	shown := table(2, row(0), row(0), row(2000), row(2000))
	if got := levels.Shown(shown.Rows...); !slices.Equal(got, []int{0, 2}) {
		t.Errorf("shown: %v", got)
	}
	scene.Photos[1], scene.Photos[3] = nil, nil
	if len(warn(scene, sRGB, shown)) != 2 {
		t.Error("not warned")
	}
}

func TestNothingFlashesWhereNothingIs(t *testing.T) {
	scene := stage(32, 24, box(0, 0, 0, 0), grey(0), grey(255))
	for name, table := range map[string]*levels.Table{
		"a mask outside": table(2, row(0), row(1000)),
		"no frames":      {Rate: pal, First: 1, Names: []string{"drum"}},
	} {
		if got := warn(scene, sRGB, table); got != nil {
			t.Errorf("%s: %v", name, got)
		}
	}
	tiny := stage(1, 1, box(0, 0, 1, 1), grey(0), grey(255))
	if got := warn(tiny, sRGB, table(2, row(0), row(1000))); len(got) != 2 {
		t.Errorf("a frame of one pixel: %v", got)
	}
	if got := warn(tiny, sRGB, table(2, row(1000))); got != nil {
		t.Errorf("a still picture: %v", got)
	}
}

func TestFewerFramesThanTheFewestNeverFlash(t *testing.T) {
	scene := stage(32, 24, box(0, 0, 32, 24), grey(0), grey(255))
	strobe := table(1, row(0), row(1000))
	strobe.Rows = strobe.Rows[:Fewest]
	if got := warn(scene, sRGB, strobe); len(got) != 2 {
		t.Errorf("%d frames of black and white: %v", Fewest, got)
	}
	strobe.Rows = strobe.Rows[:Fewest-1]
	if got := warn(scene, sRGB, strobe); got != nil {
		t.Errorf("one less: %v", got)
	}
}

func TestWarningsReadWell(t *testing.T) {
	warnings := warn(stage(128, 96, box(0, 0, 64, 48), grey(0), colour{255, 0, 0}), sRGB, table(3, row(0), row(0), row(0), row(1000), row(1000), row(1000)))
	want := []string{
		`flashing: 0:00.12 to 0:02.92 (frames 4-73): "drum" flashes 4.5 times within a second, over 100 % of a 10-degree field; more than 3 times over 25 % is too much by WCAG 2.2 SC 2.3.1 (general flash); ` +
			`set hold = 5 or more for it, a longer release, or fewer levels (a lower top), or motion = "dissolve" with a longer attack and release`,
		`flashing: 0:00.12 to 0:02.92 (frames 4-73): "drum" flashes to or from saturated red 4.5 times within a second, over 100 % of a 10-degree field; more than 3 times over 25 % is too much by WCAG 2.2 SC 2.3.1 (red flash); ` +
			`set hold = 5 or more for it, a longer release, or fewer levels (a lower top), or motion = "dissolve" with a longer attack and release, or choose objects less red`,
		Caution,
	}
	if got := Notes(warnings); !slices.Equal(got, want) {
		t.Errorf("notes:\n%s\nwant:\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	if got := Notes(nil); got != nil {
		t.Errorf("notes of nothing: %q", got)
	}
	w := warnings[0]
	if got := Notes([]Warning{w, w, w}); len(got) != 2 || !strings.Contains(got[0], "(frames 4-73), and in 2 other passages: ") {
		t.Errorf("three passages: %q", got)
	}
	w.AtLimit, w.Columns = true, []string{"drum", "bass", "bells"}
	if got := w.What(); !strings.HasPrefix(got, `"drum", "bass" and "bells" flash 4.5 times within a second, with both ends of the second counted, over`) {
		t.Errorf("at the limit: %s", got)
	}
	dissolve := warn(stage(32, 24, box(0, 0, 32, 24), grey(0), grey(255)), sRGB, table(3, row(0), row(0), row(500), row(1000), row(1000), row(500)))
	if len(dissolve) == 0 || !strings.HasPrefix(dissolve[0].Remedy, `set a longer attack and release for it, or fewer levels (a lower top), or motion = "step" with hold = 5 or more`) {
		t.Errorf("in a dissolve: %v", dissolve)
	}
}

func TestWarningsAreWrittenAsJSON(t *testing.T) {
	warnings := warn(stage(128, 96, box(0, 0, 64, 48), grey(0), grey(255)), sRGB, table(2, row(0), row(0), row(1000), row(1000)))
	text, err := json.Marshal(warnings[0])
	if err != nil {
		t.Fatal(err)
	}
	want := `{"standard":"WCAG 2.2 SC 2.3.1","kind":"general","from":0.08,"to":1.96,"first_frame":3,"last_frame":49,"columns":["drum"],` +
		`"changes":13,"flashes":6.5,"share":1,"of":"a 10-degree field","field":{"x":3,"y":0,"width":44,"height":32},"at_limit":false,"hold":5,`
	if !strings.HasPrefix(string(text), want) {
		t.Errorf("written:\n%s\nwant:\n%s", text, want)
	}
}
