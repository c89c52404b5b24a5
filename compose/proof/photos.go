package proof

import (
	"bytes"
	"encoding/base64"
	"image"
	"image/jpeg"
	"math"
	"runtime"

	"golang.org/x/sync/errgroup"

	"colonnade/compose/picture"
	"colonnade/compose/scene"
)

// qualities of the photos' JPEGs, the best that fits being taken: at 92 codes are a few off, at 40 blocks show.
var qualities = []int{92, 88, 82, 75, 66, 55, 40}

// photos codes every photo of the set, and the base plate where it is none of them, into so many bytes of text.
func (c *content) photos(s *scene.Scene, room int) error {
	c.Base = -1
	makers := make([]func() (*picture.Picture, error), 0, len(s.Set.Photos)+1)
	for level, photo := range s.Set.Photos {
		if photo == s.Base {
			c.Base = level
		}
		makers = append(makers, func() (*picture.Picture, error) { return s.Photo(level) })
	}
	if c.Base < 0 {
		c.Base = len(makers)
		makers = append(makers, s.BasePlate)
	}
	if err := s.Decode(s.Levels()); err != nil { // of several damaged photos always the lowest is named
		return err
	}
	pictures := make([]*image.RGBA, len(makers))
	var group errgroup.Group
	group.SetLimit(runtime.GOMAXPROCS(0))
	for i, maker := range makers {
		group.Go(func() error {
			p, err := maker()
			if err == nil {
				pictures[i] = rgba(p)
			}
			return err
		})
	}
	if err := group.Wait(); err != nil {
		return err
	}
	c.Photos = make([]string, len(pictures))
	for _, quality := range qualities {
		total := 0
		for i, p := range pictures {
			var coded bytes.Buffer
			if err := jpeg.Encode(&coded, p, &jpeg.Options{Quality: quality}); err != nil {
				return err
			}
			c.Photos[i] = base64.StdEncoding.EncodeToString(coded.Bytes())
			total += len(c.Photos[i])
		}
		if total <= room {
			break
		}
	}
	return nil
}

// rgba is a picture as the JPEG encoder takes it.
func rgba(p *picture.Picture) *image.RGBA {
	out := image.NewRGBA(image.Rect(0, 0, p.Width, p.Height))
	for i := range p.Width * p.Height {
		copy(out.Pix[4*i:], p.Pix[3*i:3*i+3])
		out.Pix[4*i+3] = 255
	}
	return out
}

// PictureSize is the size of a page's picture of the given shape: width pixels wide, or as wide as the shape itself where
// that is less.
func PictureSize(shapeWidth, shapeHeight float64, width int) image.Point {
	ratio := shapeWidth / shapeHeight
	w := math.Min(float64(width), math.Round(shapeWidth))
	h := math.Max(1, math.Round(w/ratio))
	if ratio > 1 { // a wide picture keeps its shape to less than a pixel when its height is the rounded one
		w = math.Max(1, math.Round(h*ratio))
	}
	return image.Pt(int(w), int(h))
}
