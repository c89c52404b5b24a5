// Package mark finds the columns of a photo set: what grows from photo to photo, above noise and drifting light.
//
// It takes the photos in level order and gives for each column a region, a polygon in photo pixels that takes in the
// stack with the shadows that touch it and stays clear of its neighbours, a feather that fits the gaps, and the highest
// level the column reaches. It also writes them as a column file, and draws them over the fullest photo.
//
// The way: every photo is reduced to a working size, the map, in linear light (plane.go) and compared with the empty stage
// once its light has been brought to the stage's (drift.go, change.go, shade.go). The first level from which on a pixel has
// changed for good tells which row of objects it belongs to. The changes of each level fall into parts, about one an object
// (part.go, nearest.go); parts that rest on one another make a stack (column.go, decide.go); what is left of the changes,
// soft shadows mostly, goes to the nearest stack (grow.go). Regions are hulls around the stacks, cut apart along straight
// lines (region.go, hull.go), or along the objects where no line goes between them (outline.go, smooth.go).
package mark

import (
	"errors"
	"image"
	"runtime"

	"golang.org/x/sync/errgroup"

	"colonnade/compose/light"
	"colonnade/compose/picture"
	"colonnade/masks"
)

// Photos is a photo set as it is needed here. Load decodes the photo of a level, 0 to Count-1, and may be called from
// several goroutines at once.
type Photos struct {
	Size  image.Point
	Count int
	Load  func(level int) (*picture.Picture, error)
}

// Options are what the caller knows better.
type Options struct {
	Columns int // how many columns there are; 0 to count them
}

// Column is one column found.
type Column struct {
	Region  masks.Region // photo pixels, to a tenth at the most, inside the photo; it meets no other column's
	Feather float64      // photo pixels, to a tenth
	Top     int          // highest level at which it grows
}

// Found is what was found.
type Found struct {
	Columns []Column // from left to right by where they stand
	Feather float64  // photo pixels: the feather where there is room
	Top     int      // highest level of the set
	Doubts  []string // what a person should look at, one line each
	// Fullest is the photo of the highest level, each of its pixels the mean of Reduction x Reduction of the photo.
	Fullest   *picture.Picture
	Reduction int
	Size      image.Point // of the photo
}

// ErrNothing says that nothing grows from photo to photo.
var ErrNothing = errors.New("nothing grows from photo to photo")

// workingSize is the longer side, in pixels, that photos are reduced to at the most: enough to tell a gap of a
// five-hundredth of the picture, and quick.
const workingSize = 1600

// Find finds the columns. There are two photos or more. Errors are those of Load, and ErrNothing.
func Find(photos Photos, options Options) (*Found, error) {
	factor := (max(photos.Size.X, photos.Size.Y) + workingSize - 1) / workingSize
	curve := light.SRGB()
	load := func(level int) (*plane, error) {
		p, err := photos.Load(level)
		if err != nil {
			return nil, err
		}
		return reduce(p, factor, curve), nil
	}
	empty, err := load(0)
	if err != nil {
		return nil, err
	}
	stage := newStage(empty)
	top := photos.Count - 1
	changes := make([]*change, photos.Count)
	var fullest *plane
	failed := make([]error, photos.Count)
	var group errgroup.Group
	group.SetLimit(runtime.GOMAXPROCS(0))
	for level := 1; level <= top; level++ {
		group.Go(func() error {
			p, err := load(level)
			if err != nil {
				failed[level] = err
				return nil
			}
			changes[level] = stage.compare(p)
			if level == top {
				fullest = p
			}
			return nil
		})
	}
	group.Wait()
	for _, err := range failed { // the first in level order, whichever worker met one first
		if err != nil {
			return nil, err
		}
	}
	found := &Found{Top: top, Reduction: factor, Size: photos.Size, Fullest: fullest.picture(curve)}
	grown := grownFrom(stage.width, stage.height, changes)
	out := findColumns(grown, options.Columns, factor)
	if len(out.stacks) == 0 {
		return nil, ErrNothing
	}
	found.Doubts = append(photoDoubts(changes), out.doubts...)
	found.draw(grown, out)
	return found, nil
}
