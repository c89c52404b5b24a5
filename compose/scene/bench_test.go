package scene

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"golang.org/x/sync/errgroup"

	"colonnade/analyze/levels"
	"colonnade/compose/photos"
)

// photographs writes six JPEG photos of soft shapes and grain and opens them.
func photographs(b *testing.B, width, height int) *photos.Set {
	b.Helper()
	folder := b.TempDir()
	for level := range 6 {
		img := image.NewRGBA(image.Rect(0, 0, width, height))
		grain := uint32(level + 1)
		for y := range height {
			for x := range width {
				shape := math.Sin(float64(x)/37+float64(level)) + math.Sin(float64(y)/23) + math.Sin(float64(x+2*y)/7)
				grain = grain*1664525 + 1013904223 // common practice, no source
				v := 128 + 30*shape + float64(grain>>28) - 8
				img.SetRGBA(x, y, color.RGBA{uint8(v), uint8(v * 0.9), uint8(v*0.8 + 10), 255})
			}
		}
		var file bytes.Buffer
		if err := jpeg.Encode(&file, img, &jpeg.Options{Quality: 92}); err != nil {
			b.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(folder, fmt.Sprintf("photo-%d.jpg", level)), file.Bytes(), 0o644); err != nil {
			b.Fatal(err)
		}
	}
	set, err := photos.OpenSet(folder)
	if err != nil {
		b.Fatal(err)
	}
	return set
}

// BenchmarkFirstFrame makes the first frame of six columns, one that shows the empty stage and one that shows all photos, and
// tells how many times as long it takes as decoding all photos to RGB alone, measured in turn with it.
func BenchmarkFirstFrame(b *testing.B) {
	for _, size := range []image.Point{{1920, 1080}, {3840, 2160}} {
		b.Run(fmt.Sprintf("%dx%d", size.X, size.Y), func(b *testing.B) {
			set := photographs(b, size.X, size.Y)
			view, err := photos.NewView(set.Size, size, nil)
			if err != nil {
				b.Fatal(err)
			}
			var columns []Column
			width, height := float64(size.X)/6, float64(size.Y)
			for i := range 6 {
				columns = append(columns, Column{Region: box(float64(i)*width+width/8, height/8, width*3/4, height*3/4), Feather: 6})
			}
			fresh := func() *Scene {
				s, err := New(set, view, columns, set.Photos[0], false)
				if err != nil {
					b.Fatal(err)
				}
				return s
			}
			for _, frame := range []struct {
				name  string
				tuple []levels.Level
			}{
				{"empty", make([]levels.Level, 6)},
				{"all", []levels.Level{1000, 2000, 3000, 4000, 5000, 0}},
			} {
				b.Run(frame.name, func(b *testing.B) {
					var decoding, making time.Duration
					for b.Loop() {
						everything := fresh()
						start := time.Now()
						var group errgroup.Group
						group.SetLimit(runtime.GOMAXPROCS(0))
						for _, level := range everything.Levels() {
							group.Go(func() error {
								_, err := everything.Photo(level)
								return err
							})
						}
						if err := group.Wait(); err != nil {
							b.Fatal(err)
						}
						decoding += time.Since(start)
						start = time.Now()
						if _, err := fresh().Coder(0, 0).Append(nil, frame.tuple); err != nil {
							b.Fatal(err)
						}
						making += time.Since(start)
					}
					b.ReportMetric(making.Seconds()/decoding.Seconds(), "times-decoding")
				})
			}
		})
	}
}
