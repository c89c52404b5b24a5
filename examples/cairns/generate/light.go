package main

import "math"

// illumination says how many rays ask for each kind of light at a point.
type illumination struct {
	key, window, room int
	mirror            int // rays that ask what a shining surface reflects
}

// Three lights fall on the sill: the key comes from a tall window that the
// photo does not show, at the left and a little in front; the window behind
// the stones gives their rims and the shine of the wood; the room gives back
// what it gets.
var (
	keyDirection = vector{-0.84, 0.56, 0.14}.unit()
	keyLight     = vector{2.65, 2.42, 2.10} // on a surface that faces it, over pi
	skyLight     = vector{1.85, 1.83, 1.80}
	gardenLight  = vector{0.34, 0.38, 0.22}
	roomLight    = vector{0.185, 0.160, 0.136}
	frameLight   = vector{0.30, 0.30, 0.30}
	sillLight    = vector{0.27, 0.165, 0.09}
)

const (
	keySpread = 0.40 // sine of the angle from the key's middle to its edge
	windowTop = 9.0
	windowEnd = 11.0 // half its width
)

// daylight is what comes in from outside along d, as far as shading needs it.
func daylight(d vector) vector {
	return mixColour(gardenLight, skyLight, smooth(-0.02, 0.26, d.y))
}

// shadowed tells whether any stone but the one numbered self lies between p
// and the light along d.
func shadowed(stones []stone, self int, p, d vector) bool {
	for i := range stones {
		if i != self && stones[i].meet(p, d) != farAway {
			return true
		}
	}
	return false
}

// surface is a point to be lit.
type surface struct {
	place, normal, view vector // view points back along the ray
	colour              vector
	shine, gloss        float64 // of its highlight, as in mineral
	sheen               float64 // share of what it could mirror, 0 to 1
	self                int     // number of the stone, or -1
}

// lit returns the light that leaves the surface towards the view.
func (l illumination) lit(s surface, stones []stone, chance *spread) vector {
	diffuse, highlight := vector{}, vector{}
	add := func(light, d vector, share float64) {
		cosine := s.normal.dot(d)
		if cosine <= 0 || shadowed(stones, s.self, s.place, d) {
			return
		}
		diffuse = diffuse.plus(light.times(cosine * share))
		// Blinn's highlight, scaled to reflect as much at every exponent, with
		// Schlick's approximation of Fresnel's reflectance for stone and oil.
		half := d.plus(s.view).unit()
		base := 1 - max(0, half.dot(s.view))
		fresnel := 0.04 + 0.96*base*base*base*base*base
		peak := power(max(0, half.dot(s.normal)), s.shine) * (s.shine + 8) / 8
		highlight = highlight.plus(light.times(cosine * share * fresnel * peak * s.gloss))
	}

	a, b := keyDirection.frame()
	for i := 0; i < l.key; i++ {
		u, v := chance.next()
		radius, angle := keySpread*math.Sqrt(u), 2*math.Pi*v
		d := keyDirection.plus(a.times(radius * math.Cos(angle))).plus(b.times(radius * math.Sin(angle))).unit()
		add(keyLight, d, 1/float64(l.key))
	}
	for i := 0; i < l.window; i++ {
		u, v := chance.next()
		to := vector{s.place.x + windowEnd*(2*u-1), railTop + (windowTop-railTop)*v, sillBack}.minus(s.place)
		far := to.dot(to)
		d := to.times(1 / math.Sqrt(far))
		const area = 2 * windowEnd * (windowTop - railTop)
		facing := max(0, -d.z)
		add(daylight(d), d, min(area*facing/(math.Pi*far), 6)/float64(l.window))
	}
	a, b = s.normal.frame()
	for i := 0; i < l.room; i++ {
		u, v := chance.next()
		radius, angle := math.Sqrt(u), 2*math.Pi*v
		d := s.normal.times(math.Sqrt(1 - u)).plus(a.times(radius * math.Cos(angle))).plus(b.times(radius * math.Sin(angle)))
		diffuse = diffuse.plus(ambient(s, stones, d).times(1 / float64(l.room)))
	}
	return diffuse.filter(s.colour).plus(highlight)
}

// ambient is the light that reaches the surface along d from all that is no
// light of its own.
func ambient(s surface, stones []stone, d vector) vector {
	nearest, hit := farAway, -1
	for i := range stones {
		if i == s.self {
			continue
		}
		if t := stones[i].meet(s.place, d); t < nearest {
			nearest, hit = t, i
		}
	}
	if hit >= 0 {
		return stones[hit].mineral.ground.times(0.30 * smooth(-0.1, 0.9, nearest))
	}
	if d.y < 0 && s.self >= 0 {
		t := -s.place.y / d.y
		if z := s.place.z + d.z*t; z > sillBack && z < sillFront {
			return sillLight.times(smooth(0, 1.1, t))
		}
		return roomLight.times(0.5)
	}
	if d.z < 0 {
		if y := s.place.y + d.y*(sillBack-s.place.z)/d.z; y < railTop {
			return frameLight
		}
		return vector{} // the window is asked on its own
	}
	// The room is lighter at the left, where the key's window is, and above.
	return roomLight.times(1 + 0.35*d.y - 0.35*d.x)
}

// reflected is what a shining surface mirrors along d.
func (s *scene) reflected(p, d vector, stones []stone) vector {
	nearest, hit := farAway, -1
	for i := range stones {
		if t := stones[i].meet(p, d); t < nearest {
			nearest, hit = t, i
		}
	}
	if hit >= 0 {
		return stones[hit].mineral.ground.times(0.42)
	}
	if d.z >= 0 {
		return roomLight
	}
	if y := p.y + d.y*(sillBack-p.z)/d.z; y < railTop {
		return frameLight
	}
	return s.view.at(eyeColumn-focalLength*d.x/d.z, eyeRow+focalLength*d.y/d.z)
}

// power is x to the power y for x from 0 to 1, by way of Exp2 (see decay).
func power(x, y float64) float64 {
	if x <= 0 {
		return 0
	}
	return math.Exp2(y * math.Log2(x))
}
