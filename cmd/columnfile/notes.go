package columnfile

import (
	"fmt"
	"math"
)

// notes are warnings about what is allowed and yet seldom meant.
func notes(f *File) []string {
	var lines []string
	note := func(where, what, remedy string) { lines = append(lines, where+": "+what+"; "+remedy) }
	if f.Crop != nil && f.Size.X > 0 {
		// How much wider a square of the photo comes out than it is high.
		stretch := float64(f.Size.X) * f.Crop[3] / (float64(f.Size.Y) * f.Crop[2])
		// Half a percent is what rounding a crop of a small photo to whole pixels comes to.
		if percent := math.Round((stretch-1)*1000) / 10; math.Abs(percent) > 0.5 {
			kind := "wider"
			if percent < 0 {
				kind = "narrower"
			}
			note(f.Where(-1, "crop"), fmt.Sprintf("the crop of %v x %v fills a frame of %d x %d, so that all comes out %v %% %s", f.Crop[2], f.Crop[3], f.Size.X, f.Size.Y, math.Abs(percent), kind),
				"give the crop the frame's shape, or leave it out")
		}
	}
	for i, c := range f.Columns {
		if f.tables[i].entry("band") == nil {
			note(f.Where(i, "band"), fmt.Sprintf("column %s names no band and follows %v to %v Hz", quote(c.Name), c.Band.LowHz, c.Band.HighHz),
				"add a line such as band = [16, 60]")
		}
		minX, minY, maxX, maxY := c.Region.Bounds()
		across := min(maxX-minX, maxY-minY)
		// A strip four standard deviations wide shows 95 % of itself in its middle, a narrower one less
		// (the normal distribution's share within two standard deviations).
		if across < 4*c.Feather {
			note(f.Where(i, "feather"), fmt.Sprintf("column %s is %v pixels across and its feather %v, so that it nowhere shows whole", quote(c.Name), math.Round(across*10)/10, c.Feather),
				fmt.Sprintf("make the feather %v or less", math.Floor(across/4*10)/10))
		}
	}
	return lines
}
