package flash

import (
	"cmp"
	"slices"
)

// change says that a pixel takes on a state in a frame, counted from 0, and keeps it until the next.
type change struct{ frame, state int32 }

// turn is a change in the sense of the standards: the frame in which it has become large enough, and its direction.
type turn struct {
	frame int32
	up    bool // brighter, or to red
}

// luminanceTurns finds the changes of luminance in a course of states, whose luminances are given. Up and down take
// turns: since the last change the lowest and the highest are kept, and the first state that lies far enough from the
// one on the other side is the next.
func luminanceTurns(course []change, luminance []int64) (turns []turn) {
	low := luminance[course[0].state]
	high := low
	waitUp, waitDown := true, true
	for _, c := range course[1:] {
		now := luminance[c.state]
		low, high = min(low, now), max(high, now)
		switch {
		case waitUp && isBrighter(low, now):
			turns = append(turns, turn{c.frame, true})
		case waitDown && isBrighter(now, high):
			turns = append(turns, turn{c.frame, false})
		default:
			continue
		}
		waitDown = turns[len(turns)-1].up
		waitUp = !waitDown
		low, high = now, now
	}
	return turns
}

// redTurns finds the changes to and from saturated red in the same way: a state is a change to red when it is red and
// far from any seen since the last change, and from red when it is far from any red seen since.
func redTurns(course []change, hues []hue) (turns []turn) {
	var all, reds reach
	all.add(hues[course[0].state])
	reds.addRed(hues[course[0].state])
	waitUp, waitDown := true, true
	for _, c := range course[1:] {
		now := hues[c.state]
		switch {
		case waitUp && now.red && all.isFarFrom(now):
			turns = append(turns, turn{c.frame, true})
		case waitDown && reds.isFarFrom(now):
			turns = append(turns, turn{c.frame, false})
		default:
			all.add(now)
			reds.addRed(now)
			continue
		}
		waitDown = turns[len(turns)-1].up
		waitUp = !waitDown
		all.clear()
		reds.clear()
		all.add(now)
		reds.addRed(now)
	}
	return turns
}

// reach is a set of hues of which only the outermost matter: what is farthest from a point is a corner of the hull.
type reach struct {
	points   []hue
	full     int // at so many points the inner ones are dropped
	from, to hue // the least and the largest u and v
}

const fewHues = 32

func (r *reach) clear() { r.points, r.full = r.points[:0], fewHues }

func (r *reach) addRed(h hue) {
	if h.red {
		r.add(h)
	}
}

func (r *reach) add(h hue) {
	if len(r.points) == 0 {
		r.from, r.to, r.full = h, h, fewHues
	}
	r.from.u, r.from.v = min(r.from.u, h.u), min(r.from.v, h.v)
	r.to.u, r.to.v = max(r.to.u, h.u), max(r.to.v, h.v)
	if n := len(r.points); n > 0 && r.points[n-1] == h {
		return
	}
	r.points = append(r.points, h)
	if len(r.points) >= r.full {
		r.points = hull(r.points)
		r.full = max(fewHues, 2*len(r.points))
	}
}

// isFarFrom tells whether any of the set is far from h.
func (r *reach) isFarFrom(h hue) bool {
	if len(r.points) == 0 {
		return false
	}
	corner := hue{u: r.from.u, v: r.from.v}
	if h.u-r.from.u < r.to.u-h.u {
		corner.u = r.to.u
	}
	if h.v-r.from.v < r.to.v-h.v {
		corner.v = r.to.v
	}
	return isFar(corner, h) && slices.ContainsFunc(r.points, func(p hue) bool { return isFar(p, h) })
}

// hull is the corners of the convex hull of points (Andrew's monotone chain), in the points' own memory.
func hull(points []hue) []hue {
	slices.SortFunc(points, func(a, b hue) int { return cmp.Or(cmp.Compare(a.u, b.u), cmp.Compare(a.v, b.v)) })
	turnsLeft := func(a, b, c hue) bool {
		return int64(b.u-a.u)*int64(c.v-a.v) > int64(b.v-a.v)*int64(c.u-a.u)
	}
	var lower, upper []hue
	for _, p := range points {
		for len(lower) > 1 && !turnsLeft(lower[len(lower)-2], lower[len(lower)-1], p) {
			lower = lower[:len(lower)-1]
		}
		lower = append(lower, p)
		for len(upper) > 1 && !turnsLeft(p, upper[len(upper)-1], upper[len(upper)-2]) {
			upper = upper[:len(upper)-1]
		}
		upper = append(upper, p)
	}
	return append(append(points[:0], lower...), upper...)
}
