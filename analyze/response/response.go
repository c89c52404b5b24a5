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
// raises its column alone. A column whose R is below silence, -80 dB, stays at Bottom: hiss is not blown up to a dance. But
// where the band is silent save for a sound rarer than Clip, whose floor is above -80 dB too, R is the loudest frame:
// a single stroke of a bell shows.
//
// The level shown is round(p), with a hysteresis: it changes only when p lies more than three quarters of a level
// away from it, so that a steady tone never flickers, and not before it was shown for Hold frames. A rise that goes on
// within the next Hold frames waits for its peak, or holding would hide that: so a stroke, which a window spreads over
// the frames around it, is shown at its height and in the frame in which it sounds. In a dissolve levels are eighths,
// with the same hysteresis in eighths, and Hold does not count: nothing jumps there.
//
// What comes of exp and pow is rounded to 2^-20, and all else is exact to the last bit by IEEE 754, so that every
// processor chooses alike.
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

// silence is the RMS amplitude, -80 dB, that a column must reach at its top to be shown at all.
const silence = 1e-4

const (
	// hysteresis beyond the half-way point between two levels, as a share of their distance.
	hysteresis = 0.25
	// dissolveStep is the smallest change of a dissolve.
	dissolveStep = levels.One / 8
	// precision to which what processors differ over is rounded.
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
	Range            float64 // share of the levels that are shown for a hundredth of the time or more
	Match            float64 // correlation of levels and envelope: 1 where they go together, 0 where they have nothing in common
}

// Levels turns values[column][frame] into levels[frame][column]. settings has one entry a column, with
// 0 <= Bottom <= Top. Every row of values has the same length.
func Levels(values [][]float64, settings []Settings, rate timing.Rate, dissolve bool) ([][]levels.Level, []Summary) {
	summaries := references(values, settings)
	frames := 0
	if len(values) > 0 {
		frames = len(values[0])
	}
	rows := make([][]levels.Level, frames)
	cells := make([]levels.Level, frames*len(values))
	for n := range rows {
		rows[n] = cells[n*len(values):][:len(values):len(values)]
	}
	heights := make([]float64, frames)
	for c, envelope := range values {
		column := newColumn(settings[c], summaries[c].Reference, rate, dissolve)
		for n, e := range envelope {
			heights[n] = column.follower.next(column.height(e))
		}
		for n := range heights {
			rows[n][c] = column.chooser.next(heights[n:])
		}
	}
	measureAll(summaries, values, rows, settings, rate)
	return rows, summaries
}

// Summarise tells what columns do whose levels were made or changed by hand. rows[i] holds those of frame first+i, each
// of which values has.
func Summarise(values [][]float64, first int, rows [][]levels.Level, settings []Settings, rate timing.Rate) []Summary {
	summaries := references(values, settings)
	heard := make([][]float64, len(values))
	for c, envelope := range values {
		heard[c] = envelope[first-1:][:len(rows)]
	}
	measureAll(summaries, heard, rows, settings, rate)
	return summaries
}

// measureAll fills in what is told from the levels shown.
func measureAll(summaries []Summary, values [][]float64, rows [][]levels.Level, settings []Settings, rate timing.Rate) {
	shownLevels := make([]levels.Level, len(rows))
	for c := range summaries {
		for n, row := range rows {
			shownLevels[n] = row[c]
		}
		summaries[c].measure(shownLevels, values[c], settings[c], rate.PerSecond())
	}
}

// references gives summaries that hold what counts as each column's top.
func references(values [][]float64, settings []Settings) []Summary {
	summaries := make([]Summary, len(values))
	shared := 0.0
	for c, envelope := range values {
		s := &summaries[c]
		s.Loudest, s.Reference = reference(envelope, settings[c])
		if settings[c].Shared {
			shared = max(shared, s.Reference)
		}
	}
	for c := range summaries {
		s := &summaries[c]
		if settings[c].Shared {
			s.Reference = shared
		}
		s.Silent = s.Reference < silence
	}
	return summaries
}

// reference gives an envelope's largest value and what counts as its top: the smallest of its values that at most a share of
// Clip of them lie above.
func reference(envelope []float64, s Settings) (loudest, top float64) {
	if len(envelope) == 0 {
		return 0, 0
	}
	sorted := slices.Clone(envelope)
	slices.Sort(sorted)
	last := len(sorted) - 1
	const slack = 1e-9 // a share such as 0.29 of 100 frames is 28.99999... in binary
	above := max(0, min(int(s.Clip*float64(len(sorted))+slack), last))
	loudest, top = sorted[last], sorted[last-above]
	if top < silence && loudest*decibels(s.Floor) >= silence {
		top = loudest
	}
	return loudest, top
}

// decibels is the factor that a number of decibels of amplitude stands for.
func decibels(db float64) float64 { return quantise(math.Pow(10, db/20)) }

// column is what a column remembers from frame to frame.
type column struct {
	scale, floor, curve float64
	follower            follower
	chooser             chooser
}

// newColumn has its top at reference; below silence it has none.
func newColumn(s Settings, reference float64, rate timing.Rate, dissolve bool) *column {
	c := &column{floor: decibels(s.Floor), curve: s.Curve, follower: newFollower(s, rate), chooser: newChooser(s, dissolve)}
	if reference >= silence {
		c.scale = decibels(s.Gain) / reference
	}
	return c
}

// height is h above after the curve, 0 to 1, before attack and release.
func (c *column) height(envelope float64) float64 {
	x := c.scale * envelope
	switch {
	case x <= c.floor:
		return 0
	case x >= 1:
		return 1
	}
	return quantise(math.Pow((x-c.floor)/(1-c.floor), c.curve))
}

// quantise drops the bits in which processors differ.
func quantise(v float64) float64 { return math.Round(v*precision) / precision }
