package response

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"colonnade/analyze/levels"
	"colonnade/analyze/timing"
)

var pal = timing.Rate{Num: 25, Den: 1}

// plain is a response without clip, smoothing or hold, from 0 to 5, whose floor is a tenth of its top.
var plain = Settings{Floor: -20, Curve: 1, Top: 5}

// one is the levels of one column alone.
func one(values []float64, s Settings, dissolve bool) ([]levels.Level, Summary) {
	rows, summaries := Levels([][]float64{values}, []Settings{s}, pal, dissolve)
	column := make([]levels.Level, len(rows))
	for n, row := range rows {
		column[n] = row[0]
	}
	return column, summaries[0]
}

func whole(numbers ...int) []levels.Level {
	out := make([]levels.Level, len(numbers))
	for i, n := range numbers {
		out[i] = levels.Level(n) * levels.One
	}
	return out
}

// TestLevelFollowsTheFormula: heights worked out by hand from the package's formula. Each amplitude follows silence, so that
// hysteresis plays no part: 0.55 of the top is half-way between a floor of 0.1 and the top.
func TestLevelFollowsTheFormula(t *testing.T) {
	for _, c := range []struct {
		name     string
		change   func(*Settings)
		envelope float64 // of a top of 0.5
		want     levels.Level
	}{
		{"the top", func(s *Settings) {}, 0.5, 5000},
		{"the floor", func(s *Settings) {}, 0.05, 0},
		{"below the floor", func(s *Settings) {}, 0.01, 0},
		{"height 0.4", func(s *Settings) {}, 0.5 * 0.46, 2000},
		{"height 0.58", func(s *Settings) {}, 0.5 * (0.1 + 0.9*0.58), 3000}, // 2.9
		{"height 0.62", func(s *Settings) {}, 0.5 * (0.1 + 0.9*0.62), 3000}, // 3.1
		{"from 2 to 6", func(s *Settings) { s.Bottom, s.Top = 2, 6 }, 0.5 * 0.55, 4000},
		{"a curve of 2", func(s *Settings) { s.Curve = 2 }, 0.5 * (0.1 + 0.9*math.Sqrt(0.6)), 3000},
		{"a curve of a half", func(s *Settings) { s.Curve = 0.5 }, 0.5 * (0.1 + 0.9*0.16), 2000},
		{"6 dB more", func(s *Settings) { s.Gain = 20 * math.Log10(2) }, 0.25 * 0.46, 2000},
		{"6 dB less at the top", func(s *Settings) { s.Gain = -20 * math.Log10(2) }, 0.5, 2000}, // h = 0.44
		{"a floor of -40 dB", func(s *Settings) { s.Floor = -40 }, 0.5 * (0.01 + 0.99*0.6), 3000},
	} {
		s := plain
		c.change(&s)
		got, summary := one([]float64{0.5, 0, c.envelope, 0}, s, false)
		if got[2] != c.want || summary.Reference != 0.5 || summary.Loudest != 0.5 {
			t.Errorf("%s: level %v, not %v; top at %v", c.name, got[2], c.want, summary.Reference)
		}
	}
}

// TestSteadyToneNeverFlickers, wherever between two levels it stands, with a ripple of up to a quarter of a level to either
// side. Coming from the top it may be put right once more, and then stays.
func TestSteadyToneNeverFlickers(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	for _, c := range []struct {
		dissolve bool
		ripple   float64 // in levels, to either side
	}{{false, 0}, {true, 0}, {false, 0.12}, {true, 0.12 / 8}, {false, 0.24}, {true, 0.24 / 8}} {
		for at := 0.0; at <= 1; at += 0.005 {
			values := []float64{0.5} // the top
			for range 300 {
				height := at + c.ripple/5*(2*random.Float64()-1)
				values = append(values, 0.5*(0.1+0.9*max(0, min(1, height))))
			}
			got, _ := one(values, plain, c.dissolve)
			changes := 0
			for n := 2; n < len(got); n++ {
				if got[n] != got[n-1] {
					changes++
				}
			}
			if changes > 1 {
				t.Fatalf("dissolve %v, ripple %v, height %.3f: %d changes", c.dissolve, c.ripple, at, changes)
			}
		}
	}
}

// TestLevelMovesAtThreeQuarters: half a level and a quarter of hysteresis, on the way up and down.
func TestLevelMovesAtThreeQuarters(t *testing.T) {
	heights := []float64{5, 2, 2.74, 2.76, 2.26, 2.24, 1.26, 1.24, 0.2, 5, 4.3, 0, 0.74, 4.8, 4.2, 5}
	want := whole(5, 2, 2, 3, 3, 2, 2, 1, 0, 5, 5, 0, 0, 5, 4, 5)
	values := make([]float64, len(heights))
	for i, h := range heights {
		values[i] = 0.5 * (0.1 + 0.9*h/5)
	}
	if got, _ := one(values, plain, false); !slices.Equal(got, want) {
		t.Errorf("levels %v, not %v", got, want)
	}
}

// Exactly three quarters of a level away is not yet more than that, in whole levels and in a dissolve's eighths.
func TestALevelStaysAtThreeQuartersSharp(t *testing.T) {
	for _, c := range []struct {
		dissolve         bool
		at, sharp, above float64 // of a top of 4, in binary fractions
		want             levels.Level
	}{{false, 0.5, 0.6875, 0.6885, 3000}, {false, 0.5, 0.3125, 0.3115, 1000}, {true, 0.5, 0.5234375, 0.5244140625, 2125}} {
		chooser := newChooser(Settings{Top: 4, Hold: 1}, c.dissolve)
		for _, step := range []struct {
			height float64
			want   levels.Level
		}{{c.at, 2000}, {c.sharp, 2000}, {c.above, c.want}} {
			if got := chooser.next([]float64{step.height}); got != step.want {
				t.Errorf("dissolve %v: height %v shows %v, want %v", c.dissolve, step.height, got, step.want)
			}
		}
	}
}

func TestTopAndBottomAreAlwaysReached(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 4))
	for range 300 {
		s := Settings{Floor: -10 - 60*random.Float64(), Curve: 0.2 + 4*random.Float64(), Attack: 1000 * random.Float64(),
			Release: 3000 * random.Float64(), Hold: random.IntN(8), Bottom: random.IntN(3)}
		s.Top = s.Bottom + 1 + random.IntN(8)
		var values []float64
		for range 3 { // twenty seconds loud, a minute quiet
			for range 500 {
				values = append(values, 0.3)
			}
			for range 1500 {
				values = append(values, 0)
			}
		}
		for _, dissolve := range []bool{false, true} {
			got, _ := one(values, s, dissolve)
			for cycle := range 3 {
				if loud, quiet := got[cycle*2000+499], got[cycle*2000+1999]; loud != levels.Level(s.Top)*levels.One || quiet != levels.Level(s.Bottom)*levels.One {
					t.Fatalf("%+v, dissolve %v: between %v and %v", s, dissolve, quiet, loud)
				}
			}
		}
	}
}

// TestSmoothingGoesByTimeNotByFrames: exp(-1/(fps*t)), values worked out from that formula.
func TestSmoothingGoesByTimeNotByFrames(t *testing.T) {
	for _, c := range []struct {
		fps          int64
		milliseconds float64
		want         float64
	}{
		{24, 100, 0.659240630}, {30, 100, 0.716531311}, {60, 100, 0.846481725},
		{24, 300, 0.870324726}, {30, 300, 0.894839317}, {60, 300, 0.945959469}, {25, 0, 0},
	} {
		rate := timing.Rate{Num: c.fps, Den: 1}
		if got := remaining(c.milliseconds, rate); math.Abs(got-c.want) > 1./precision {
			t.Errorf("%d frames a second, %v ms: %.9f is left, not %.9f", c.fps, c.milliseconds, got, c.want)
		}
		attack, release := newFollower(Settings{Attack: c.milliseconds}, rate), newFollower(Settings{Release: c.milliseconds}, rate)
		attack.next(0)
		release.next(1)
		if rise, fall := attack.next(1), release.next(0); math.Abs(1-rise-c.want) > 1./precision || math.Abs(fall-c.want) > 1./precision {
			t.Errorf("%d frames a second, %v ms: rises to %.9f and falls to %.9f", c.fps, c.milliseconds, rise, fall)
		}
	}
	endless := newFollower(Settings{Release: 1e12}, pal)
	if endless.next(1); endless.next(0) >= 1 {
		t.Error("a very long release does not fall at all")
	}
}

func TestSongThatStartsLoudStartsTall(t *testing.T) {
	s := plain
	s.Attack, s.Release, s.Hold = 5000, 5000, 5
	if got, _ := one([]float64{0.5, 0.5, 0.5}, s, false); !slices.Equal(got, whole(5, 5, 5)) {
		t.Errorf("levels %v", got)
	}
}

func TestLevelIsHeldForItsFrames(t *testing.T) {
	s := plain
	s.Hold = 3
	values := []float64{0.5, 0, 0, 0, 0, 0.5, 0, 0.5, 0, 0, 0}
	if got, want := first(one(values, s, false)), whole(5, 5, 5, 0, 0, 0, 0, 5, 5, 5, 0); !slices.Equal(got, want) {
		t.Errorf("levels %v, not %v", got, want)
	}
	if got, want := first(one(values, s, true)), whole(5, 0, 0, 0, 0, 5, 0, 5, 0, 0, 0); !slices.Equal(got, want) {
		t.Errorf("in a dissolve levels %v, not %v", got, want)
	}
	random := rand.New(rand.NewPCG(5, 6))
	for hold := range 7 {
		s.Hold = hold
		noise := make([]float64, 2000)
		for i := range noise {
			noise[i] = random.Float64()
		}
		got, _ := one(noise, s, false)
		run := 1
		for n := 1; n < len(got); n++ {
			if got[n] == got[n-1] {
				run++
				continue
			}
			if run < hold {
				t.Fatalf("hold %d: level %v is shown for %d frames before frame %d", hold, got[n-1], run, n+1)
			}
			run = 1
		}
	}
}

func first(l []levels.Level, _ Summary) []levels.Level { return l }

// TestRiseWaitsForItsPeak: what a window makes of a stroke in frame 6, and of a swell that stands for some frames between. Only
// a rise waits, and only for what comes within the frames of its hold.
func TestRiseWaitsForItsPeak(t *testing.T) {
	for _, c := range []struct {
		name    string
		hold    int
		heights []float64 // in levels
		want    []levels.Level
	}{
		{"a stroke held for a frame", 1, []float64{0, 0, 0, 0, 2, 5, 1, 0, 0, 0}, whole(0, 0, 0, 0, 2, 5, 1, 0, 0, 0)},
		{"a stroke", 2, []float64{0, 0, 0, 0, 2, 5, 1, 0, 0, 0}, whole(0, 0, 0, 0, 0, 5, 5, 0, 0, 0)},
		{"a stroke of a low band", 2, []float64{0, 0, 1, 2, 4, 5, 4, 2, 1, 0}, whole(0, 0, 0, 0, 0, 5, 5, 2, 2, 0)},
		{"held for three", 3, []float64{0, 0, 1, 2, 2, 5, 4, 2, 1, 0}, whole(0, 0, 0, 0, 0, 5, 5, 5, 1, 1)},
		{"a swell", 2, []float64{0, 0, 1, 1, 2, 2, 3, 3, 5, 5}, whole(0, 0, 1, 1, 2, 2, 3, 3, 5, 5)},
		{"a fall", 2, []float64{5, 5, 5, 4, 3, 5, 1, 0, 0, 0}, whole(5, 5, 5, 4, 4, 5, 5, 0, 0, 0)},
		{"the end", 3, []float64{0, 0, 0, 0, 0, 0, 0, 0, 2, 3}, whole(0, 0, 0, 0, 0, 0, 0, 0, 0, 3)},
	} {
		s := plain
		s.Hold = c.hold
		values := []float64{0.5, 0, 0, 0, 0, 0} // the top
		for _, h := range c.heights {
			values = append(values, 0.5*(0.1+0.9*h/5))
		}
		if got, _ := one(values, s, false); !slices.Equal(got[6:], c.want) {
			t.Errorf("%s: levels %v, not %v", c.name, got[6:], c.want)
		}
	}
}

func TestClipIsTheShareThatPassesTheTop(t *testing.T) {
	values := make([]float64, 100)
	for i := range values {
		values[i] = float64(i+1) / 100
	}
	rand.New(rand.NewPCG(7, 8)).Shuffle(100, func(i, j int) { values[i], values[j] = values[j], values[i] })
	for _, c := range []struct{ clip, want float64 }{{0, 1}, {0.009, 1}, {0.01, 0.99}, {0.05, 0.95}, {0.29, 0.71}, {0.999, 0.01}, {1, 0.01}} {
		s := plain
		s.Clip = c.clip
		got, summary := one(values, s, false)
		if summary.Reference != c.want || summary.Loudest != 1 {
			t.Errorf("clip %v: the top is at %v, not %v", c.clip, summary.Reference, c.want)
		}
		for n, v := range values {
			if v >= c.want && got[n] != 5*levels.One {
				// Hysteresis may hold a level back only below the top.
				t.Errorf("clip %v: %v is above the top %v and shown at level %v", c.clip, v, c.want, got[n])
			}
		}
	}
}

func TestSharedScaleIsTheLoudestColumns(t *testing.T) {
	loud, quiet, own := []float64{0, 0.8, 0, 0.8}, []float64{0, 0.4, 0, 0.4}, []float64{0, 0.002, 0, 0.002}
	s := plain
	s.Shared = true
	rows, summaries := Levels([][]float64{loud, quiet, own, {0, 5e-5, 0, 5e-5}}, []Settings{s, s, plain, s}, pal, false)
	if !slices.Equal(rows[1], whole(5, 2, 5, 0)) { // 0.5 of the top is height 0.444, 2.2 levels
		t.Errorf("levels %v", rows[1])
	}
	for c, want := range []float64{0.8, 0.8, 0.002, 0.8} {
		if summaries[c].Reference != want || summaries[c].Silent {
			t.Errorf("column %d: %+v, the top should be at %v", c, summaries[c], want)
		}
	}
}

func TestHissIsNotBlownUp(t *testing.T) {
	hiss := []float64{9e-5, 5e-5, 9.9e-5, 1e-5}
	for _, shared := range []bool{false, true} {
		s := plain
		s.Shared, s.Bottom, s.Gain = shared, 1, 40
		got, summary := one(hiss, s, false)
		if !slices.Equal(got, whole(1, 1, 1, 1)) || !summary.Silent {
			t.Errorf("levels %v of hiss, silent %v", got, summary.Silent)
		}
	}
	if got, summary := one([]float64{1e-4, 0}, plain, false); got[0] != 5*levels.One || summary.Silent {
		t.Errorf("a band at -80 dB stands at level %v", got[0])
	}
}

// TestSoundRarerThanClipShows: a bell that rings for two frames of a thousand in a silent band, over hiss that stays down.
func TestSoundRarerThanClipShows(t *testing.T) {
	values := make([]float64, 1000)
	for i := range values {
		values[i] = 5e-5
	}
	values[500], values[501] = 0.3, 0.2
	s := plain
	s.Clip = 0.01
	got, summary := one(values, s, false)
	if summary.Silent || summary.Reference != 0.3 || got[500] != 5*levels.One || got[499] != 0 || got[502] != 0 {
		t.Errorf("levels %v, %+v", got[498:504], summary)
	}
	values[500], values[501] = 9e-4, 1e-4 // its floor would be lower than hiss may be
	if got, summary := one(values, s, false); !summary.Silent || got[500] != 0 {
		t.Errorf("a click in hiss: level %v, %+v", got[500], summary)
	}
}

func TestDissolveGoesByEighths(t *testing.T) {
	s := plain
	s.Release = 400
	values := make([]float64, 60)
	values[0] = 0.5
	got, _ := one(values, s, true)
	for n, level := range got {
		if level%dissolveStep != 0 {
			t.Errorf("frame %d is at %v, not at an eighth", n+1, level)
		}
		exact := 5000 * math.Pow(remaining(400, pal), float64(n))
		if math.Abs(float64(level)-exact) > 0.75*125+1 {
			t.Errorf("frame %d is at %v, the height is %.0f thousandths", n+1, level, exact)
		}
	}
	if !slices.ContainsFunc(got, func(l levels.Level) bool { return !l.Whole() }) {
		t.Error("no level lies between two photos")
	}
}

func TestSummaryCountsSharesAndChanges(t *testing.T) {
	s := plain
	s.Bottom, s.Top = 1, 3
	_, summary := one([]float64{0.5, 0.5, 0, 0, 0, 0.5, 0.275, 0.5, 0, 0}, s, false)
	if want := []float64{0.5, 0.1, 0.4}; !slices.Equal(summary.Share, want) {
		t.Errorf("shares %v, not %v", summary.Share, want)
	}
	if want := 5. / 10 * 25; summary.ChangesPerSecond != want {
		t.Errorf("%v changes a second, not %v", summary.ChangesPerSecond, want)
	}
	s.Bottom, s.Top = 0, 1
	_, summary = one([]float64{0.5, 0.5 * 0.55, 0, 0}, s, true) // an eighth of a column counts at the nearest photo
	if want := []float64{0.5, 0.5}; !slices.Equal(summary.Share, want) {
		t.Errorf("shares of a dissolve %v, not %v", summary.Share, want)
	}
}

func TestNothingToHearIsNoTrouble(t *testing.T) {
	if rows, summaries := Levels(nil, nil, pal, false); len(rows) != 0 || len(summaries) != 0 {
		t.Errorf("no columns give %v, %v", rows, summaries)
	}
	if rows, summaries := Levels([][]float64{{}}, []Settings{plain}, pal, false); len(rows) != 0 || !summaries[0].Silent || len(summaries[0].Share) != 6 {
		t.Errorf("no frames give %v, %+v", rows, summaries)
	}
	s := plain
	s.Bottom, s.Top, s.Floor = 4, 4, 0
	if got, _ := one([]float64{0.5, 0, 0.5}, s, false); !slices.Equal(got, whole(4, 4, 4)) {
		t.Errorf("a column that can not move stands at %v", got)
	}
}

// TestLevelsAreThoseOfTheFormulaWrittenOut is the slow twin: the package comment, line by line, a frame at a time.
func TestLevelsAreThoseOfTheFormulaWrittenOut(t *testing.T) {
	random := rand.New(rand.NewPCG(9, 10))
	for round := range 40 {
		const frames = 400
		columns := 1 + random.IntN(4)
		values, settings := make([][]float64, columns), make([]Settings, columns)
		for c := range values {
			loudness, level := math.Pow(10, -2*random.Float64()), 0.0
			for range frames {
				level += (random.Float64() - 0.5) * 0.3
				level = min(1, max(0, level))
				values[c] = append(values[c], math.Round(loudness*level*precision)/precision)
			}
			settings[c] = Settings{Shared: random.IntN(2) == 0, Clip: 0.1 * random.Float64(), Floor: -10 - 40*random.Float64(),
				Curve: 0.5 + random.Float64(), Gain: 6 * (random.Float64() - 0.5), Attack: 200 * random.Float64(), Release: 300 * random.Float64(),
				Hold: random.IntN(4), Bottom: random.IntN(2), Top: 3 + random.IntN(4)}
		}
		rows, _ := Levels(values, settings, pal, false)
		top := func(c int) float64 {
			for _, candidate := range slices.Sorted(slices.Values(values[c])) {
				above := 0
				for _, v := range values[c] {
					if v > candidate {
						above++
					}
				}
				if float64(above) <= settings[c].Clip*frames {
					return candidate
				}
			}
			return 0
		}
		for c, s := range settings {
			r := top(c)
			if s.Shared {
				for other := range settings {
					if settings[other].Shared {
						r = max(r, top(other))
					}
				}
			}
			y, positions := 0.0, []float64{}
			for n, e := range values[c] {
				f := math.Pow(10, s.Floor/20)
				h := (math.Pow(10, s.Gain/20)*e/r - f) / (1 - f)
				h = math.Pow(min(1, max(0, h)), s.Curve)
				milliseconds := s.Release
				if h > y {
					milliseconds = s.Attack
				}
				k := math.Exp(-1 / (25 * milliseconds / 1000))
				if y += (1 - k) * (h - y); n == 0 {
					y = h
				}
				positions = append(positions, float64(s.Bottom)+float64(s.Top-s.Bottom)*y)
			}
			shown, since := 0, 0
			for n, p := range positions {
				goesOn := false // the rise
				for later := n + 1; later < min(n+s.Hold, frames); later++ {
					goesOn = goesOn || math.Round(p) >= float64(shown) && math.Round(positions[later]) > math.Round(p)
				}
				if since++; n == 0 || math.Abs(p-float64(shown)) > 0.75 && since > s.Hold-1 && !goesOn {
					shown, since = int(math.Round(p)), 0
				}
				if rows[n][c] != levels.Level(shown)*levels.One {
					t.Fatalf("round %d, column %d (%+v), frame %d: level %v, written out %d (at %.4f)", round, c, s, n+1, rows[n][c], shown, p)
				}
			}
		}
	}
}
