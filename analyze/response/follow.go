package response

import (
	"math"

	"colonnade/analyze/levels"
	"colonnade/analyze/timing"
)

// follower slows a height's rise and fall down.
type follower struct {
	attack, release float64 // share of the distance left after a frame
	height          float64
	begun           bool
}

func newFollower(s Settings, rate timing.Rate) follower {
	return follower{attack: remaining(s.Attack, rate), release: remaining(s.Release, rate)}
}

// remaining is what a frame leaves of a distance that shrinks with a time constant of so many milliseconds. It is
// always less than 1, so that every height is reached in the end.
func remaining(milliseconds float64, rate timing.Rate) float64 {
	if milliseconds <= 0 {
		return 0
	}
	left := math.Exp(-1000 / (rate.PerSecond() * milliseconds))
	return min(quantise(left), 1-1./precision)
}

// next begins at the first height, so that a song that starts loud starts tall.
func (f *follower) next(height float64) float64 {
	if !f.begun {
		f.begun, f.height = true, height
		return height
	}
	left := f.release
	if height > f.height {
		left = f.attack
	}
	f.height = height + float64(left*(f.height-height))
	return f.height
}

// chooser turns heights into levels.
type chooser struct {
	bottom, top levels.Level
	step        levels.Level // distance between two levels that are shown
	hold        int
	level       levels.Level
	shown       int // frames for which level has been shown; 0 before the first
}

func newChooser(s Settings, dissolve bool) chooser {
	c := chooser{bottom: levels.Level(s.Bottom) * levels.One, top: levels.Level(max(s.Top, s.Bottom)) * levels.One, step: levels.One, hold: s.Hold}
	if dissolve {
		c.step, c.hold = dissolveStep, 0
	}
	return c
}

func (c *chooser) next(height float64) levels.Level {
	position := float64(c.bottom) + float64(float64(c.top-c.bottom)*height)
	step := float64(c.step)
	away := math.Abs(position-float64(c.level)) > (0.5+hysteresis)*step
	if c.shown == 0 || away && c.shown >= c.hold {
		c.level, c.shown = levels.Level(math.Floor(position/step+0.5))*c.step, 0
	}
	c.shown++
	return c.level
}
