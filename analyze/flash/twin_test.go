package flash

import (
	"fmt"
	"image"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"colonnade/analyze/levels"
	"colonnade/analyze/timing"
	"colonnade/compose/light"
	"colonnade/compose/picture"
	"colonnade/masks"
)

// twin analyses rendered frames, pixel by pixel and field by field as the definitions read, and knows nothing of
// columns, levels or photos.
type twin struct {
	size   image.Point
	frames []*picture.Picture
	step   int
}

// pixelTurns is the changes of one pixel: 1 up or to red, -1 down or from red, 0 none, by frame.
func (t *twin) pixelTurns(x, y int, isChange func(from, to [3]float64) bool) []int {
	turns := make([]int, len(t.frames))
	var seen [][3]float64
	last := 0
	for n, frame := range t.frames {
		var now [3]float64
		for i, code := range frame.Row(y)[3*x : 3*x+3] {
			now[i] = light.DecodeSRGB(float64(code) / 255)
		}
		for _, before := range seen {
			if last != 1 && isChange(before, now) {
				turns[n] = 1
				break
			}
		}
		for _, before := range seen {
			if turns[n] == 0 && last != -1 && isChange(now, before) {
				turns[n] = -1
				break
			}
		}
		if turns[n] != 0 {
			seen, last = seen[:0], turns[n]
		}
		seen = append(seen, now)
	}
	return turns
}

// brighter and redder are the definitions of WCAG 2.2 in their own numbers.
func brighter(from, to [3]float64) bool {
	luminance := func(c [3]float64) float64 { return 0.2126*c[0] + 0.7152*c[1] + 0.0722*c[2] }
	return luminance(to)-luminance(from) >= 0.1 && luminance(from) < 0.8
}

func redder(from, to [3]float64) bool {
	diagram := func(c [3]float64) (u, v float64) {
		if (c[0]+c[1]+c[2])/3 < 0.01 {
			c = [3]float64{1, 1, 1}
		}
		x := 0.4124564*c[0] + 0.3575761*c[1] + 0.1804375*c[2]
		y := 0.2126729*c[0] + 0.7151522*c[1] + 0.0721750*c[2]
		z := 0.0193339*c[0] + 0.1191920*c[1] + 0.9503041*c[2]
		return 4 * x / (x + 15*y + 3*z), 9 * y / (x + 15*y + 3*z)
	}
	u1, v1 := diagram(from)
	u2, v2 := diagram(to)
	sum := to[0] + to[1] + to[2]
	return sum/3 >= 0.01 && to[0]/sum >= 0.8 && math.Hypot(u1-u2, v1-v2) > 0.2
}

// turns is the changes of all pixels that are looked at, row by row, nil for the others.
func (t *twin) turns(isChange func(from, to [3]float64) bool) [][]int {
	turns := make([][]int, t.size.X*t.size.Y)
	for y := t.step / 2; y < t.size.Y; y += t.step {
		for x := t.step / 2; x < t.size.X; x += t.step {
			turns[y*t.size.X+x] = t.pixelTurns(x, y, isChange)
		}
	}
	return turns
}

// found is the frames in which too much flashes too often, and of how many pixels: in places that change too often each
// for itself, and in fields that do as a whole.
func (t *twin) found(turns [][]int, field image.Point, span int) (sustained, alternating map[int]int) {
	sustained, alternating = make(map[int]int), make(map[int]int)
	// The pixels for which something holds in a frame, row by row: each counts for the square it stands for.
	counts := func(what func(turns []int, n int) bool) [][]int {
		out := make([][]int, len(t.frames))
		for n := range t.frames {
			out[n] = make([]int, t.size.X*t.size.Y)
			for at, turns := range turns {
				if turns != nil && what(turns, n) {
					out[n][at] = t.step * t.step
				}
			}
		}
		return out
	}
	often := counts(func(turns []int, n int) bool {
		count := 0
		for _, turn := range turns[max(0, n-span) : n+1] {
			count += turn * turn
		}
		return count > 6
	})
	rises := counts(func(turns []int, n int) bool { return turns[n] > 0 })
	falls := counts(func(turns []int, n int) bool { return turns[n] < 0 })
	for top := 0; top == 0 || top+field.Y <= t.size.Y; top++ {
		for left := 0; left == 0 || left+field.X <= t.size.X; left++ {
			area := func(pixels []int) (sum int) {
				for y := top; y < min(top+field.Y, t.size.Y); y++ {
					for x := left; x < min(left+field.X, t.size.X); x++ {
						sum += pixels[y*t.size.X+x]
					}
				}
				return sum
			}
			isOver := func(pixels int) bool { return float64(pixels) > 0.25*float64(field.X*field.Y) }
			var events []int
			last := 0
			for n := range t.frames {
				if pixels := area(often[n]); isOver(pixels) {
					sustained[n] = max(sustained[n], pixels)
				}
				up, down := area(rises[n]), area(falls[n])
				pixels := 0
				if isOver(up) && last != 1 {
					pixels, last = up, 1
				} else if isOver(down) && last != -1 {
					pixels, last = down, -1
				}
				if pixels == 0 {
					continue
				}
				events = append(events, n)
				if len(events) > 6 && n-events[len(events)-7] <= span {
					alternating[n] = max(alternating[n], pixels)
				}
			}
		}
	}
	return sustained, alternating
}

// piece is a scene with a table, drawn at random: photos of coloured tiles, some red, under soft masks that overlap.
func piece(random *rand.Rand, size image.Point, columns, photos, frames int, r timing.Rate, dissolve bool) (*picture.Scene, *levels.Table) {
	palette := []colour{grey(0), grey(20), grey(90), grey(140), grey(225), grey(255), {255, 0, 0}, {200, 10, 10}, {120, 0, 0}, {230, 90, 90}, {10, 60, 200}, {240, 160, 60}}
	tiles := func() *picture.Picture {
		p := picture.New(size.X, size.Y)
		tile := 3 + random.IntN(6)
		colours := make([]colour, (size.X/tile+1)*(size.Y/tile+1))
		for i := range colours {
			colours[i] = palette[random.IntN(len(palette))]
		}
		for y := range size.Y {
			for x := range size.X {
				copy(p.Row(y)[3*x:], colours[y/tile*(size.X/tile+1)+x/tile][:])
			}
		}
		return p
	}
	s := &picture.Scene{Base: tiles(), Curve: light.SRGB()}
	for range photos {
		s.Photos = append(s.Photos, tiles())
	}
	frame := image.Rectangle{Max: size}
	table := &levels.Table{Rate: r, First: 1 + random.IntN(900)}
	for c := range columns {
		x, y := float64(random.IntN(size.X*3/4)), float64(random.IntN(size.Y/2))
		w, h := float64(size.X)*(0.2+0.5*random.Float64()), float64(size.Y)*(0.4+0.6*random.Float64())
		region := masks.Region{{X: x, Y: y}, {X: x + w, Y: y}, {X: x + w, Y: y + h}, {X: x, Y: y + h}}
		s.Masks = append(s.Masks, masks.Feathered(region, 3*random.Float64(), frame, frame))
		table.Names = append(table.Names, fmt.Sprint("column ", c))
	}
	top := levels.Level(photos-1) * levels.One
	now := make([]levels.Level, columns)
	busy := 0.2 + 0.8*random.Float64()
	for range frames {
		for c := range now {
			if random.Float64() > busy {
				continue
			}
			if dissolve {
				now[c] = min(max(now[c]+levels.Level(random.IntN(1601)-800), 0), top)
			} else {
				now[c] = levels.Level(random.IntN(photos)) * levels.One
			}
		}
		table.Rows = append(table.Rows, slices.Clone(now))
	}
	return s, table
}

func render(s *picture.Scene, table *levels.Table) (frames []*picture.Picture) {
	for _, row := range table.Rows {
		p := picture.New(s.Base.Width, s.Base.Height)
		s.Compose(p, row)
		frames = append(frames, p)
	}
	return frames
}

// compare holds the prediction against the twin, frame by frame.
func compare(t *testing.T, what string, got []finding, want map[int]int, step, rows int) {
	t.Helper()
	pixels := make(map[int]int)
	for _, f := range got {
		pixels[int(f.frame)] = int(f.pixels) * step * step
	}
	for frame := range rows {
		if pixels[frame] != want[frame] {
			t.Errorf("%s: in frame %d the prediction sees %d pixels flash, the frames have %d", what, frame, pixels[frame], want[frame])
			return
		}
	}
}

// hold compares all that is found in a piece, and gives in how many frames something is.
func hold(t *testing.T, name string, s *picture.Scene, table *levels.Table, effort int) (matched [4]int) {
	t.Helper()
	a := newAnalysis(read(s), sRGB, table)
	found := a.look(effort)
	slow := twin{image.Pt(s.Base.Width, s.Base.Height), render(s, table), found.step}
	for kind, c := range []struct {
		places   []*place
		isChange func(from, to [3]float64) bool
	}{{found.bright, brighter}, {found.red, redder}} {
		turns := slow.turns(c.isChange)
		counter := a.newCounter(General, c.places, found.step)
		for which, g := range a.grids {
			for _, span := range []int{a.closed, a.open} {
				what := fmt.Sprintf("%s, %s, %s, %d frames", name, []Kind{General, Red}[kind], g.standard, span)
				wantSustained, wantAlternating := slow.found(turns, g.field, span)
				compare(t, what+", sustained", sustained(counter.often[span], &g, which, found.step), wantSustained, found.step, len(table.Rows))
				compare(t, what+", alternating", alternating(counter.turns, &g, which, span, found.step), wantAlternating, found.step, len(table.Rows))
				matched[2*kind] += len(wantSustained)
				matched[2*kind+1] += len(wantAlternating)
			}
		}
	}
	return matched
}

func TestPredictionIsWhatTheRenderedFramesShow(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 77))
	var matched [4]int
	for i, c := range []struct {
		columns, photos, frames int
		rate                    timing.Rate
		dissolve                bool
		effort                  int
	}{
		{1, 2, 60, timing.Rate{Num: 25, Den: 1}, false, effort},
		{2, 4, 60, timing.Rate{Num: 24, Den: 1}, false, effort},
		{3, 4, 70, timing.Rate{Num: 30000, Den: 1001}, false, effort},
		{4, 3, 60, timing.Rate{Num: 12, Den: 1}, false, effort},
		{2, 7, 90, timing.Rate{Num: 60, Den: 1}, false, effort},
		{2, 4, 60, timing.Rate{Num: 25, Den: 1}, true, effort},
		{3, 3, 60, timing.Rate{Num: 15, Den: 1}, true, effort},
		{3, 4, 60, timing.Rate{Num: 25, Den: 1}, false, 2000}, // one pixel of several is looked at
		{2, 4, 60, timing.Rate{Num: 25, Den: 1}, true, 5000},
		{4, 40, 60, timing.Rate{Num: 25, Den: 1}, false, effort}, // more states than are compared
	} {
		s, table := piece(random, image.Pt(28, 22), c.columns, c.photos, c.frames, c.rate, c.dissolve)
		for kind, n := range hold(t, fmt.Sprint("piece ", i), s, table, c.effort) {
			matched[kind] += n
		}
	}
	for kind, n := range matched {
		if n < 50 {
			t.Errorf("kind %d was found in %d frames: too few to compare", kind, n)
		}
	}
}

// TestLargerFramesMissNothing: where fields do not begin at every pixel they reach farther, and see more, but not less.
func TestLargerFramesMissNothing(t *testing.T) {
	random := rand.New(rand.NewPCG(8, 88))
	s, table := piece(random, image.Pt(120, 60), 3, 3, 30, timing.Rate{Num: 10, Den: 1}, false)
	a := newAnalysis(read(s), sRGB, table)
	found := a.look(effort)
	slow := twin{image.Pt(120, 60), render(s, table), 1}
	want, _ := slow.found(slow.turns(brighter), a.grids[0].field, a.closed)
	got := make(map[int]int)
	for _, f := range sustained(a.newCounter(General, found.bright, 1).often[a.closed], &a.grids[0], 0, 1) {
		got[int(f.frame)] = int(f.pixels)
	}
	for frame, pixels := range want {
		if most := pixels * 41 * 31 / (39 * 30); got[frame] < pixels || got[frame] > most {
			t.Errorf("in frame %d the prediction sees %d pixels, the frames have %d: want up to %d", frame, got[frame], pixels, most)
		}
	}
	if len(want) < 10 {
		t.Errorf("found in %d frames: too few to compare", len(want))
	}
}
