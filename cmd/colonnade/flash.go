package main

import (
	"colonnade/analyze/flash"
	"colonnade/analyze/levels"
	"colonnade/compose/picture"
	"colonnade/compose/scene"
)

// flashWarnings looks for flashing in the frames of want. It decodes the photos that they show; the scene keeps them.
func flashWarnings(s *scene.Scene, table *levels.Table, want span) ([]flash.Warning, error) {
	part := *table
	part.First, part.Rows = want.first, table.Rows[want.first-table.First:want.last+1-table.First]
	base, err := s.BasePlate()
	if err != nil {
		return nil, input(err)
	}
	stage := picture.Scene{Base: base, Photos: make([]*picture.Picture, len(s.Set.Photos)), Masks: s.Masks(), Curve: s.Curve()}
	for photo, used := range flash.PhotosUsed(&part, len(stage.Photos)) {
		if !used {
			continue
		}
		if stage.Photos[photo], err = s.Photo(photo); err != nil {
			return nil, input(err)
		}
	}
	colours := s.Profile()
	return flash.Warnings(&stage, flash.NewColour(&colours.Curve.Linear, colours.ToSRGB), &part), nil
}
