package stream

import (
	"image"
	"io"
	"math/rand/v2"
	"testing"

	"colonnade/analyze/levels"
	"colonnade/compose/light"
	"colonnade/compose/picture"
	"colonnade/masks"
)

const benchPhotos = 6

// benchScene is six columns that cover 57 % of a frame of 1920 x 1080 and touch each other at their feathers.
func benchScene() *scene {
	const width, height = 1920, 1080
	random := rand.New(rand.NewPCG(1, 2))
	s := &scene{Scene: picture.Scene{Base: noise(random, width, height), Curve: light.SRGB()}}
	for range benchPhotos {
		s.Photos = append(s.Photos, noise(random, width, height))
	}
	bounds := image.Rect(0, 0, width, height)
	for i := range 6 {
		left, right := float64(160+270*i), float64(160+270*i+230)
		region := masks.Region{{X: left, Y: 130}, {X: right, Y: 130}, {X: right, Y: 980}, {X: left, Y: 980}}
		s.Masks = append(s.Masks, masks.Feathered(region, 6, bounds, bounds))
	}
	return s
}

// BenchmarkFrame is a frame at 1080p, all tiles made before, written to nowhere.
func BenchmarkFrame(b *testing.B) {
	for _, c := range []struct {
		name    string
		changed int
	}{{"one column of six changes", 1}, {"all six change", 6}, {"none changes", 0}} {
		b.Run(c.name, func(b *testing.B) {
			s := benchScene()
			stream := open(b, s, Options{Chroma: 420})
			tuple := make([]levels.Level, len(s.Masks))
			next := func(i int) {
				for k := range c.changed {
					tuple[k] = levels.Level(i%benchPhotos) * levels.One
				}
				if err := stream.Write(io.Discard, tuple); err != nil {
					b.Fatal(err)
				}
			}
			for i := range benchPhotos {
				next(i)
			}
			b.SetBytes(int64(len(stream.frame)))
			for i := 0; b.Loop(); i++ {
				next(i)
			}
		})
	}
}

// BenchmarkTile is one column's tile made anew, at a photo's level and between two.
func BenchmarkTile(b *testing.B) {
	s := benchScene()
	stream := open(b, s, Options{Chroma: 420})
	for name, level := range map[string]levels.Level{"step": 2000, "dissolve": 2500} {
		b.Run(name, func(b *testing.B) {
			tuple := []levels.Level{level, 0, 0, 0, 0, 0}
			photos := picture.Readers(s.Photos)
			for b.Loop() {
				for i := range stream.areas {
					if a := &stream.areas[i]; len(a.columns) == 1 && a.columns[0] == 0 {
						a.tile(s.Base, photos, s.Curve, tuple, 2)
					}
				}
			}
		})
	}
}

// BenchmarkNew is the search for what depends on which columns.
func BenchmarkNew(b *testing.B) {
	s := benchScene()
	for b.Loop() {
		open(b, s, Options{Chroma: 420})
	}
}
