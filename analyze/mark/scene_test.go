package mark

import (
	"bytes"
	"image"
	"image/draw"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"testing"

	"colonnade/compose/picture"
)

// A scene is a made-up photo set of which everything is known: stacks of objects on a stage, in light that drifts, seen
// through a noisy sensor and JPEG.
type scene struct {
	width, height int
	photos        []*picture.Picture
	stacks        []*truth // from left to right
}

// truth is a stack: which pixels its objects cover, and how high it grows.
type truth struct {
	mask []bool
	top  int
}

// recipe is what a scene varies.
type recipe struct {
	width, height  int
	columns, top   int
	rows           int     // of stacks, one behind the other
	lean           float64 // the most, in radians
	nearest        int     // gap between the closest neighbours, pixels
	unequal        bool    // stacks differ in height
	drift          float64 // the most that a channel's light changes, as a share
	noise          float64 // of the sensor, in 8-bit codes at mid grey
	quality        int     // of JPEG; 0 for none
	textured, bold bool    // a rough stage; edges on the stage
}

// shape is an object's outline: a superellipse with bumps.
type shape struct {
	width, height, power float64
	bumps                [3]float64
	albedo               [3]float64
	seed                 uint64
}

// holds is whether a point, from the middle of the object, lies in it.
func (s *shape) holds(x, y float64) bool {
	u, v := math.Abs(2*x/s.width), math.Abs(2*y/s.height)
	angle := math.Atan2(y, x)
	limit := 1.0
	for i, b := range s.bumps {
		limit -= b * (1 + math.Sin(float64(i+2)*angle+float64(s.seed%7)))
	}
	return math.Pow(math.Pow(u, s.power)+math.Pow(v, s.power), 1/s.power) <= limit
}

func newShape(random *rand.Rand, width float64) *shape {
	s := &shape{width: width * (0.62 + 0.38*random.Float64()), power: 2 + 5*random.Float64()*random.Float64(), seed: random.Uint64()}
	s.height = s.width * (0.45 + 0.5*random.Float64())
	for i := range s.bumps {
		s.bumps[i] = 0.05 * random.Float64()
	}
	grey := 0.04 + 0.7*random.Float64()*random.Float64()
	for c := range s.albedo {
		s.albedo[c] = grey * (0.75 + 0.5*random.Float64())
	}
	return s
}

// noise2 is a smooth value from 0 to 1 that changes over about a unit of x and y.
func noise2(seed uint64, x, y float64) float64 {
	at := func(i, j int) float64 {
		h := seed ^ uint64(i)*0x9e3779b97f4a7c15 ^ uint64(j)*0xc2b2ae3d27d4eb4f
		h ^= h >> 29
		h *= 0xbf58476d1ce4e5b9
		h ^= h >> 32
		return float64(h%4096) / 4095
	}
	i, j := math.Floor(x), math.Floor(y)
	u, v := x-i, y-j
	u, v = u*u*(3-2*u), v*v*(3-2*v)
	a, b := at(int(i), int(j)), at(int(i)+1, int(j))
	c, d := at(int(i), int(j)+1), at(int(i)+1, int(j)+1)
	return (a*(1-u)+b*u)*(1-v) + (c*(1-u)+d*u)*v
}

// stageLight is the empty stage in linear light: a wall with broad stains, frames and a floor with grain.
func stageLight(random *rand.Rand, r recipe) [][3]float64 {
	out := make([][3]float64, r.width*r.height)
	seed := random.Uint64()
	wall, floor := [3]float64{}, [3]float64{}
	for c := range wall {
		wall[c], floor[c] = 0.15+0.5*random.Float64(), 0.1+0.4*random.Float64()
	}
	horizon := float64(r.height) * (0.55 + 0.2*random.Float64())
	grain := 0.05
	if r.textured {
		grain = 0.35
	}
	type frame struct{ x0, x1, y0, y1, light float64 }
	var frames []frame
	if r.bold {
		for range 3 + random.IntN(3) {
			x, y := random.Float64()*float64(r.width), random.Float64()*horizon
			w, h := 6+random.Float64()*float64(r.width)/4, 6+random.Float64()*horizon/2
			frames = append(frames, frame{x, x + w, y, y + h, 0.4 + 1.2*random.Float64()})
		}
	}
	for y := range r.height {
		for x := range r.width {
			fx, fy := float64(x), float64(y)
			soft := 0.6 + 0.8*noise2(seed, fx/70, fy/70)
			fine := 1 + grain*(noise2(seed+1, fx/3, fy/3)+noise2(seed+2, fx/9, fy/9)-1)
			base := wall
			if fy > horizon {
				base = floor
				fine = 1 + grain*(noise2(seed+3, fx/25, fy/2)-0.5)*2
			}
			for _, f := range frames {
				if fx > f.x0 && fx < f.x1 && fy > f.y0 && fy < f.y1 {
					fine *= f.light
				}
			}
			vignette := 1 - 0.3*((fx/float64(r.width)-0.5)*(fx/float64(r.width)-0.5)+(fy/float64(r.height)-0.5)*(fy/float64(r.height)-0.5))
			for c := range base {
				out[y*r.width+x][c] = min(base[c]*soft*fine*vignette, 1.2)
			}
		}
	}
	return out
}

// placed is an object at its place.
type placed struct {
	*shape
	x, y float64 // of its middle
}

// dab is what an object does to a pixel.
type dab struct {
	at    int
	cover float64
	light [3]float64
}

// rowOfStacks lays out stacks from left to right with the gaps asked for, and says how wide they are in all.
func rowOfStacks(random *rand.Rand, r recipe, columns int, across, tallest, base float64) (stacks [][]placed, width float64) {
	// rights is how far right the stacks so far reach, by row.
	rights := make([]float64, r.height)
	for i := range rights {
		rights[i] = -1e9
	}
	for n := range columns {
		var stack []placed
		top := r.top
		if r.unequal {
			top = max(1, r.top-random.IntN(3))
		}
		lean := r.lean * (2*random.Float64() - 1)
		y := base
		for range top {
			s := newShape(random, across)
			// A stack that would reach out of the picture is pressed flat.
			s.height = min(s.height, tallest/float64(r.top))
			y -= s.height / 2
			stack = append(stack, placed{s, math.Tan(lean)*(base-y) + across*0.06*(2*random.Float64()-1), y})
			// Bumps take off up to a tenth at each end: objects rest in each other a little.
			y -= s.height/2 - 0.05*s.height
		}
		lefts, reach := make([]float64, r.height), make([]float64, r.height)
		for i := range lefts {
			lefts[i], reach[i] = 1e9, -1e9
		}
		for _, o := range stack {
			for py := max(int(o.y-o.height/2), 0); py <= min(int(o.y+o.height/2), r.height-1); py++ {
				for px := o.x - o.width/2; px <= o.x+o.width/2; px += 0.5 {
					if o.holds(px-o.x, float64(py)+0.5-o.y) {
						lefts[py], reach[py] = min(lefts[py], px), max(reach[py], px)
					}
				}
			}
		}
		gap := float64(r.nearest)
		if n%2 == 1 || random.IntN(2) == 0 {
			gap += random.Float64() * across * 0.5
		}
		shift := -1e9
		for py := range lefts {
			shift = max(shift, rights[max(py, 0)]+gap+1-lefts[py])
			// Rows above and below count a little too, or a corner would pass over another.
			for d := 1; d <= int(gap); d++ {
				if py >= d {
					shift = max(shift, rights[py-d]+gap+1-lefts[py])
				}
				if py+d < r.height {
					shift = max(shift, rights[py+d]+gap+1-lefts[py])
				}
			}
		}
		if n == 0 {
			shift = 0
			for py := range lefts {
				if lefts[py] < 1e8 {
					shift = max(shift, 3-lefts[py])
				}
			}
		}
		shift = math.Ceil(shift)
		for i := range stack {
			stack[i].x += shift
		}
		for py := range rights {
			if reach[py] > -1e8 {
				rights[py] = reach[py] + shift
				width = max(width, rights[py])
			}
		}
		stacks = append(stacks, stack)
	}
	return stacks, width
}

// newScene makes a scene by a recipe.
func newScene(t testing.TB, seed uint64, r recipe) *scene {
	random := rand.New(rand.NewPCG(seed, 77))
	stage := stageLight(random, r)
	s := &scene{width: r.width, height: r.height}
	var stacks [][]placed
	for row := range r.rows {
		columns := r.columns / r.rows
		if row == 0 {
			columns = r.columns - columns*(r.rows-1)
		}
		base := float64(r.height) * (0.93 - 0.48*float64(row))
		tallest := float64(r.height) * 0.8
		if r.rows > 1 {
			tallest = float64(r.height) * 0.4
		}
		across := min(float64(r.width)/float64(columns)*0.8, tallest/float64(r.top)/0.6)
		across = max(across, 10)
		for {
			laid, width := rowOfStacks(random, r, columns, across, tallest, base)
			if free := float64(r.width) - width - 3; free >= 0 {
				begin := math.Floor(free * random.Float64())
				for _, stack := range laid {
					for i := range stack {
						stack[i].x += begin
					}
				}
				stacks = append(stacks, laid...)
				break
			}
			across *= 0.93
			if across < 6 {
				t.Fatalf("seed %d: %d stacks do not fit", seed, r.columns)
			}
		}
	}
	shaded := append([][3]float64(nil), stage...)
	rows := make([][]dab, r.top) // by level, what its objects do
	for _, stack := range stacks {
		castShadow(shaded, stack[0], r)
		truth := &truth{mask: make([]bool, r.width*r.height), top: len(stack)}
		for i, o := range stack {
			dabs := o.paint(r)
			rows[i] = append(rows[i], dabs...)
			for _, d := range dabs {
				truth.mask[d.at] = truth.mask[d.at] || d.cover >= 0.5
			}
		}
		s.stacks = append(s.stacks, truth)
	}
	for level := range r.top + 1 {
		light := shaded
		if level == 0 {
			light = stage
		} else {
			for _, d := range rows[level-1] {
				for c := range 3 {
					shaded[d.at][c] += d.cover * (d.light[c] - shaded[d.at][c])
				}
			}
		}
		s.photos = append(s.photos, expose(t, random, light, r, level))
	}
	return s
}

// castShadow lays the shadow of a stack's lowest object on the ground.
func castShadow(light [][3]float64, o placed, r recipe) {
	foot := o.y + o.height/2 - 0.05*o.height
	for y := max(int(foot-o.width/2), 0); y < min(int(foot+o.width/2), r.height); y++ {
		for x := max(int(o.x-o.width), 0); x < min(int(o.x+o.width*1.2), r.width); x++ {
			u := (float64(x) - o.x - 0.12*o.width) / (0.5 * o.width)
			v := (float64(y) - foot) / (0.12 * o.width)
			dim := 1 - 0.6*math.Exp(-u*u*u*u-v*v)
			for c := range 3 {
				light[y*r.width+x][c] *= dim
			}
		}
	}
}

// paint is an object, round and lit from the upper left, with four points a pixel.
func (o placed) paint(r recipe) []dab {
	var dabs []dab
	for y := max(int(o.y-o.height/2)-1, 0); y < min(int(o.y+o.height/2)+2, r.height); y++ {
		for x := max(int(o.x-o.width/2)-1, 0); x < min(int(o.x+o.width/2)+2, r.width); x++ {
			d := dab{at: y*r.width + x}
			for k := range 4 {
				if o.holds(float64(x)+0.25+0.5*float64(k%2)-o.x, float64(y)+0.25+0.5*float64(k/2)-o.y) {
					d.cover += 0.25
				}
			}
			if d.cover == 0 {
				continue
			}
			u, v := 2*(float64(x)-o.x)/o.width, 2*(float64(y)-o.y)/o.height
			shading := max(0.75-0.3*u-0.35*v, 0.15)
			grain := 0.8 + 0.4*noise2(o.seed, float64(x)/2.5, float64(y)/2.5)
			for c := range 3 {
				d.light[c] = o.albedo[c] * shading * grain
			}
			dabs = append(dabs, d)
		}
	}
	return dabs
}

// expose turns light into a photo.
func expose(t testing.TB, random *rand.Rand, light [][3]float64, r recipe, level int) *picture.Picture {
	gains := [3]float64{1, 1, 1}
	if level > 0 {
		for c := range gains {
			gains[c] += r.drift * (2*random.Float64() - 1)
		}
	}
	var codes [1025]float64 // IEC 61966-2-1, by light in steps of 1/1024
	for i := range codes {
		if v := float64(i) / 1024; v <= 0.0031308 {
			codes[i] = 255 * 12.92 * v
		} else {
			codes[i] = 255 * (1.055*math.Pow(v, 1/2.4) - 0.055)
		}
	}
	img := image.NewRGBA(image.Rect(0, 0, r.width, r.height))
	for i, l := range light {
		for c, v := range l {
			at := min(v*gains[c], 0.9999) * 1024
			low := int(at)
			code := codes[low] + (at-float64(low))*(codes[low+1]-codes[low]) + r.noise*random.NormFloat64()
			img.Pix[4*i+c] = uint8(min(max(math.Round(code), 0), 255))
		}
		img.Pix[4*i+3] = 255
	}
	var seen image.Image = img
	if r.quality > 0 {
		var b bytes.Buffer
		if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: r.quality}); err != nil {
			t.Fatal(err)
		}
		var err error
		if seen, err = jpeg.Decode(&b); err != nil {
			t.Fatal(err)
		}
	}
	draw.Draw(img, img.Rect, seen, image.Point{}, draw.Src)
	p := picture.New(r.width, r.height)
	for i := range r.width * r.height {
		copy(p.Pix[3*i:3*i+3], img.Pix[4*i:])
	}
	return p
}

// set is the scene's photos as Find takes them.
func (s *scene) set() Photos {
	return Photos{Size: image.Pt(s.width, s.height), Count: len(s.photos), Load: func(level int) (*picture.Picture, error) { return s.photos[level], nil }}
}
