// Command generate makes everything the cairns example feeds on: seven photos
// of stones balanced on a windowsill, a song of 24 seconds, and a picture of
// the regions that columns.toml cuts out. Nothing in it was photographed or
// recorded.
//
//	go run ./examples/cairns/generate
//
// run from the top of the repository, writes photos/photo_00.jpg to
// photo_06.jpg, song.wav and regions.jpg into examples/cairns, or into the
// folder after -o, where columns.toml must be. It takes about a minute on two
// processors.
//
// Chance comes from fixed seeds, so the files come out the same, byte for
// byte, every time: on amd64 (at the usual GOAMD64=v1) and with one version
// of Go, whose JPEG encoder is part of the bargain. Other processors round
// some sums differently, and a few pixels with them.
//
// The scene is measured in units of one hundred photo pixels. Stones are
// ellipsoids with worn sides that rest on each other (stone.go, mineral.go,
// stack.go); a camera with a real aperture follows rays to them (render.go,
// column.go) past a frame and a sill (room.go) and a view that is painted out
// of focus (outside.go), asks what light falls there (light.go), and develops
// a photo with a lens and a sensor of its own (photograph.go). The song is
// written out bar by bar (song.go) for five instruments (instruments.go).
package main

import (
	"bufio"
	"flag"
	"fmt"
	"image"
	"os"
	"path/filepath"
)

func main() {
	folder := flag.String("o", filepath.Join("examples", "cairns"), "the `folder` of the example, with columns.toml in it")
	flag.Parse()
	if err := generate(*folder, fine()); err != nil {
		fmt.Fprintf(os.Stderr, "cairns: %v\n", err)
		os.Exit(1)
	}
}

// generate writes the example's files into the folder.
func generate(folder string, q quality) error {
	regions, err := readRegions(filepath.Join(folder, "columns.toml"))
	if err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Join(folder, "photos"), 0o755); err != nil {
		return err
	}
	song := composeSong()
	err = saveWhole(filepath.Join(folder, "song.wav"), func(out *bufio.Writer) error {
		return writeWAV(out, song)
	})
	if err != nil {
		return err
	}

	scene := newScene(q)
	stage := scene.stage()
	camera := newPhotograph(stage)
	var fullest *image.RGBA
	for level := 0; level <= levels; level++ {
		fullest = camera.develop(scene.raise(stage, level), level)
		name := filepath.Join(folder, "photos", fmt.Sprintf("photo_%02d.jpg", level))
		if err := saveJPEG(name, fullest, jpegQuality); err != nil {
			return err
		}
		fmt.Fprintln(os.Stderr, name)
	}
	picture, err := drawRegions(fullest, regions)
	if err != nil {
		return err
	}
	return saveJPEG(filepath.Join(folder, "regions.jpg"), picture, jpegQuality)
}
