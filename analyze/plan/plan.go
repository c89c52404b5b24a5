// Package plan tells what a shoot and its render will need before any photo is taken, and suggests bands for the
// columns.
//
// It takes the number of columns and objects, the length of the song and the look of the frames, and gives figures, a
// shot list, the settings to lock on the camera and cautions, as plain text or as one printable page. What rests on
// an assumption says so beside the figure.
package plan

import (
	"image"
	"math"

	"colonnade/analyze/timing"
)

const (
	// MaxColumns and MaxObjects bound what is planned: the sheet still fits a page, and nobody stacks more.
	MaxColumns = 24
	MaxObjects = 60
)

// Shoot is what is planned.
type Shoot struct {
	Objects []int       // in each column's full stack, left to right; 1 to MaxColumns columns of 1 to MaxObjects
	Frames  int         // of the video; 0 while the song's length is not known
	Seconds float64     // length of the song
	Song    string      // its name for people; "" for none
	Rate    timing.Rate // frames a second
	Size    image.Point // of a frame, pixels
}

// Columns is the number of stacks.
func (s *Shoot) Columns() int { return len(s.Objects) }

// Top is the number of objects in the tallest stack, and the highest level.
func (s *Shoot) Top() int {
	top := 0
	for _, n := range s.Objects {
		top = max(top, n)
	}
	return top
}

// Photos is one for each level and one of the empty stage.
func (s *Shoot) Photos() int { return s.Top() + 1 }

// Total is the number of objects needed, all stacks full at once.
func (s *Shoot) Total() int {
	total := 0
	for _, n := range s.Objects {
		total += n
	}
	return total
}

// growing are the columns, from 1, that get an object before the photo of a level is taken.
func (s *Shoot) growing(level int) []int {
	var columns []int
	for i, n := range s.Objects {
		if n >= level {
			columns = append(columns, i+1)
		}
	}
	return columns
}

// Assumptions about frames. Measured on frames of this program: 0.7 bytes a pixel for a smooth drawn scene, 2.2 for a
// painting full of grain, photographs between.
const (
	smoothBytes = 0.7
	usualBytes  = 1.4
	roughBytes  = 2.3
	// diskRate is what an ordinary solid-state disk takes for long, bytes a second. Writing is most of a render's
	// time; a slow disk or one at the end of a network takes a quarter of it.
	diskRate     = 200e6
	slowDiskRate = 50e6
	// setUp is the time in seconds to read and code a million pixels of one photo on one core.
	setUp = 0.4
)

// Storage is the disk space of all frames in bytes: for smooth, usual and rough pictures.
func (s *Shoot) Storage() (smooth, usual, rough float64) {
	pixels := float64(s.Frames) * float64(s.Size.X) * float64(s.Size.Y)
	return smoothBytes * pixels, usualBytes * pixels, roughBytes * pixels
}

// RenderTime is how long a render takes in seconds, on an ordinary solid-state disk and on a slow one.
func (s *Shoot) RenderTime() (usual, slow float64) {
	_, bytes, _ := s.Storage()
	start := setUp * float64(s.Photos()) * float64(s.Size.X) * float64(s.Size.Y) / 1e6
	return float64(start + bytes/diskRate), float64(start + bytes/slowDiskRate)
}

// visibleStep is the share by which light may differ between two photos before an eye sees it where they meet
// (Weber's fraction for large fields, about 1 %).
const visibleStep = 0.01

// hourAngle is how far the sun turns in an hour, in radians.
const hourAngle = 15 * math.Pi / 180

// Interval is the longest time in seconds from one exposure to the next such that the light of all photos stays
// within visibleStep, by daylight from a clear sky: around noon, and in the middle of the morning or afternoon. It is
// geometry alone: at the equinox the light on level ground goes with the cosine of the sun's hour angle, at every
// latitude. Air, haze and clouds change it faster.
func (s *Shoot) Interval() (noon, afternoon float64) {
	gaps := float64(s.Photos() - 1)
	// Around noon the first and the last photo lie as far before it as after it.
	atNoon := 2 * math.Acos(1-visibleStep) / hourAngle * 3600
	// Three hours away from it, where the hour angle is 45 degrees, light changes by tan 45° an hour angle.
	later := visibleStep / (math.Tan(math.Pi/4) * hourAngle) * 3600
	return atNoon / gaps, later / gaps
}
