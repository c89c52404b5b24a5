package main

import (
	"fmt"
	"slices"
	"sync"

	"colonnade/analyze/shoot"
	"colonnade/cmd/columnfile"
	"colonnade/compose/photos"
	"colonnade/compose/picture"
	"colonnade/compose/scene"
)

// remarks are what is noticed while photos are decoded, on any goroutine. They wait until it is known where they go. On nil
// they are dropped.
type remarks struct {
	mutex   sync.Mutex
	waiting []string
	to      func([]string)
}

func (r *remarks) add(lines []string) {
	if r == nil || len(lines) == 0 {
		return
	}
	r.mutex.Lock()
	defer r.mutex.Unlock()
	if r.to == nil {
		r.waiting = append(r.waiting, lines...)
		return
	}
	r.to(lines)
}

// flow gives to what waits, and then what comes.
func (r *remarks) flow(to func([]string)) {
	r.mutex.Lock()
	defer r.mutex.Unlock()
	if r.to = to; len(r.waiting) > 0 {
		to(r.waiting)
		r.waiting = nil
	}
}

// makeSteady makes a scene correct its photos as the column file asks. Nothing is measured before the first photo is
// needed; what is left alone is remarked then.
func makeSteady(file *columnfile.File, s *scene.Scene, noticed *remarks) {
	s.SetSteady(scene.Steady{
		Light: slices.Contains(file.Steady, "light"), Shift: slices.Contains(file.Steady, "shift"),
		Measure: func(plate *picture.Picture) func(*picture.Picture, int) photos.Correction {
			base := shoot.NewBase(plate, s.Profile().Curve, shootColumns(file, s.Set.Top()))
			return func(photo *picture.Picture, level int) photos.Correction {
				measure := base.Measure(photo)
				mend := measure.Mend()
				noticed.add(doubts(photos.Quote(s.Set.Photos[level].Path), file.Steady, mend))
				return photos.Correction{Gain: mend.Gain, Shift: mend.Shift}
			}
		},
	})
}

// correction is what steady does to a photo with the corrections that are switched on.
func correction(steady []string, mend shoot.Mend) (c photos.Correction) {
	if slices.Contains(steady, "light") {
		c.Gain = mend.Gain
	}
	if slices.Contains(steady, "shift") {
		c.Shift = mend.Shift
	}
	return c
}

// doubts say what steady leaves alone although it is switched on.
func doubts(name string, steady []string, mend shoot.Mend) (lines []string) {
	if mend.LightDoubt != "" && slices.Contains(steady, "light") {
		lines = append(lines, fmt.Sprintf("%s: %s: steady leaves the light alone; look at the photo, or take it again", name, mend.LightDoubt))
	}
	if mend.ShiftDoubt != "" && slices.Contains(steady, "shift") {
		lines = append(lines, fmt.Sprintf("%s: %s: steady leaves its place alone; look at the photo, or take it again", name, mend.ShiftDoubt))
	}
	return lines
}

// shootColumns are the columns as a photo set is checked against them. top is the highest level of the set.
func shootColumns(file *columnfile.File, top int) []shoot.Column {
	columns := make([]shoot.Column, len(file.Columns))
	for i, c := range file.Columns {
		columns[i] = shoot.Column{Name: c.Name, Region: c.Region, Feather: c.Feather, Top: top}
		if c.Response.Top >= 0 {
			columns[i].Top = min(c.Response.Top, top)
		}
	}
	return columns
}
