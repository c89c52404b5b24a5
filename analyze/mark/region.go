package mark

import (
	"fmt"
	"math"
	"slices"

	"colonnade/masks"
)

// Sizes in photo pixels, where the longer side of the photo sets the scale.
const (
	// featherShare is the feather where there is room, as a share of the longer side of the photo.
	featherShare = 1.0 / 240
	leastFeather = 0.5
	mostFeather  = 24.0
	// clearance is how many feathers an edge keeps away from an object, on either side of it: a mask has come to 0.9987 there.
	clearance = 3.0
	// shadowClearance is the same for shadows, which are faint where they end.
	shadowClearance = 1.5
)

// draw makes columns of the stacks.
func (f *Found) draw(g *grown, out *outcome) {
	stacks, scale := out.stacks, float64(f.Reduction)
	f.Feather = min(max(float64(max(f.Size.X, f.Size.Y))*featherShare, leastFeather), mostFeather)
	if f.Feather >= 2 { // whole pixels read better
		f.Feather = math.Round(f.Feather)
	} else {
		f.Feather = tenth(f.Feather)
	}
	t := newTerritory(g, stacks, max(out.usual.width*6/10, 4))
	// Geometry is done in photo pixels.
	cores, alls := t.outlines(t.core, len(stacks)), t.outlines(t.all, len(stacks))
	tight, loose, regions := make([][]point, len(stacks)), make([][]point, len(stacks)), make([][]point, len(stacks))
	for n := range stacks {
		enlarge(cores[n], scale)
		enlarge(alls[n], scale)
		tight[n], loose[n] = hull(cores[n]), hull(alls[n])
		// A pixel of the map more: the map knows no better, and corners are brought to whole pixels.
		around := append(widened(tight[n], float64(clearance*f.Feather)+scale), widened(loose[n], float64(shadowClearance*f.Feather)+scale)...)
		regions[n] = clipTo(simpler(hull(around), 8, 0.04), float64(f.Size.X), float64(f.Size.Y))
	}
	crowded := f.separate(tight, loose, regions)
	f.part(t, regions, crowded.interlocked)
	squared, _ := nearest(t.core, t.width, t.height)
	for n, s := range stacks {
		region := rounded(regions[n], crowded.fine[n])
		if len(region) < 3 { // squeezed to nothing between others
			region = rounded(tight[n], false)
		}
		room := f.room(region, squared, t.width, t.height)
		feather := min(max(math.Floor(room/clearance*10)/10, leastFeather), f.Feather)
		f.Columns = append(f.Columns, Column{Region: region, Feather: feather, Top: s.highest()})
	}
	f.Doubts = append(f.Doubts, f.stackDoubts(out, t)...)
	f.Doubts = append(f.Doubts, crowded.doubts...)
	f.Doubts = append(f.Doubts, f.strayDoubts(out)...)
}

// crowd tells where stacks stand close together.
type crowd struct {
	interlocked [][]bool // by pair: no straight line parts them
	fine        []bool   // by stack: its corners can not be brought to whole pixels
	doubts      []string
}

// spacious is the gap between two stacks, photo pixels, that leaves room to bring corners to whole pixels.
const spacious = 8.0

// separate cuts the regions, convex ones in photo pixels, apart along the middle of the gaps between the stacks. Between
// stacks that no straight line parts nothing is done.
func (f *Found) separate(tight, loose, regions [][]point) crowd {
	c := crowd{interlocked: make([][]bool, len(regions)), fine: make([]bool, len(regions))}
	for n := range regions {
		c.interlocked[n] = make([]bool, len(regions))
	}
	for a := range regions {
		for b := range a {
			// Shadows may be cut where there is no room for them.
			middle, wide, ok := gap(loose[a], loose[b])
			if !ok || wide < spacious {
				if line, length, parted := gap(tight[a], tight[b]); parted && length > wide {
					middle, wide, ok = line, length, true
				}
			}
			if !ok {
				c.interlocked[a][b], c.interlocked[b][a] = true, true
				c.fine[a], c.fine[b] = true, true
				c.doubts = append(c.doubts, fmt.Sprintf("columns %d and %d: no straight line parts them, so their regions follow the objects; look at the picture", b+1, a+1))
				continue
			}
			// No pixel may lie in both: one across the line is |nx|+|ny| wide.
			free := (math.Abs(middle.nx) + math.Abs(middle.ny) + 0.2) / 2
			if wide >= spacious {
				free += math.Sqrt2 / 2 // what rounding may move an edge by
			} else {
				free = min(free, wide/2+0.3)
				if meets(regions[a], regions[b]) {
					c.fine[a], c.fine[b] = true, true
					c.doubts = append(c.doubts, fmt.Sprintf("columns %d and %d: a straight line between them has %.0f pixels of room, so that a seam may show; look at it closely", b+1, a+1, max(wide, 1)))
				}
			}
			regions[a] = clip(regions[a], line{middle.nx, middle.ny, middle.at - free})
			regions[b] = clip(regions[b], line{-middle.nx, -middle.ny, -middle.at - free})
		}
	}
	return c
}

func enlarge(points []point, scale float64) {
	for i := range points {
		points[i].x *= scale
		points[i].y *= scale
	}
}

// room is how far the region's edge is from any object, inside and outside, in photo pixels. Edges along the border of
// the photo do not count: there a mask stays whole.
func (f *Found) room(region masks.Region, squared []int32, width, height int) float64 {
	scale := float64(f.Reduction)
	least := math.Inf(1)
	for i, p := range region {
		q := region[(i+1)%len(region)]
		if f.atBorder(p, q) {
			continue
		}
		length := math.Hypot(q.X-p.X, q.Y-p.Y) / scale
		steps := int(math.Ceil(length)) + 1
		for k := 0; k <= steps; k++ {
			share := float64(k) / float64(steps)
			x := (p.X + float64(share*(q.X-p.X))) / scale
			y := (p.Y + float64(share*(q.Y-p.Y))) / scale
			px, py := min(max(int(math.Floor(x)), 0), width-1), min(max(int(math.Floor(y)), 0), height-1)
			if d := squared[py*width+px]; d < far {
				// From the middle of a pixel to the rim of another is half a pixel less.
				least = min(least, max(math.Sqrt(float64(d))-0.5, 0))
			}
		}
	}
	return least * scale
}

func (f *Found) atBorder(p, q masks.Point) bool {
	return p.X == q.X && (p.X <= 0 || p.X >= float64(f.Size.X)) || p.Y == q.Y && (p.Y <= 0 || p.Y >= float64(f.Size.Y))
}

func tenth(v float64) float64 { return math.Round(v*10) / 10 }

// rounded brings a polygon to whole pixels, or to tenths where it is fine, and drops corners that do not turn.
func rounded(polygon []point, fine bool) masks.Region {
	round := math.Round
	if fine {
		round = tenth
	}
	points := make([]point, 0, len(polygon))
	for _, p := range polygon {
		q := point{round(p.x), round(p.y)}
		if len(points) == 0 || points[len(points)-1] != q {
			points = append(points, q)
		}
	}
	for len(points) > 1 && points[0] == points[len(points)-1] {
		points = points[:len(points)-1]
	}
	for i := 0; i < len(points) && len(points) > 3; {
		a, b, c := points[(i+len(points)-1)%len(points)], points[i], points[(i+1)%len(points)]
		if cross(a, b, c) == 0 {
			points = slices.Delete(points, i, i+1)
			i = max(i-1, 0)
			continue
		}
		i++
	}
	region := make(masks.Region, len(points))
	for i, p := range points {
		region[i] = masks.Point{X: p.x, Y: p.y}
	}
	return region
}
