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

// next is the level for the first of heights, behind which are those of the frames to come.
func (c *chooser) next(heights []float64) levels.Level {
	position := c.position(heights[0])
	away := math.Abs(position-float64(c.level)) > (0.5+hysteresis)*float64(c.step)
	if c.shown == 0 || away && c.shown >= c.hold && !c.waits(heights) {
		c.level, c.shown = c.nearest(position), 0
	}
	c.shown++
	return c.level
}

// waits is whether a rise goes on within the frames for which its level would have to be held, which would then hide
// its peak.
func (c *chooser) waits(heights []float64) bool {
	level := c.nearest(c.position(heights[0]))
	if level < c.level {
		return false
	}
	for _, height := range heights[1:min(max(c.hold, 1), len(heights))] {
		if c.nearest(c.position(height)) > level {
			return true
		}
	}
	return false
}

// position is p of the package's formula in thousandths of a level.
func (c *chooser) position(height float64) float64 {
	return float64(c.bottom) + float64(float64(c.top-c.bottom)*height)
}

// nearest is the level shown for a position where nothing keeps it.
func (c *chooser) nearest(position float64) levels.Level {
	return levels.Level(math.Floor(position/float64(c.step)+0.5)) * c.step
}
