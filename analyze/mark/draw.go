package mark

import (
	"fmt"
	"image"
	"image/color"
	"math"

	"golang.org/x/image/font"

	"colonnade/analyze/pen"
)

// Sizes of the picture of what was found, in its own pixels.
const (
	// shortest is the length that a small photo's longer side is blown up to, by a whole factor.
	shortest    = 800
	textSize    = 15
	numberSize  = 26
	rulerAcross = 46 // room for a ruler and its numbers
	lineWidth   = 2.5
)

// Picture draws the fullest photo with the regions on it, numbered from the left as they are in the column file, and
// with rulers in photo pixels along all four edges.
func (f *Found) Picture() (image.Image, error) {
	c := &canvas{found: f, blow: 1}
	for c.blow*max(f.Fullest.Width, f.Fullest.Height) < shortest {
		c.blow++
	}
	var err error
	if c.small, err = pen.Letters(textSize); err != nil {
		return nil, err
	}
	if c.large, err = pen.Letters(numberSize); err != nil {
		return nil, err
	}
	c.backdrop()
	c.rulers()
	for i := range f.Columns {
		c.region(i)
	}
	return c.img, nil
}

// canvas is the picture being drawn.
type canvas struct {
	found        *Found
	blow         int // picture pixels a pixel of the reduced photo
	img          *image.RGBA
	small, large font.Face
}

// scale is picture pixels a photo pixel.
func (c *canvas) scale() float64 { return float64(c.blow) / float64(c.found.Reduction) }

// at takes photo pixels to the picture.
func (c *canvas) at(x, y float64) (float64, float64) {
	return rulerAcross + float64(x*c.scale()), rulerAcross + float64(y*c.scale())
}

// backdrop is the fullest photo, a little faded so that lines stand out.
func (c *canvas) backdrop() {
	p := c.found.Fullest
	width, height := p.Width*c.blow, p.Height*c.blow
	c.img = image.NewRGBA(image.Rect(0, 0, width+2*rulerAcross, height+2*rulerAcross))
	for i := range c.img.Pix {
		c.img.Pix[i] = 255
	}
	for y := range height {
		from := p.Row(y / c.blow)
		to := c.img.Pix[c.img.PixOffset(rulerAcross, rulerAcross+y):]
		for x := range width {
			for k := range 3 {
				to[4*x+k] = uint8((int(from[x/c.blow*3+k])*3 + 255 + 2) / 4)
			}
		}
	}
}

// colours of regions, in turn: far from each other for most eyes (Okabe and Ito, "Color universal design", 2008), without
// the two that are near grey or white.
var colours = [...]color.RGBA{
	{0xd5, 0x5e, 0x00, 255}, {0x00, 0x72, 0xb2, 255}, {0x00, 0x9e, 0x73, 255}, {0xcc, 0x79, 0xa7, 255}, {0xe6, 0x9f, 0x00, 255}, {0x56, 0xb4, 0xe9, 255},
}

// region draws one region, its corners and its number.
func (c *canvas) region(i int) {
	column := c.found.Columns[i]
	tint := colours[i%len(colours)]
	points := make([]point, len(column.Region))
	top := point{y: math.Inf(1)}
	left, right := math.Inf(1), math.Inf(-1)
	for k, p := range column.Region {
		x, y := c.at(p.X, p.Y)
		points[k] = point{x, y}
		top.y = min(top.y, y)
		left, right = min(left, x), max(right, x)
	}
	for k, p := range points {
		q := points[(k+1)%len(points)]
		c.stroke(p, q, lineWidth+2, color.RGBA{255, 255, 255, 255})
	}
	for k, p := range points {
		q := points[(k+1)%len(points)]
		c.stroke(p, q, lineWidth, tint)
	}
	for _, p := range points {
		c.stroke(point{p.x - 3.5, p.y}, point{p.x + 3.5, p.y}, 7, tint)
	}
	// The number stands above the region, or inside where there is no room.
	text := fmt.Sprint(i + 1)
	width := pen.Width(c.large, text)
	middle, y := (left+right)/2, top.y-numberSize
	if y < rulerAcross+numberSize {
		y = top.y + numberSize
	}
	c.stroke(point{middle - width/2 - 6, y}, point{middle + width/2 + 6, y}, numberSize+6, tint)
	c.text(c.large, text, middle-width/2, y+0.36*numberSize, color.White)
}

func (c *canvas) stroke(p, q point, width float64, tint color.Color) {
	pen.Line(c.img, tint, width, pen.Point{X: p.x, Y: p.y}, pen.Point{X: q.x, Y: q.y})
}

func (c *canvas) text(face font.Face, text string, x, y float64, tint color.Color) {
	pen.Text(c.img, tint, face, pen.Point{X: x, Y: y}, text)
}

// rulers count photo pixels along the edges; fine lines lead from their numbers across the photo.
func (c *canvas) rulers() {
	ink, faint := color.RGBA{40, 40, 40, 255}, color.NRGBA{255, 255, 255, 70}
	size := c.found.Size
	right, bottom := c.at(float64(size.X), float64(size.Y))
	left, top := c.at(0, 0)
	major := step(c.scale(), 90)
	minor := major / 5
	if major < 5 {
		minor = major
	}
	for v := 0; v <= max(size.X, size.Y); v += minor {
		long := v%major == 0
		length := 5.0
		if long {
			length = 10
		}
		x, y := c.at(float64(v), float64(v))
		text := fmt.Sprint(v)
		width := pen.Width(c.small, text)
		if v <= size.X {
			c.stroke(point{x, top}, point{x, top - length}, 1, ink)
			c.stroke(point{x, bottom}, point{x, bottom + length}, 1, ink)
			if long {
				c.stroke(point{x, top}, point{x, bottom}, 1, faint)
				c.text(c.small, text, x-width/2, top-14, ink)
				c.text(c.small, text, x-width/2, bottom+26, ink)
			}
		}
		if v <= size.Y {
			c.stroke(point{left, y}, point{left - length, y}, 1, ink)
			c.stroke(point{right, y}, point{right + length, y}, 1, ink)
			if long {
				c.stroke(point{left, y}, point{right, y}, 1, faint)
				c.text(c.small, text, left-width-12, y+5, ink)
				c.text(c.small, text, right+12, y+5, ink)
			}
		}
	}
}

// step is the distance of a ruler's numbers in photo pixels: 1, 2 or 5 times a power of ten, at least room picture pixels.
func step(scale float64, room float64) int {
	for unit := 1; ; unit *= 10 {
		for _, n := range [3]int{1, 2, 5} {
			if float64(n*unit)*scale >= room {
				return n * unit
			}
		}
	}
}
