package shoot

import (
	"math"
	"sort"
)

const (
	// minConfidence is the least height of the correlation's peak that is trusted. The same picture gives 1, with
	// noise 0.9, moved and with noise 0.5 to 0.8; what does not belong together stays far below 0.3 (common practice,
	// and measured on photographs).
	minConfidence = 0.3
	// sameMotion is by how many pixels two tiles may differ that tell of one motion of the camera: the accuracy that
	// is claimed for fractions of a pixel, for both; or sureMotion of their own standard deviations, if that is more.
	sameMotion, sureMotion = 0.3, 2.5
	// leastTurn is by how many pixels a turn or a zoom must move the picture's corners to be told from chance.
	leastTurn = 0.4
)

// motion is how the whole scene has moved in the picture: about its centre, by x and y right and down, turned
// clockwise by the angle whose sine is turn, and grown by grow.
type motion struct{ x, y, turn, grow float64 }

// at is the motion's shift at a place, seen from the picture's centre.
func (m motion) at(x, y float64) (float64, float64) {
	return m.x + float64(m.grow*x) - float64(m.turn*y), m.y + float64(m.turn*x) + float64(m.grow*y)
}

// sighting is a shift seen at a place, seen from the picture's centre.
type sighting struct{ x, y, dx, dy, weight float64 }

// leastVariance is that of a tile's shift, in square pixels, below which no tile counts for more.
const leastVariance = 0.0004

// weigh gives a sighting the weight of its standard deviation, in pixels.
func (s *sighting) weigh(deviation float64) {
	s.weight = 1 / (float64(deviation*deviation) + leastVariance)
}

// within is by how many pixels along each axis a motion may differ from the sighting and yet be the one that was seen.
func (s *sighting) within() float64 {
	return max(sameMotion, sureMotion*math.Sqrt(max(1/s.weight-leastVariance, 0)))
}

// settle finds the motion that most sightings agree on, and which do. Each pair of sightings gives a motion with turn and zoom
// to try, each single one a shift alone; what agrees best is refined by least squares. halfWidth and halfHeight are those of the picture.
func settle(seen []sighting, halfWidth, halfHeight float64) (best motion, agreeing []bool) {
	if len(seen) == 0 {
		return motion{}, nil
	}
	_, agreeing = poll(seen, shifts(seen))
	best = fitShift(seen, agreeing)
	agreeing = agree(seen, best)
	// Four sightings leave four figures more than a motion has.
	if len(seen) < 4 {
		return best, agreeing
	}
	_, with := poll(seen, turns(seen))
	if turned, ok := fitTurn(seen, with); ok {
		with = agree(seen, turned)
		far := math.Hypot(halfWidth, halfHeight) * math.Hypot(turned.turn, turned.grow)
		plain, bent := leftOver(seen, best, with), leftOver(seen, turned, with)
		// A turn that is there leaves far less over than a shift alone, on the tiles that agree with it.
		if count(with) >= 4 && count(with) >= count(agreeing) && far >= leastTurn && bent < plain/2 {
			return turned, with
		}
	}
	return best, agreeing
}

func shifts(seen []sighting) (tries []motion) {
	for _, s := range seen {
		tries = append(tries, motion{x: s.dx, y: s.dy})
	}
	return tries
}

func turns(seen []sighting) (tries []motion) {
	for i, a := range seen {
		for _, b := range seen[:i] {
			x, y, dx, dy := a.x-b.x, a.y-b.y, a.dx-b.dx, a.dy-b.dy
			square := float64(x*x) + float64(y*y)
			if square == 0 {
				continue
			}
			m := motion{grow: (float64(x*dx) + float64(y*dy)) / square, turn: (float64(x*dy) - float64(y*dx)) / square}
			ax, ay := m.at(a.x, a.y)
			m.x, m.y = a.dx-ax, a.dy-ay
			tries = append(tries, m)
		}
	}
	return tries
}

// poll is the motion that the most weight agrees with, the first of equal ones.
func poll(seen []sighting, tries []motion) (best motion, agreeing []bool) {
	highest := -1.0
	for _, try := range tries {
		with := agree(seen, try)
		weight, left := 0.0, leftOver(seen, try, with)
		for i, yes := range with {
			if yes {
				weight += seen[i].weight
			}
		}
		if score := math.Round((weight-float64(0.01*left))*1e6) / 1e6; score > highest {
			highest, best, agreeing = score, try, with
		}
	}
	return best, agreeing
}

func agree(seen []sighting, m motion) []bool {
	with := make([]bool, len(seen))
	for i, s := range seen {
		dx, dy := m.at(s.x, s.y)
		with[i] = math.Abs(dx-s.dx) <= s.within() && math.Abs(dy-s.dy) <= s.within()
	}
	return with
}

func count(with []bool) int {
	n := 0
	for _, yes := range with {
		if yes {
			n++
		}
	}
	return n
}

// leftOver is the root mean square, in pixels, by which the sightings in with differ from a motion.
func leftOver(seen []sighting, m motion, with []bool) float64 {
	sum, n := 0.0, 0.0
	for i, s := range seen {
		if with[i] {
			dx, dy := m.at(s.x, s.y)
			sum += float64((dx-s.dx)*(dx-s.dx)) + float64((dy-s.dy)*(dy-s.dy))
			n++
		}
	}
	return math.Sqrt(sum / max(n, 1))
}

func fitShift(seen []sighting, with []bool) motion {
	var m motion
	total := 0.0
	for i, s := range seen {
		if with[i] {
			m.x += float64(s.weight * s.dx)
			m.y += float64(s.weight * s.dy)
			total += s.weight
		}
	}
	return motion{x: m.x / total, y: m.y / total}
}

// fitTurn is the least squares of a shift, a turn and a zoom: about the sightings' weighted mean the four
// figures are independent of each other.
func fitTurn(seen []sighting, with []bool) (m motion, ok bool) {
	mean := fitShift(seen, with)
	cx, cy, total := 0.0, 0.0, 0.0
	for i, s := range seen {
		if with[i] {
			cx += float64(s.weight * s.x)
			cy += float64(s.weight * s.y)
			total += s.weight
		}
	}
	cx, cy = cx/total, cy/total
	square, grow, turn := 0.0, 0.0, 0.0
	for i, s := range seen {
		if with[i] {
			x, y, dx, dy := s.x-cx, s.y-cy, s.dx-mean.x, s.dy-mean.y
			square += float64(s.weight * (float64(x*x) + float64(y*y)))
			grow += float64(s.weight * (float64(x*dx) + float64(y*dy)))
			turn += float64(s.weight * (float64(x*dy) - float64(y*dx)))
		}
	}
	if square == 0 {
		return motion{}, false
	}
	m = motion{grow: grow / square, turn: turn / square}
	ax, ay := m.at(cx, cy)
	m.x, m.y = mean.x-ax, mean.y-ay
	return m, true
}

// middling is the median of what match gives, weighed alike; 0 for none.
func middling(values []float64) float64 {
	if len(values) == 0 {
		return 0
	}
	sorted := append([]float64(nil), values...)
	sort.Float64s(sorted)
	return (sorted[(len(sorted)-1)/2] + sorted[len(sorted)/2]) / 2
}
