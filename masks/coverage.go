package masks

import (
	"image"
	"math"
)

// coverage computes which share of each pixel a region covers, row by row, exactly: the area of polygon and
// pixel in common. It sums each edge's signed area per row (the method of scan converting by accumulation),
// which is right for polygons that do not cross themselves, in either direction.
type coverage struct {
	region Region
	canvas image.Rectangle // pixels asked for; coverage of those outside the polygon's bounds is 0
	area   []float64       // one row: differences of coverage, one more than the canvas is wide
}

func newCoverage(region Region, canvas image.Rectangle) *coverage {
	return &coverage{region, canvas, make([]float64, canvas.Dx()+2)}
}

// row fills dst, one value for each pixel of the canvas's width, with the coverage of row y from 0 to Full.
func (c *coverage) row(y int, dst []uint16) {
	clear(c.area)
	n := len(c.region)
	for i := range n {
		c.edge(c.region[i], c.region[(i+1)%n], y)
	}
	sum := 0.0
	for x := range dst {
		if x > 0 && c.area[x] == 0 {
			dst[x] = dst[x-1]
			continue
		}
		sum += c.area[x]
		dst[x] = uint16(math.Round(float64(min(math.Abs(sum), 1) * Full)))
	}
}

// again tells that row y is as the one above because all edges that cross either are upright and cross both.
func (c *coverage) again(y int) bool {
	n := len(c.region)
	for i := range n {
		a, b := c.region[i], c.region[(i+1)%n]
		top, bottom := min(a.Y, b.Y), max(a.Y, b.Y)
		beside := bottom <= float64(y-1) || top >= float64(y+1)
		through := a.X == b.X && top <= float64(y-1) && bottom >= float64(y+1)
		if !beside && !through {
			return false
		}
	}
	return true
}

// edge adds the part of the edge from a to b that lies in row y.
func (c *coverage) edge(a, b Point, y int) {
	sign := 1.0
	if a.Y > b.Y {
		a, b, sign = b, a, -1
	}
	top, bottom := math.Max(a.Y, float64(y)), math.Min(b.Y, float64(y+1))
	if top >= bottom {
		return
	}
	left, right := float64(c.canvas.Min.X), float64(c.canvas.Max.X)
	slope := (b.X - a.X) / (b.Y - a.Y)
	at := func(y float64) float64 { return a.X + float64((y-a.Y)*slope) }
	x0, x1 := at(top), at(bottom)
	// Split where the edge crosses the canvas's sides: left of it the edge covers all pixels of the row,
	// right of it none.
	for _, side := range [2]float64{left, right} {
		if (x0 < side) != (x1 < side) && x0 != side && x1 != side {
			y := a.Y + (side-a.X)/slope
			y = math.Min(math.Max(y, top), bottom)
			c.piece(x0, side, float64((y-top)*sign), left, right)
			x0, top = side, y
		}
	}
	c.piece(x0, x1, float64((bottom-top)*sign), left, right)
}

// piece adds a straight piece from x0 to x1 that is height high (signed) and stays on one side of left and right.
func (c *coverage) piece(x0, x1, height, left, right float64) {
	if x0 > x1 {
		x0, x1 = x1, x0
	}
	if x0 >= right || height == 0 {
		return
	}
	if x1 <= left {
		c.area[0] += height
		return
	}
	x0, x1 = math.Max(x0-left, 0), math.Min(x1, right)-left
	first, last := int(x0), int(math.Ceil(x1))
	if last <= first+1 { // within one pixel: the mean of both ends says how much lies right of the piece
		middle := (x0 + x1) / 2
		inside := float64(height * (float64(first+1) - middle))
		c.area[first] += inside
		c.area[first+1] += height - inside
		return
	}
	// Through several pixels: area to the left of each pixel's right side grows as a quadratic of x.
	perX := height / (x1 - x0)
	done := 0.0
	for i := first; i < last; i++ {
		from, to := math.Max(x0, float64(i)), math.Min(x1, float64(i+1))
		part := float64(perX * (to - from))
		inside := float64(part * (float64(i+1) - (from+to)/2))
		c.area[i] += inside + done
		done = part - inside
	}
	c.area[last] += done
}
