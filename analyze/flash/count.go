package flash

import "slices"

// finding is a frame, counted from 0, in which more than a quarter of a field flashes too often: with the second that
// ends with it.
type finding struct {
	frame, position, pixels int32
	changes                 int32 // of the field as a whole; 0 where its places change too often each for itself
}

// event is a place that does something in a frame: changes up or down, or begins or ends to change too often.
type event struct {
	place *place
	up    bool
}

// events is what happens in each frame, in the places' order.
type events struct {
	first []int32 // of each frame in all; one more than there are frames
	all   []event
}

func (e *events) in(frame int) []event { return e.all[e.first[frame]:e.first[frame+1]] }

// eventsOf collects what happens in each of so many frames. visit is called twice and must tell the same each time.
func eventsOf(frames int, visit func(tell func(frame int32, e event))) *events {
	e := &events{first: make([]int32, frames+1)}
	count := int32(0)
	visit(func(frame int32, _ event) {
		if int(frame) < frames {
			e.first[frame]++
			count++
		}
	})
	at := int32(0)
	for frame, n := range e.first {
		e.first[frame] = at
		at += n
	}
	e.all = make([]event, count)
	next := slices.Clone(e.first)
	visit(func(frame int32, what event) {
		if int(frame) < frames {
			e.all[next[frame]] = what
			next[frame]++
		}
	})
	return e
}

// turnEvents is the changes of all places.
func turnEvents(places []*place, frames int) *events {
	return eventsOf(frames, func(tell func(int32, event)) {
		for _, p := range places {
			for _, t := range p.turns {
				tell(t.frame, event{p, t.up})
			}
		}
	})
}

// oftenEvents is where places begin and end to have made more than mostChanges changes within the second that ends with
// the frame.
func oftenEvents(places []*place, frames, span int) *events {
	return eventsOf(frames, func(tell func(int32, event)) {
		for _, p := range places {
			until := int32(-1)
			for i := mostChanges; i < len(p.turns); i++ {
				begun, ended := p.turns[i-mostChanges].frame, p.turns[i].frame
				if ended-begun > int32(span) {
					continue
				}
				if ended > until {
					if until >= 0 {
						tell(until+1, event{p, false})
					}
					tell(ended, event{p, true})
				}
				until = begun + int32(span)
			}
			if until >= 0 {
				tell(until+1, event{p, false})
			}
		}
	})
}

// sustained finds the frames in which places that change too often cover too much of a field.
func sustained(often *events, g *grid, which, step int) (out []finding) {
	s := newSurface(g)
	best := finding{}
	for frame := range len(often.first) - 1 {
		happens := often.in(frame)
		for _, e := range happens {
			if e.up {
				s.add(e.place.areas[which], 1)
			} else {
				s.add(e.place.areas[which], -1)
			}
		}
		if len(happens) > 0 {
			best = finding{}
			if g.isOver(s.total, step) {
				s.sum()
				for position := range g.positions.X * g.positions.Y {
					if pixels := s.in(position); pixels > best.pixels {
						best.pixels, best.position = pixels, int32(position)
					}
				}
			}
		}
		if g.isOver(best.pixels, step) {
			best.frame = int32(frame)
			out = append(out, best)
		}
	}
	return out
}

// alternating finds the frames in which a field makes a change, a quarter of it in one direction and other than the one
// before, that is one too many within the second.
func alternating(turns *events, g *grid, which, span, step int) (out []finding) {
	up, down := newSurface(g), newSurface(g)
	fields := make([]fieldCourse, g.positions.X*g.positions.Y)
	for frame := range len(turns.first) - 1 {
		happens := turns.in(frame)
		if len(happens) == 0 {
			continue
		}
		up.clear()
		down.clear()
		for _, e := range happens {
			if e.up {
				up.add(e.place.areas[which], 1)
			} else {
				down.add(e.place.areas[which], 1)
			}
		}
		ups, downs := g.isOver(up.total, step), g.isOver(down.total, step)
		if ups {
			up.sum()
		}
		if downs {
			down.sum()
		}
		if !ups && !downs {
			continue
		}
		best := finding{frame: int32(frame)}
		for position := range fields {
			var rises, falls int32
			if ups {
				rises = up.in(position)
			}
			if downs {
				falls = down.in(position)
			}
			f := &fields[position]
			pixels := f.step(rises, falls, g.isOver(rises, step), g.isOver(falls, step))
			if pixels == 0 {
				continue
			}
			if changes := f.count(int32(frame), int32(span)); changes > mostChanges {
				if pixels > best.pixels {
					best.pixels, best.position = pixels, int32(position)
				}
				best.changes = max(best.changes, changes)
			}
		}
		if best.changes > 0 {
			out = append(out, best)
		}
	}
	return out
}

// fieldCourse is the changes that a field has made as a whole.
type fieldCourse struct {
	began, up bool
	frames    []int32
}

// step takes what rises and falls in a frame and whether that is more than a quarter; it gives the pixels of the change
// that the field makes, 0 when it makes none. The first change may go either way.
func (f *fieldCourse) step(rises, falls int32, rise, fall bool) int32 {
	switch {
	case rise && (!f.began || !f.up):
		f.began, f.up = true, true
		return rises
	case fall && (!f.began || f.up):
		f.began, f.up = true, false
		return falls
	}
	return 0
}

// count adds a change and gives how many there are within the second that ends with it.
func (f *fieldCourse) count(frame, span int32) int32 {
	f.frames = append(f.frames, frame)
	first := 0
	for f.frames[first] < frame-span {
		first++
	}
	f.frames = f.frames[first:]
	return int32(len(f.frames))
}
