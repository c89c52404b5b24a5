package response

import (
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"colonnade/analyze/levels"
)

// TestMeasuresOfAColumnThatIsUpHalfTheTime: worked out by hand. The levels are then a straight function of the sound.
func TestMeasuresOfAColumnThatIsUpHalfTheTime(t *testing.T) {
	values := slices.Concat(slices.Repeat([]float64{0.5}, 10), slices.Repeat([]float64{0}, 10))
	_, s := one(values, plain, false)
	if s.atTop() != 0.5 || s.atBottom() != 0.5 || s.Range != 2./6 || s.ChangesPerSecond != 1.25 || math.Abs(s.Match-1) > 1e-12 {
		t.Errorf("%+v", s)
	}
}

// TestLevelsSetByHandAreMeasured: those of frames 3 to 6 of eight, one of them above the column's top and one below its
// bottom. What counts as the top comes from the whole song.
func TestLevelsSetByHandAreMeasured(t *testing.T) {
	settings := plain
	settings.Bottom, settings.Top = 1, 3
	values := [][]float64{{0.9, 0, 0.1, 0.3, 0.3, 0.1, 0, 0}, {0, 0, 0, 0, 0, 0, 0, 0}}
	rows := [][]levels.Level{whole(1, 1), whole(5, 0), whole(3, 3), whole(1, 2)}
	s := Summarise(values, 3, rows, []Settings{settings, settings}, pal)
	if s[0].Reference != 0.9 || !slices.Equal(s[0].Share, []float64{0.5, 0, 0.5}) || s[0].ChangesPerSecond != 3./4*25 || !(s[0].Match > 0.9) {
		t.Errorf("%+v", s[0])
	}
	if !s[1].Silent || !slices.Equal(s[1].Share, []float64{0.5, 0.25, 0.25}) {
		t.Errorf("over silence %+v", s[1])
	}
	if made, summaries := Levels(values, []Settings{settings, settings}, pal, false); !reflect.DeepEqual(Summarise(values, 1, made, []Settings{settings, settings}, pal), summaries) {
		t.Error("levels of a song's own are measured otherwise")
	}
}

// TestMatchIsPearsonsCorrelation: 0.8 for the ranks 1 2 3 4 5 against 2 1 4 3 5 (1 - 6*4/(5*24), Spearman's formula), -1 for
// what goes the other way, 0 for what stands still. Above the top the sound counts as the top.
func TestMatchIsPearsonsCorrelation(t *testing.T) {
	for _, c := range []struct {
		name     string
		levels   []levels.Level
		envelope []float64
		want     float64
	}{
		{"ranks", whole(1, 2, 3, 4, 5), []float64{2, 1, 4, 3, 5}, 0.8},
		{"the other way", whole(3, 2, 1, 0), []float64{1, 2, 3, 4}, -1},
		{"levels that stand still", whole(2, 2, 2), []float64{1, 2, 3}, 0},
		{"a sound that stands still", whole(1, 2, 3), []float64{2, 2, 2}, 0},
		{"above the top", whole(0, 5, 5, 0), []float64{0, 5, 500, 0}, 1},
		{"nothing", nil, nil, 0},
	} {
		s := Summary{Reference: 5}
		if got := s.match(c.levels, c.envelope); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%s: %v, not %v", c.name, got, c.want)
		}
	}
}

func TestRemarksNameWhatIsPoorAndTheKeyToChange(t *testing.T) {
	good := Summary{Reference: 0.1, Share: []float64{0.1, 0.2, 0.3, 0.2, 0.15, 0.05}, ChangesPerSecond: 4, Range: 1, Match: 0.85}
	if remarks := good.Remarks(Default(), 0.2); len(remarks) != 0 {
		t.Errorf("a column that dances well is remarked on: %v", remarks)
	}
	for _, c := range []struct {
		name     string
		change   func(*Summary, *Settings)
		what, do string
	}{
		{"a compressed bass", func(s *Summary, _ *Settings) { s.Share = []float64{0.1, 0.1, 0.1, 0.2, 0.2, 0.3} }, "at its top 30 % of the time", "lower its gain"},
		{"a slow rise", func(s *Summary, set *Settings) { s.Share[5], s.Share[4], set.Attack = 0, 0.2, 500 }, "hardly ever reaches its top", "lower its attack"},
		{"a shared scale", func(s *Summary, _ *Settings) { s.Share[5], s.Share[4] = 0, 0.2 }, "hardly ever reaches its top", "raise its gain"},
		{"a bell", func(s *Summary, _ *Settings) { s.Share = []float64{0.9, 0.02, 0.02, 0.02, 0.02, 0.02} }, "it rests 90 % of the time", "a curve below 1"},
		{"a few loud strokes", func(s *Summary, _ *Settings) { s.Share = []float64{0.5, 0.4, 0.03, 0.03, 0.02, 0.02} }, "90 % of the time at its two lowest levels", "raise its clip, to 0.03"},
		{"dense music", func(s *Summary, _ *Settings) { s.Share = []float64{0, 0.3, 0.3, 0.2, 0.15, 0.05} }, "hardly ever rests", "raise its floor, to -20"},
		{"flicker", func(s *Summary, _ *Settings) { s.ChangesPerSecond = 10.25 }, "it changes 10.2 times a second", "raise its release, to 240"},
		{"flicker without a release", func(s *Summary, set *Settings) { s.ChangesPerSecond, set.Release = 10, 0 }, "flickers", "raise its release, to 50"},
		{"flicker in spite of a release", func(s *Summary, set *Settings) { s.ChangesPerSecond, set.Release = 10, 300 }, "flickers", "raise its hold, to 4"},
		{"a drone", func(s *Summary, _ *Settings) { s.ChangesPerSecond = 0.2 }, "changes only 0.2 times", `follow = "onset"`},
		{"a long release", func(s *Summary, set *Settings) { s.ChangesPerSecond, set.Release = 0.2, 3000 }, "changes only", "lower its release"},
		{"a loose release", func(s *Summary, set *Settings) { s.Match, set.Release = 0.3, 900 }, "loosely, by 0.30", "lower its release"},
		{"a loose attack", func(s *Summary, set *Settings) { s.Match, set.Attack = 0.3, 900 }, "loosely", "lower its attack"},
		{"a long hold", func(s *Summary, set *Settings) { s.Match, set.Release, set.Hold = 0.3, 0, 20 }, "loosely", "lower its hold"},
		{"rumble below speech", func(s *Summary, _ *Settings) { s.Reference = 0.001 }, "46 dB below the loudest", "a band with more sound"},
		{"a gate", func(s *Summary, _ *Settings) { s.Range, s.Share = 0.5, []float64{0.7, 0.005, 0.005, 0.1, 0.1, 0.09} }, "uses 50 % of its levels", "passes through"},
	} {
		s, settings := good, Default()
		s.Share = slices.Clone(s.Share)
		c.change(&s, &settings)
		remarks := s.Remarks(settings, 0.2)
		if len(remarks) != 1 || !strings.Contains(remarks[0].What, c.what) || !strings.Contains(remarks[0].Remedy, c.do) {
			t.Errorf("%s: %q", c.name, remarks)
		}
	}
	silent := good
	silent.Silent, silent.Share = true, []float64{1, 0, 0, 0, 0, 0}
	if remarks := silent.Remarks(Default(), 0.2); len(remarks) != 0 {
		t.Errorf("a silent column is remarked on: %v", remarks)
	}
}

// TestRemediesHelp: each on an envelope that calls for it.
func TestRemediesHelp(t *testing.T) {
	random := rand.New(rand.NewPCG(11, 12))
	noise := func(least, spread float64, exponent float64) []float64 {
		values := make([]float64, 2000)
		for n := range values {
			values[n] = least + spread*math.Pow(random.Float64(), exponent)
		}
		return values
	}
	strokes := make([]float64, 2000) // quiet sound, and a few strokes far above it
	for n, v := range noise(0.02, 0.08, 1) {
		strokes[n] = v
		if n%75 < 2 {
			strokes[n] = 0.5
		}
	}
	pressed := make([]float64, 2000) // a bass that is either there, and then as loud as ever, or not
	for n := range pressed {
		pressed[n] = 0.5 * min(1, 1.4*math.Abs(math.Sin(float64(n)/15)))
	}
	for _, c := range []struct {
		name     string
		values   []float64
		what     string
		remedy   func(*Settings)
		improved func(before, after Summary) bool
	}{
		{"gain", pressed, "at its top", func(s *Settings) { s.Gain = -3 }, func(b, a Summary) bool { return a.atTop() < b.atTop()/2 }},
		{"clip", strokes, "two lowest levels", func(s *Settings) { s.Clip = 0.03 }, func(b, a Summary) bool { return a.atBottom()+a.Share[1] < b.atBottom()+b.Share[1]-0.2 }},
		{"floor", noise(0.1, 0.4, 1), "hardly ever rests", func(s *Settings) { s.Floor, s.Release = -10, 0 }, func(b, a Summary) bool { return a.atBottom() > 0.02 }},
		{"release", noise(0, 0.5, 1), "", func(s *Settings) { s.Release = 240 }, func(b, a Summary) bool { return a.ChangesPerSecond < b.ChangesPerSecond*0.8 }},
		{"curve", noise(0, 0.5, 12), "", func(s *Settings) { s.Curve = 0.6 }, func(b, a Summary) bool { return a.atBottom() < b.atBottom()*0.8 }},
	} {
		settings := Default()
		settings.Top = 5
		_, before := one(c.values, settings, false)
		if !slices.ContainsFunc(before.Remarks(settings, before.Reference), func(r Remark) bool { return strings.Contains(r.What, c.what) }) && c.what != "" {
			t.Errorf("%s: %+v is not remarked on", c.name, before)
		}
		c.remedy(&settings)
		if _, after := one(c.values, settings, false); !c.improved(before, after) {
			t.Errorf("%s does not help: %+v, then %+v", c.name, before, after)
		}
	}
}
