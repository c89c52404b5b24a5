package masks

import (
	"image"
	"math"
	"slices"
)

// kernelUnit is the sum of a quantised kernel. 24 bits keep the rounding of a kernel's taps below a 16-bit
// mask value; whole numbers give every processor the same mask.
const kernelUnit = 1 << 24

// integratedBelow is the feather under which the kernel is integrated over each pixel rather than sampled at
// its centre: a sampled Gaussian errs by about 0.01/sigma² at a hard edge, more than 1/255 below this.
const integratedBelow = 2.0

// kernel is one half of a symmetric, quantised Gaussian: kernel[0] is the centre. The taps sum to kernelUnit.
// It ends four standard deviations out, where a 16-bit mask has left 4 of its values.
func kernel(sigma float64) []int64 {
	if sigma <= 0 {
		return []int64{kernelUnit}
	}
	radius := int(math.Ceil(4 * sigma))
	weights := make([]float64, radius+1)
	total := 0.0
	for i := range weights {
		x := float64(i)
		if sigma < integratedBelow {
			s := sigma * math.Sqrt2
			weights[i] = (math.Erf((x+0.5)/s) - math.Erf((x-0.5)/s)) / 2
		} else {
			weights[i] = math.Exp(-x * x / (2 * sigma * sigma))
		}
		total += weights[i]
		if i > 0 {
			total += weights[i]
		}
	}
	taps := make([]int64, radius+1)
	rest := int64(kernelUnit)
	for i := radius; i > 0; i-- {
		taps[i] = int64(math.Round(weights[i] / total * kernelUnit))
		rest -= 2 * taps[i]
	}
	taps[0] = rest
	return taps
}

// Feathered is the mask of a region: its coverage blurred by a Gaussian of standard deviation sigma pixels,
// 0 for a hard edge. All are in the pixels of the frame. The region is cut at photo, the rectangle that the
// photo fills, and beyond it the border's coverage goes on for ever, so that a region that ends at the photo's
// border stays whole there. The mask covers what of it lies in frame, which photo holds.
//
// The edge of a long straight side reads (1+erf(x/(sigma·√2)))/2 at x pixels inside it.
func Feathered(region Region, sigma float64, photo, frame image.Rectangle) *Mask {
	taps := kernel(sigma)
	radius := len(taps) - 1
	minX, minY, maxX, maxY := region.Bounds()
	// Keeping a pixel of the photo outside the polygon tells what the border's coverage is: 0 or not.
	bounds := image.Rect(clampInt(math.Floor(minX))-1, clampInt(math.Floor(minY))-1,
		clampInt(math.Ceil(maxX))+1, clampInt(math.Ceil(maxY))+1).Intersect(photo)
	rect := bounds.Inset(-radius).Intersect(frame)
	if bounds.Empty() || rect.Empty() {
		return &Mask{}
	}
	rows := image.Rect(rect.Min.X, max(rect.Min.Y-radius, bounds.Min.Y), rect.Max.X, min(rect.Max.Y+radius, bounds.Max.Y))
	if rows.Dy() <= 0 { // the frame ends where only the blur of rows outside would reach: nearest row counts
		rows.Min.Y = min(max(rect.Min.Y, bounds.Min.Y), bounds.Max.Y-1)
		rows.Max.Y = rows.Min.Y + 1
	}
	across := blurAcross(newCoverage(region, bounds), taps, rows)
	return trim(blurDown(across, taps, rows, rect))
}

func clampInt(v float64) int { return int(math.Min(math.Max(v, -1<<30), 1<<30)) }

// tails is the sums of the taps at distance d and beyond, at len(taps)-1+d.
func tails(taps []int64) []int64 {
	radius := len(taps) - 1
	out := make([]int64, 2*radius+1)
	var sum int64
	for d := radius; d >= -radius; d-- {
		sum += taps[max(d, -d)]
		out[radius+d] = sum
	}
	return out
}

// blurAcross blurs each of the rows along x. The result has 24 bits a value. A row of coverage is flat but for
// the few pixels on its edges, so it is built from the steps between neighbours: each adds a tail of the kernel.
// Between upright sides rows are all alike.
func blurAcross(c *coverage, taps []int64, rows image.Rectangle) []uint32 {
	radius, tail := len(taps)-1, tails(taps)
	width := rows.Dx()
	out := make([]uint32, width*rows.Dy())
	cover, before := make([]uint16, c.canvas.Dx()), make([]uint16, c.canvas.Dx())
	sums, steps := make([]int64, width), make([]int64, width+1)
	for y := rows.Min.Y; y < rows.Max.Y; y++ {
		line := out[(y-rows.Min.Y)*width:][:width]
		again := y > rows.Min.Y && c.again(y)
		if !again {
			cover, before = before, cover
			c.row(y, cover)
			again = y > rows.Min.Y && slices.Equal(cover, before)
		}
		if again {
			copy(line, out[(y-1-rows.Min.Y)*width:])
			continue
		}
		clear(sums)
		clear(steps)
		steps[0] = int64(cover[0]) * kernelUnit
		for i := 1; i < len(cover); i++ {
			step := int64(cover[i]) - int64(cover[i-1])
			if step == 0 {
				continue
			}
			j := c.canvas.Min.X + i - rows.Min.X
			for x := max(j-radius, 0); x <= min(j+radius, width-1); x++ {
				sums[x] += step * tail[radius+j-x]
			}
			if beyond := max(j+radius+1, 0); beyond < width {
				steps[beyond] += step * kernelUnit
			}
		}
		var level int64
		for x := range line {
			level += steps[x]
			line[x] = uint32((level + sums[x] + 1<<15) >> 16)
		}
	}
	return out
}

// blurDown blurs across along y and rounds to 16 bits. Most of a mask is its inside and its straight sides, where a
// pixel's neighbours above and below are all like it: these are not summed. Along a level side few lines differ from the one
// before: there the differences are summed, as blurAcross does.
func blurDown(across []uint32, taps []int64, rows, rect image.Rectangle) *Mask {
	width, radius, tail := rect.Dx(), len(taps)-1, tails(taps)
	mask := &Mask{rect, make([]uint16, width*rect.Dy())}
	line := func(y int) []uint32 {
		y = min(max(y, rows.Min.Y), rows.Max.Y-1)
		return across[(y-rows.Min.Y)*width:][:width]
	}
	changed := make([]int, width) // by x: the last line looked at that differs there from the one before
	for x := range changed {
		changed[x] = math.MinInt
	}
	var differ []int       // lines within reach that differ from the one before, in order
	next := rows.Min.Y + 1 // line to be looked at
	sums := make([]int64, width)
	for y := rect.Min.Y; y < rect.Max.Y; y++ {
		for ; next <= min(y+radius, rows.Max.Y-1); next++ {
			before, here := line(next-1), line(next)
			if slices.Equal(here, before) {
				continue
			}
			differ = append(differ, next)
			for x, v := range here {
				if v != before[x] {
					changed[x] = next
				}
			}
		}
		for len(differ) > 0 && differ[0] < y-radius {
			differ = differ[1:]
		}
		here := line(y)
		out := mask.Alpha[(y-rect.Min.Y)*width:][:width]
		if y > rect.Min.Y && len(differ) == 0 { // as in the row before, too
			copy(out, mask.Alpha[(y-1-rect.Min.Y)*width:])
			continue
		}
		for x := 0; x < width; {
			first := x
			for x < width && changed[x] > y-radius {
				x++
			}
			near := func(d int) []uint32 { return line(y + d)[first:x] }
			if len(differ) < radius/2 {
				stepPixels(sums[first:x], tail, differ, y, near)
			} else {
				blurPixels(sums[first:x], taps, near)
			}
			for i := first; i < x; i++ {
				out[i] = uint16(sums[i] >> 32)
			}
			for x < width && changed[x] <= y-radius {
				out[x] = uint16((kernelUnit*int64(here[x]) + 1<<31) >> 32)
				x++
			}
		}
	}
	return mask
}

// blurPixels sums the lines at each distance by the kernel, with the half that rounds.
func blurPixels(sums []int64, taps []int64, line func(distance int) []uint32) {
	if len(sums) == 0 {
		return
	}
	for x, v := range line(0) {
		sums[x] = taps[0]*int64(v) + 1<<31
	}
	for d := 1; d < len(taps); d++ {
		above, below, tap := line(-d), line(d), taps[d]
		for x := range sums {
			sums[x] += tap * (int64(above[x]) + int64(below[x]))
		}
	}
}

// stepPixels is blurPixels by the lines that differ from the one before: each adds its difference to all lines from there on.
func stepPixels(sums, tail []int64, differ []int, y int, line func(distance int) []uint32) {
	radius := len(tail) / 2
	for x, v := range line(-radius) {
		sums[x] = kernelUnit*int64(v) + 1<<31
	}
	for _, at := range differ {
		d := at - y
		if d == -radius { // the first line is of it already
			continue
		}
		before, here, part := line(d-1), line(d), tail[radius+d]
		for x := range sums {
			sums[x] += part * (int64(here[x]) - int64(before[x]))
		}
	}
}

// trim cuts the rows and columns off that hold only zeros.
func trim(m *Mask) *Mask {
	width := m.Rect.Dx()
	tight := image.Rectangle{}
	for y := range m.Rect.Dy() {
		row := m.Alpha[y*width:][:width]
		first := 0
		for first < width && row[first] == 0 {
			first++
		}
		if first == width {
			continue
		}
		last := width
		for row[last-1] == 0 {
			last--
		}
		tight = tight.Union(image.Rect(first, y, last, y+1))
	}
	out := &Mask{tight.Add(m.Rect.Min), make([]uint16, 0, tight.Dx()*tight.Dy())}
	for y := tight.Min.Y; y < tight.Max.Y; y++ {
		out.Alpha = append(out.Alpha, m.Alpha[y*width:][tight.Min.X:tight.Max.X]...)
	}
	return out
}

// At is the mask's value at pixel (x, y).
func (m *Mask) At(x, y int) uint16 {
	if !(image.Point{X: x, Y: y}).In(m.Rect) {
		return 0
	}
	return m.Alpha[(y-m.Rect.Min.Y)*m.Rect.Dx()+x-m.Rect.Min.X]
}

// Row is the part of row y that the mask covers, from Rect.Min.X; nil outside Rect.
func (m *Mask) Row(y int) []uint16 {
	if y < m.Rect.Min.Y || y >= m.Rect.Max.Y {
		return nil
	}
	width := m.Rect.Dx()
	return m.Alpha[(y-m.Rect.Min.Y)*width:][:width]
}
