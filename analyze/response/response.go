// Package response turns envelopes into levels: how high each column stands in each frame.
//
// For a column whose envelope in frame n is e(n), an RMS amplitude, in this order:
//
//	x = 10^(Gain/20) * e / R      R is what counts as the top: see below
//	h = (x - f) / (1 - f)         f = 10^(Floor/20); held within 0 and 1
//	h = h ^ Curve
//	y = y + (1-k) * (h - y)       k = exp(-1/(fps*t)), t being Attack while h is above y and Release below;
//	                              y begins at the first frame's h
//	p = Bottom + (Top-Bottom) * y
//
// R is the envelope's quantile that at most a share of Clip of the frames lie above. With Shared it is the largest
// such quantile of all columns that share, so that the loudest of them sets the scale. Gain comes after, so it
// raises its column alone. A column whose R is below Silence stays at Bottom: hiss is not blown up to a dance.
//
// The level shown is round(p), with a hysteresis: it changes only when p lies more than three quarters of a level
// away from it, so that a steady tone never flickers, and not before it was shown for Hold frames. In a dissolve
// levels are eighths, with the same hysteresis in eighths, and Hold does not count: nothing jumps there.
//
// Heights are rounded to 2^-20 before a level is chosen, so that every processor chooses alike.
package response

import (
	"math"
	"slices"

	"colonnade/analyze/levels"
	"colonnade/analyze/timing"
)

// Settings say how one column answers its band.
type Settings struct {
	Shared  bool    // the loudest column sets the scale for all; otherwise each column's own loudest part does
	Clip    float64 // share of the frames, 0 to 1, that may pass the top and are held there
	Floor   float64 // dB below the top, negative, at which the column is at its bottom level
	Curve   float64 // exponent on the 0..1 height
	Gain    float64 // dB
	Attack  float64 // ms, time constant of a rise
	Release float64 // ms, time constant of a fall
	Hold    int     // frames for which a level is shown at the least
	Top     int     // highest level used; TopOfSet for the highest there is
	Bottom  int     // lowest level used
}

// TopOfSet as Settings.Top stands for the highest level of the photo set. Levels wants it filled in.
const TopOfSet = -1

// Silence is the RMS amplitude, -80 dB, that a column must reach at its top to be shown at all.
const Silence = 1e-4

const (
	// hysteresis beyond the half-way point between two levels, as a share of their distance.
	hysteresis = 0.25
	// dissolveStep is the smallest change of a dissolve.
	dissolveStep = levels.One / 8
	// precision to which heights are rounded before a choice is made from them.
	precision = 1 << 20
)

// Default is the response of a column about which nothing is said.
func Default() Settings {
	return Settings{Clip: 0.01, Floor: -30, Curve: 1, Release: 120, Hold: 2, Top: TopOfSet}
}

// Summary tells what a column does over the song.
type Summary struct {
	Loudest          float64   // largest envelope, RMS amplitude
	Reference        float64   // R above, RMS amplitude: what counts as the top
	Silent           bool      // the column stays at its bottom level
	Share            []float64 // share of the frames at each level from Bottom to Top, the nearest one in a dissolve
	ChangesPerSecond float64
}

// Levels turns values[column][frame] into levels[frame][column]. settings has one entry a column, with
// 0 <= Bottom < Top. Every row of values has the same length.
func Levels(values [][]float64, settings []Settings, rate timing.Rate, dissolve bool) ([][]levels.Level, []Summary) {
	summaries := make([]Summary, len(values))
	shared := 0.0
	for c, envelope := range values {
		s := &summaries[c]
		s.Reference = reference(envelope, settings[c].Clip)
		for _, e := range envelope {
			s.Loudest = max(s.Loudest, e)
		}
		if settings[c].Shared {
			shared = max(shared, s.Reference)
		}
	}
	frames := 0
	if len(values) > 0 {
		frames = len(values[0])
	}
	rows := make([][]levels.Level, frames)
	cells := make([]levels.Level, frames*len(values))
	for n := range rows {
		rows[n] = cells[n*len(values):][:len(values):len(values)]
	}
	for c, envelope := range values {
		s, set := &summaries[c], settings[c]
		s.Silent = s.Reference < Silence
		if set.Shared {
			s.Reference = shared
		}
		chooser := newChooser(set, dissolve)
		follower := newFollower(set, rate)
		s.Share = make([]float64, set.Top-set.Bottom+1)
		changes := 0
		for n, e := range envelope {
			height := 0.0
			if !s.Silent {
				height = follower.next(set.height(e, s.Reference))
			}
			rows[n][c] = chooser.next(height)
			if n > 0 && rows[n][c] != rows[n-1][c] {
				changes++
			}
			nearest := int((rows[n][c] + levels.One/2) / levels.One)
			s.Share[nearest-set.Bottom] += 1 / float64(frames)
		}
		if frames > 0 {
			s.ChangesPerSecond = float64(changes) / float64(frames) * rate.PerSecond()
		}
	}
	return rows, summaries
}

// reference is the smallest of the values that at most a share of clip of them lie above.
func reference(envelope []float64, clip float64) float64 {
	if len(envelope) == 0 {
		return 0
	}
	sorted := slices.Clone(envelope)
	slices.Sort(sorted)
	above := min(int(clip*float64(len(sorted))), len(sorted)-1)
	return sorted[len(sorted)-1-above]
}

// height is h above after the curve, 0 to 1, before attack and release. reference is positive.
func (s Settings) height(envelope, reference float64) float64 {
	x := math.Pow(10, s.Gain/20) * envelope / reference
	floor := math.Pow(10, s.Floor/20)
	h := (x - floor) / (1 - floor)
	return quantise(math.Pow(min(max(h, 0), 1), s.Curve))
}

func quantise(v float64) float64 { return math.Round(v*precision) / precision }

// follower slows a height's rise and fall down.
type follower struct {
	attack, release float64 // share of the distance left after a frame
	height          float64
	begun           bool
}

func newFollower(s Settings, rate timing.Rate) *follower {
	return &follower{attack: remaining(s.Attack, rate), release: remaining(s.Release, rate)}
}

// remaining is what a frame leaves of a distance that shrinks with a time constant of so many milliseconds.
func remaining(milliseconds float64, rate timing.Rate) float64 {
	if milliseconds <= 0 {
		return 0
	}
	return quantise(math.Exp(-1000 / (rate.PerSecond() * milliseconds)))
}

func (f *follower) next(height float64) float64 {
	if !f.begun {
		f.begun, f.height = true, height
		return height
	}
	left := f.release
	if height > f.height {
		left = f.attack
	}
	f.height = quantise(height + float64(left*(f.height-height)))
	return f.height
}

// chooser turns heights into levels.
type chooser struct {
	bottom, top levels.Level
	step        levels.Level
	hold        int
	level       levels.Level
	shown       int // frames for which level has been shown; 0 before the first
}

func newChooser(s Settings, dissolve bool) *chooser {
	c := &chooser{bottom: levels.Level(s.Bottom) * levels.One, top: levels.Level(s.Top) * levels.One, step: levels.One, hold: s.Hold}
	if dissolve {
		c.step, c.hold = dissolveStep, 0
	}
	return c
}

func (c *chooser) next(height float64) levels.Level {
	position := float64(c.bottom) + float64(float64(c.top-c.bottom)*height)
	step := float64(c.step)
	wanted := levels.Level(math.Floor(position/step+0.5)) * c.step
	away := math.Abs(position-float64(c.level)) > (0.5+hysteresis)*step
	if c.shown == 0 || away && c.shown >= c.hold {
		if wanted != c.level || c.shown == 0 {
			c.level, c.shown = wanted, 0
		}
	}
	c.shown++
	return c.level
}
