package main

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"os"

	"github.com/pelletier/go-toml/v2"
	"golang.org/x/image/draw"
	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gomedium"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
)

// region is what the picture of the regions needs of a column in columns.toml.
type region struct {
	Name    string       `toml:"name"`
	Band    [2]float64   `toml:"band"`   // Hz
	Corners [][2]float64 `toml:"region"` // photo pixels
	Feather float64      `toml:"feather"`
}

// readRegions reads the columns of a column file. The program itself reads
// such files with far more care; here only the outlines are wanted.
func readRegions(name string) ([]region, error) {
	text, err := os.ReadFile(name)
	if err != nil {
		return nil, err
	}
	var file struct {
		Feather float64  `toml:"feather"`
		Columns []region `toml:"column"`
	}
	if err := toml.Unmarshal(text, &file); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	for i := range file.Columns {
		column := &file.Columns[i]
		if len(column.Corners) < 3 {
			return nil, fmt.Errorf("%s: column %q has %d corners, a region needs 3 or more; give its region as corners", name, column.Name, len(column.Corners))
		}
		if column.Feather == 0 {
			column.Feather = file.Feather
		}
	}
	return file.Columns, nil
}

// within is how far the point lies inside the region's outline, in photo
// pixels; outside it is negative.
func (r region) within(x, y float64) float64 {
	nearest, inside := math.Inf(1), false
	for i, a := range r.Corners {
		b := r.Corners[(i+1)%len(r.Corners)]
		dx, dy := b[0]-a[0], b[1]-a[1]
		along := clamp(((x-a[0])*dx+(y-a[1])*dy)/(dx*dx+dy*dy), 0, 1)
		nearest = min(nearest, math.Hypot(x-a[0]-dx*along, y-a[1]-dy*along))
		if (a[1] > y) != (b[1] > y) && x < a[0]+dx*(y-a[1])/dy {
			inside = !inside
		}
	}
	if inside {
		return nearest
	}
	return -nearest
}

// drawRegions draws the photo at half its size, dims what no region takes,
// and writes each region's name and band below its stack.
func drawRegions(photo image.Image, regions []region) (image.Image, error) {
	const shrink = 2
	size := photo.Bounds().Size().Div(shrink)
	picture := image.NewRGBA(image.Rectangle{Max: size})
	draw.CatmullRom.Scale(picture, picture.Bounds(), photo, photo.Bounds(), draw.Src, nil)
	scale := float64(photoWidth) / float64(size.X)
	inParallel(size.Y, func(row int) {
		for column := 0; column < size.X; column++ {
			x, y := (float64(column)+0.5)*scale, (float64(row)+0.5)*scale
			mask, line := 0.0, 0.0
			for _, r := range regions {
				within := r.within(x, y)
				mask = max(mask, smooth(-2*r.Feather, 2*r.Feather, within))
				line = max(line, 1-smooth(0.4*scale, 1.4*scale, math.Abs(within)))
			}
			c := picture.RGBAAt(column, row)
			shade := func(value uint8) uint8 {
				return uint8(mix(float64(value)*mix(0.45, 1, mask), 255, 0.85*line) + 0.5)
			}
			picture.SetRGBA(column, row, color.RGBA{shade(c.R), shade(c.G), shade(c.B), 255})
		}
	})

	typeface, err := opentype.Parse(gomedium.TTF)
	if err != nil {
		return nil, err
	}
	face, err := opentype.NewFace(typeface, &opentype.FaceOptions{Size: 13, DPI: 72, Hinting: font.HintingFull})
	if err != nil {
		return nil, err
	}
	for _, r := range regions {
		middle, foot := 0.0, 0.0
		for _, corner := range r.Corners {
			middle += corner[0] / float64(len(r.Corners))
			foot = max(foot, corner[1])
		}
		for i, text := range []string{fmt.Sprintf("%g–%g Hz", r.Band[0], r.Band[1]), r.Name} {
			writer := font.Drawer{Dst: picture, Face: face}
			left := fixed.I(int(middle/scale)) - writer.MeasureString(text)/2
			base := fixed.I(int(foot/scale) - 8 - 16*i)
			for _, ink := range []struct {
				offset fixed.Int26_6
				colour color.Color
			}{{fixed.I(1), color.RGBA{35, 20, 10, 255}}, {0, color.White}} {
				writer.Src = image.NewUniform(ink.colour)
				writer.Dot = fixed.Point26_6{X: left + ink.offset, Y: base + ink.offset}
				writer.DrawString(text)
			}
		}
	}
	return picture, nil
}
