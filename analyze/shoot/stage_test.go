package shoot

import (
	"math"
	"math/rand/v2"

	"colonnade/compose/light"
	"colonnade/compose/picture"
	"colonnade/masks"
)

// The photos of these tests are made, so that what has happened to each is known. A stage is a wall and a floor
// with grain of every size, with boards and dark things on it: rough, smooth and edged as photographs are. It is
// drawn four times larger and reduced by area, as a sensor does, so that the camera can move by quarters of a pixel.

const over = 4 // drawn pixels a photo pixel

// stage is light, 0 to 1, drawn large.
type stage struct {
	width, height int
	rgb           []float32
}

func newStage(width, height int) *stage {
	return &stage{width, height, make([]float32, 3*width*height)}
}

func (s *stage) clone() *stage {
	return &stage{s.width, s.height, append([]float32(nil), s.rgb...)}
}

// grain is value noise: random numbers on a lattice, with smooth steps between them.
type grain struct {
	size   int
	values []float32
}

func newGrain(random *rand.Rand) grain {
	const size = 64
	g := grain{size, make([]float32, size*size)}
	for i := range g.values {
		g.values[i] = float32(random.Float64()*2 - 1)
	}
	return g
}

func (g grain) at(x, y float64) float64 {
	fx, fy := math.Floor(x), math.Floor(y)
	u, v := x-fx, y-fy
	u, v = u*u*(3-2*u), v*v*(3-2*v)
	value := func(i, j int) float64 {
		return float64(g.values[((int(fy)+j)&(g.size-1))*g.size+(int(fx)+i)&(g.size-1)])
	}
	return (value(0, 0)*(1-u)+value(1, 0)*u)*(1-v) + (value(0, 1)*(1-u)+value(1, 1)*u)*v
}

// margin is how far, in photo pixels, the drawn stage goes on past the photo.
const margin = 12

// newScenery draws an empty stage for photos of width x height.
func newScenery(width, height int, seed uint64) *stage {
	random := rand.New(rand.NewPCG(seed, 1))
	s := newStage((width+2*margin)*over, (height+2*margin)*over)
	layers := []grain{newGrain(random), newGrain(random), newGrain(random)}
	floor := 0.72 + 0.1*random.Float64()
	tint := [3]float64{0.9 + 0.2*random.Float64(), 1, 0.85 + 0.2*random.Float64()}
	boards := 5 + random.IntN(5)
	for y := range s.height {
		v := float64(y) / float64(s.height)
		for x := range s.width {
			u := float64(x) / float64(s.width)
			base := 0.34 - 0.16*u
			if v > floor {
				base = 0.16 + 0.1*v
				if math.Mod(u*float64(boards)+0.3*v, 1) < 0.03 {
					base *= 0.5
				}
			}
			px, py := float64(x)/over, float64(y)/over
			value := base * (1 + 0.25*layers[0].at(px/47, py/61) + 0.12*layers[1].at(px/9, py/7) + 0.1*layers[2].at(px/2.3, py/2.7))
			for c := range 3 {
				s.rgb[3*(y*s.width+x)+c] = float32(value * tint[c])
			}
		}
	}
	for range 14 { // things that lie about
		x, y := random.Float64()*float64(width), random.Float64()*float64(height)
		s.disc(x, y, 2+random.Float64()*8, 2+random.Float64()*5, [3]float64{0.05 + 0.3*random.Float64(), 0.05 + 0.3*random.Float64(), 0.05 + 0.2*random.Float64()}, layers[1])
	}
	return s
}

// disc lays a grained ellipse with a crisp edge over the stage; all in photo pixels.
func (s *stage) disc(x, y, rx, ry float64, colour [3]float64, g grain) {
	s.each(x, y, rx, ry, func(px, py, r float64, rgb []float32) {
		if r <= 1 {
			shade := (1.2 - 0.5*(py-y+ry)/(2*ry)) * (1 + 0.25*g.at(px/3.1+x, py/2.9+y))
			for c := range rgb {
				rgb[c] = float32(colour[c] * shade)
			}
		}
	})
}

// shadow darkens the stage by depth at its middle, fading out towards its edge.
func (s *stage) shadow(x, y, rx, ry, depth float64) {
	s.each(x, y, rx, ry, func(_, _, r float64, rgb []float32) {
		if r < 1 {
			f := 1 - depth*(1-r*r)*(1-r*r)
			for c := range rgb {
				rgb[c] *= float32(f)
			}
		}
	})
}

func (s *stage) each(x, y, rx, ry float64, do func(px, py, r float64, rgb []float32)) {
	from := func(v float64) int { return max(int((v+margin)*over), 0) }
	for j := from(y - ry); j < min(from(y+ry)+1, s.height); j++ {
		for i := from(x - rx); i < min(from(x+rx)+1, s.width); i++ {
			px, py := (float64(i)+0.5)/over-margin, (float64(j)+0.5)/over-margin
			do(px, py, math.Hypot((px-x)/rx, (py-y)/ry), s.rgb[3*(j*s.width+i):][:3])
		}
	}
}

// taking is how a photo is taken.
type taking struct {
	gain       float64    // of the light
	tint       [3]float64 // of the channels' light, on top
	dx, dy     int        // drawn pixels by which the scene moves right and down
	turn, grow float64    // about the centre
	blur       int        // drawn pixels to each side
	noise      float64    // standard deviation, in 8-bit steps
	seed       uint64
}

// curve is the photos'.
var curve = light.SRGB()

// photograph takes a photo of width x height.
func (s *stage) photograph(width, height int, t taking) *picture.Picture {
	if t.gain == 0 {
		t.gain = 1
	}
	if t.tint == [3]float64{} {
		t.tint = [3]float64{1, 1, 1}
	}
	source := s
	if t.blur > 0 {
		source = s.blurred(t.blur)
	}
	random := rand.New(rand.NewPCG(t.seed, 2))
	out := picture.New(width, height)
	for y := range height {
		for x := range width {
			var sum [3]float64
			for j := range over {
				for i := range over {
					u, v := (x+margin)*over+i-t.dx, (y+margin)*over+j-t.dy
					if t.turn != 0 || t.grow != 0 {
						cx, cy := float64(u)-float64(s.width)/2, float64(v)-float64(s.height)/2
						u = int(math.Round(float64(s.width)/2 + cx - t.grow*cx + t.turn*cy))
						v = int(math.Round(float64(s.height)/2 + cy - t.turn*cx - t.grow*cy))
					}
					at := 3 * (clamp(v, s.height)*s.width + clamp(u, s.width))
					for c := range 3 {
						sum[c] += float64(source.rgb[at+c])
					}
				}
			}
			for c := range 3 {
				l := sum[c] / (over * over) * t.gain * t.tint[c]
				code := encoded(l) * 255
				if t.noise > 0 {
					code += random.NormFloat64() * t.noise
				}
				out.Row(y)[3*x+c] = uint8(min(max(math.Round(code), 0), 255))
			}
		}
	}
	return out
}

// encodedTable are the values of 65537 amounts of light, 0 to 1, by IEC 61966-2-1.
var encodedTable = func() (table [1<<16 + 1]float64) {
	for i := range table {
		if l := float64(i) / (1 << 16); l <= 0.0031308 {
			table[i] = 12.92 * l
		} else {
			table[i] = 1.055*math.Pow(l, 1/2.4) - 0.055
		}
	}
	return table
}()

func encoded(l float64) float64 {
	return encodedTable[int(min(max(l, 0), 1)*(1<<16)+0.5)]
}

func (s *stage) blurred(radius int) *stage {
	out := s
	for range 2 { // twice: a triangle, much like a lens out of focus
		out = out.boxed(radius)
	}
	return out
}

func (s *stage) boxed(radius int) *stage {
	out := newStage(s.width, s.height)
	for c := range 3 {
		values := make([]int32, s.width*s.height)
		for i := range values {
			values[i] = int32(s.rgb[3*i+c] * 1e6)
		}
		area := float32((2*radius + 1) * (2*radius + 1))
		for i, v := range boxSums(values, s.width, s.height, radius) {
			out.rgb[3*i+c] = float32(v) / 1e6 / area
		}
	}
	return out
}

// stones are the objects of a set: as many in each column as there are levels.
type stones struct {
	width, height int
	columns       int
	levels        int
	random        uint64
}

// build puts level stones into each column. change, when given, is told which stone goes where, may move it, and says
// whether it is there at all.
func (p stones) build(empty *stage, level int, change func(column, stone int, x, y *float64) bool) *stage {
	s := empty.clone()
	random := rand.New(rand.NewPCG(p.random, 3))
	g := newGrain(random)
	room := float64(p.width) / float64(p.columns)
	ground := float64(p.height) * 0.86
	high := float64(p.height) * 0.66 / float64(p.levels)
	for column := range p.columns {
		y := ground
		for stone := range p.levels {
			ry := high * (0.38 + 0.1*random.Float64())
			rx := room * (0.2 + 0.06*random.Float64()) * (1 - 0.05*float64(stone))
			x := room*(float64(column)+0.5) + room*0.03*(random.Float64()-0.5)
			colour := [3]float64{0.08 + 0.5*random.Float64(), 0.08 + 0.45*random.Float64(), 0.06 + 0.4*random.Float64()}
			px, py := x, y-ry
			y -= 1.8 * ry
			if stone >= level {
				continue
			}
			if change != nil && !change(column, stone, &px, &py) {
				continue
			}
			s.shadow(px+rx*0.1, py+ry*0.9, rx*1.1, ry*0.5, 0.5)
			s.disc(px, py, rx, ry, colour, g)
		}
	}
	return s
}

// regions are the columns, wide enough for every stone and its shadow.
func (p stones) regions() []Column {
	room := float64(p.width) / float64(p.columns)
	var out []Column
	for column := range p.columns {
		x0, x1 := room*(float64(column)+0.13), room*(float64(column)+0.87)
		y0, y1 := float64(p.height)*0.12, float64(p.height)*0.93
		out = append(out, Column{Name: string(rune('a' + column)), Feather: room * 0.02, Top: p.levels,
			Region: masks.Region{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}}})
	}
	return out
}

func box(x, y, width, height float64) masks.Region {
	return masks.Region{{X: x, Y: y}, {X: x + width, Y: y}, {X: x + width, Y: y + height}, {X: x, Y: y + height}}
}
