package main

import (
	"os"
	"runtime"
	"sync"

	"golang.org/x/sync/errgroup"

	"colonnade/analyze/shoot"
	"colonnade/compose/photos"
	"colonnade/compose/picture"
)

// look decodes the photos side by side and measures each against the base plate, as steady leaves it.
func (c *checked) look() (shoot.Set, error) {
	n := len(c.set.Photos)
	found := shoot.Set{BaseName: photos.Quote(c.base.Path), Shots: make([]*shoot.Shot, n), Names: make([]string, n),
		Exposure: make([]shoot.Exposure, n), Places: c.places, Scale: c.scale, Steady: c.steady}
	if len(c.steady) > 0 {
		found.Before, found.Mends = make([]*shoot.Measure, n), make([]shoot.Mend, n)
	}
	plate := sync.OnceValues(c.base.Pixels)
	base := sync.OnceValues(func() (*shoot.Base, error) {
		pixels, err := plate()
		if err != nil {
			return nil, err
		}
		return shoot.NewBase(pixels, c.curve, c.columns), nil
	})
	failed := make([]error, n)
	one := func(level int) error {
		photo := c.set.Photos[level]
		found.Names[level], found.Exposure[level] = photos.Quote(photo.Path), exposureOf(photo.Path)
		open := photo.Pixels
		if photo.Digest == c.base.Digest {
			open = plate
		}
		pixels, err := open()
		if err != nil {
			return err
		}
		ready, err := base()
		if err != nil {
			return err
		}
		if len(c.steady) > 0 {
			full, err := plate()
			if err != nil {
				return err
			}
			pixels = c.mended(&found, level, ready, pixels, full)
		}
		found.Shots[level] = ready.Look(pixels)
		return nil
	}
	var group errgroup.Group
	group.SetLimit(runtime.GOMAXPROCS(0))
	for level := range n {
		group.Go(func() error {
			failed[level] = one(level)
			return nil
		})
	}
	group.Wait()
	for _, err := range failed { // the first in level order, whichever worker met one first
		if err != nil {
			return found, err
		}
	}
	var err error
	found.Base, err = base()
	return found, err
}

// mended is a photo as steady makes it.
func (c *checked) mended(found *shoot.Set, level int, base *shoot.Base, pixels, plate *picture.Picture) *picture.Picture {
	if c.set.Photos[level].Digest == c.base.Digest {
		return pixels
	}
	before := base.Measure(pixels)
	found.Before[level], found.Mends[level] = &before, before.Mend()
	return correction(c.steady, found.Mends[level]).Apply(pixels, plate, c.curve)
}

// exposureOf is what the camera wrote into a photo, nothing when it can not be read.
func exposureOf(path string) shoot.Exposure {
	file, err := os.Open(path)
	if err != nil {
		return shoot.Exposure{}
	}
	defer file.Close()
	return shoot.ReadExposure(file)
}
