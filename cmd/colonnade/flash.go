package main

import (
	"fmt"
	"sync"

	"colonnade/analyze/flash"
	"colonnade/analyze/levels"
	"colonnade/cmd/columnfile"
	"colonnade/compose/photos"
	"colonnade/compose/picture"
	"colonnade/compose/scene"
	"colonnade/compose/sequence"
)

// flashWarnings looks for flashing in the frames of want. Where there are fewer than flash.Fewest nothing is decoded; otherwise
// the photos that they show, which the scene keeps.
func flashWarnings(s *scene.Scene, table *levels.Table, want span) ([]flash.Warning, error) {
	part := *table
	part.First, part.Rows = want.first, table.Rows[want.first-table.First:want.last+1-table.First]
	if len(part.Rows) < flash.Fewest {
		return nil, nil
	}
	base, err := s.ReadBasePlate()
	if err != nil {
		return nil, input(err)
	}
	stage := flash.Scene{Base: base, Photos: make([]picture.Reader, len(s.Set.Photos)), Masks: s.Masks(), Curve: s.Curve()}
	for _, photo := range levels.Shown(part.Rows...) {
		if stage.Photos[photo], err = s.ReadPhoto(photo); err != nil {
			return nil, input(err)
		}
	}
	colours := s.Profile()
	return flash.Warnings(&stage, flash.NewColour(&colours.Curve.Linear, colours.ToSRGB), &part), nil
}

// listenFlashing is what listen has to say about flashing. A song may be listened to before there are photos, so what is
// wrong with them is no error here.
func listenFlashing(file *columnfile.File, table *levels.Table, part span) []string {
	if _, err := photos.Find(file.Photos); err != nil {
		return nil
	}
	var noticed remarks
	s, err := openScene(file, &noticed)
	var warnings []flash.Warning
	if err == nil {
		warnings, err = flashWarnings(s, table, part)
	}
	if err != nil {
		return []string{notLookedFor(err)}
	}
	return append(noticed.waiting, flash.Notes(warnings)...)
}

// flashWatch looks for flashing beside the making of frames, once that has begun.
type flashWatch struct {
	once sync.Once
	done chan struct{}
}

// begin looks in a goroutine of its own and shows what it finds. All of the part is looked at, of which a shard makes some
// frames: a photo that can not be decoded may be none of theirs.
func (f *flashWatch) begin(p *piece, show *progress) {
	f.once.Do(func() {
		f.done = make(chan struct{})
		go func() {
			defer close(f.done)
			warnings, err := flashWarnings(p.scene, p.table, p.part)
			if err != nil {
				show.notes([]string{notLookedFor(err)})
				return
			}
			show.flashing(warnings)
		}()
	})
}

func notLookedFor(err error) string { return fmt.Sprintf("flashing was not looked for: %v", err) }

// wait waits for what was begun.
func (f *flashWatch) wait() {
	if f.done != nil {
		<-f.done
	}
}

// watchedCoder calls begin before a frame is made. A render that has nothing to write has nothing new to say about
// flashing either.
type watchedCoder struct {
	sequence.Coder
	begin func()
}

func (c watchedCoder) Append(dst []byte, tuple []levels.Level) ([]byte, error) {
	c.begin()
	out, err := c.Coder.Append(dst, tuple)
	return out, input(err) // all that can go wrong are the photos
}
