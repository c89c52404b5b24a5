package sheet

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"math"

	"colonnade/analyze/shoot"
)

// curve is one value a level.
type curve struct {
	name   string
	colour color.NRGBA
	values []float64
}

// charts draws light and shift over the levels, with the band that the eye does not see.
func (s *canvas) charts(light, shift image.Rectangle, set shoot.Set, report *shoot.Report) {
	curves := [3]curve{{name: "light", colour: ink}, {name: "right", colour: good}, {name: "down", colour: second}}
	for _, photo := range report.Photos {
		curves[0].values = append(curves[0].values, photo.Measure.Light)
		curves[1].values = append(curves[1].values, photo.Measure.Shift[0])
		curves[2].values = append(curves[2].values, photo.Measure.Shift[1])
	}
	s.chart(light, "light against the base plate, stops", shoot.VisibleLight, curves[:1])
	s.chart(shift, "shift of the scene, pixels", shoot.VisibleShift/set.Scale, curves[1:])
}

// chart draws curves about zero. What lies within unseen is not seen.
func (s *canvas) chart(at image.Rectangle, title string, unseen float64, curves []curve) {
	s.text(at.Min.X, at.Min.Y+13, title, ink)
	x := at.Min.X + s.wide(title) + 20
	if len(curves) > 1 {
		for _, c := range curves {
			s.text(x, at.Min.Y+13, c.name, c.colour)
			x += s.wide(c.name) + 14
		}
	}
	plot := image.Rect(at.Min.X+56, at.Min.Y+24, at.Max.X-8, at.Max.Y-20)
	most := 1.5 * unseen
	for _, c := range curves {
		for _, v := range c.values {
			most = max(most, 1.1*math.Abs(v))
		}
	}
	y := func(v float64) float64 {
		return float64(plot.Min.Y+plot.Max.Y)/2 - v/most*float64(plot.Dy())/2
	}
	draw.Draw(s.img, image.Rect(plot.Min.X, int(y(unseen)), plot.Max.X, int(y(-unseen))+1), image.NewUniform(band), image.Point{}, draw.Src)
	for _, v := range []float64{most / 1.1, unseen, 0, -unseen, -most / 1.1} {
		s.line(float64(plot.Min.X), y(v), float64(plot.Max.X), y(v), 1, pale, at)
		if math.Abs(v) == unseen && unseen < most/4 {
			continue // too near to zero for its number
		}
		s.text(at.Min.X, int(y(v))+5, fmt.Sprintf("%+.3g", v), pale)
	}
	count := len(curves[0].values)
	place := func(level int) float64 {
		return float64(plot.Min.X) + (float64(level)+0.5)*float64(plot.Dx())/float64(count)
	}
	every := max((count+23)/24, 1)
	for level := 0; level < count; level += every {
		s.text(int(place(level))-4, at.Max.Y-4, fmt.Sprint(level), pale)
	}
	for _, c := range curves {
		for level, v := range c.values {
			if level > 0 {
				s.line(place(level-1), y(c.values[level-1]), place(level), y(v), 1.5, c.colour, at)
			}
			colour := c.colour
			if math.Abs(v) >= unseen {
				colour = bad
			}
			s.dot(place(level), y(v), 4, colour)
		}
	}
}
