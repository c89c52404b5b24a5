package mark

// How strongly a pixel has changed, from one photo against the empty stage. Grades are ordered.
type grade uint8

const (
	still  grade = iota
	soft         // a broad, faint change, such as a shadow's
	weak         // above the noise, not far
	shade        // far, but as a soft shadow would
	strong       // no doubt
)

// change is what one photo changes.
type change struct {
	grades []grade // by pixel of the working size
	gains  [3]gain // of its light
	noise  int     // standard deviation of what has not changed, in tones
}

// Thresholds, in tones, and in standard deviations of the noise.
const (
	strongTones, strongNoise = 9 * toneUnit, 6
	weakTones, weakNoise     = 4 * toneUnit, 3
	softTones, softNoise     = 3 * toneUnit / 2, 4
	// clipped is the light, of fullLight, above which a photo does not tell how bright a place is.
	clipped = fullLight * 98 / 100
	// smoothAbove is the noise from which on photos are smoothed before they are compared. It costs a pixel of sharpness.
	smoothAbove = 2 * toneUnit
)

// stage is the empty stage, ready to be compared with.
type stage struct {
	width, height int
	plain, soft   view
	tones         *tones
}

// view is a photo and the range of light around each of its pixels.
type view struct{ middle, low, high *plane }

func newView(p *plane) view {
	low, high := p.around()
	return view{p, low, high}
}

func newStage(empty *plane) *stage {
	return &stage{empty.width, empty.height, newView(empty), newView(empty.smoothed()), newTones()}
}

// compare tells where a photo differs from the empty stage, once its light has been evened out.
//
// A pixel has changed sharply when its tone lies outside the tones of the 3 x 3 stage pixels around it: a camera that
// has moved by less than a pixel, or an edge coded anew by JPEG, changes nothing then. It has changed softly when the
// mean of all channels over a broader neighbourhood is off, where such small things cancel.
func (s *stage) compare(photo *plane) *change {
	out := &change{grades: make([]grade, s.width*s.height)}
	for c := range out.gains {
		out.gains[c] = fitGain(s.plain.middle.channel[c], photo.channel[c], s.width, s.height)
	}
	light := &lit{stage: s, gains: out.gains}
	offset, known := light.offsets(s.plain.middle, photo)
	out.noise = spread(offset, known)
	base, seen, smooth := s.plain, photo, photo.smoothed()
	if out.noise > smoothAbove {
		base, seen = s.soft, smooth
		out.noise = spread(light.offsets(base.middle, seen))
	}
	blurOffsets(offset, s.width, s.height)
	broad := spread(offset, known)
	strongLimit, weakLimit := max(strongTones, strongNoise*out.noise), max(weakTones, weakNoise*out.noise)
	softLimit := int32(max(softTones, softNoise*broad))
	sharp := light.outside(base, seen)
	for i := range out.grades {
		switch d := int(sharp[i]); {
		case d > strongLimit:
			out.grades[i] = strong
		case d > weakLimit:
			out.grades[i] = weak
		case offset[i] > softLimit || offset[i] < -softLimit:
			out.grades[i] = soft
		}
	}
	light.shadeFrom(out.grades, s.soft.middle, smooth, out.noise)
	return out
}

// lit predicts the photo from the stage.
type lit struct {
	stage *stage
	gains [3]gain
}

// predict is the light that a stage value has in the photo. What is clipped on the stage may be any brighter.
func predict(v uint16, gain int64) uint16 { return uint16(min(int64(v)*gain>>16, fullLight)) }

// offsets is the difference of photo and stage in tones, the mean of the channels. A channel that is clipped in either
// counts as 0; known tells where none is.
func (l *lit) offsets(base, photo *plane) (out []int32, known []bool) {
	s := l.stage
	out, known = make([]int32, s.width*s.height), make([]bool, s.width*s.height)
	for i := range known {
		known[i] = true
	}
	for c, from := range base.channel {
		for y := range s.height {
			gain, step := l.row(c, y)
			for x := range s.width {
				i := y*s.width + x
				want, got := predict(from[i], gain>>16), photo.channel[c][i]
				if from[i] < clipped && want < clipped && got < clipped {
					out[i] += int32(s.tones[got]) - int32(s.tones[want])
				} else {
					known[i] = false
				}
				gain += step
			}
		}
	}
	for i := range out {
		out[i] /= 3
	}
	return out, known
}

// row is a channel's gain at the first pixel of a row and what it grows by from pixel to pixel, in units of 2^-32.
func (l *lit) row(channel, y int) (first, step int64) {
	s, g := l.stage, l.gains[channel]
	first = g.at(0, y, s.width, s.height) << 16
	if s.width > 1 {
		step = (g.at(s.width-1, y, s.width, s.height)<<16 - first) / int64(s.width-1)
	}
	return first, step
}

// outside is by how many tones a photo's pixel lies outside the range of the stage around it: the largest channel, and
// half of each of the others.
func (l *lit) outside(base view, photo *plane) []uint16 {
	s := l.stage
	most, sum := make([]uint16, s.width*s.height), make([]uint32, s.width*s.height)
	for c := range photo.channel {
		low, high, seen := base.low.channel[c], base.high.channel[c], photo.channel[c]
		for y := range s.height {
			gain, step := l.row(c, y)
			for x := range s.width {
				i := y*s.width + x
				from, to := predict(low[i], gain>>16), predict(high[i], gain>>16)
				if high[i] >= clipped {
					to = fullLight
				}
				gain += step
				var d uint16
				switch v := seen[i]; {
				case v < from:
					d = s.tones[from] - s.tones[v]
				case v > to:
					d = s.tones[v] - s.tones[to]
				default:
					continue
				}
				most[i] = max(most[i], d)
				sum[i] += uint32(d)
			}
		}
	}
	for i, m := range most {
		most[i] = uint16(min((uint32(m)+sum[i])/2, 65535))
	}
	return most
}

// spread is the standard deviation of what has not changed, in tones, whatever else is in the picture: of normally
// distributed values 30 % lie within 0.3853 standard deviations, and changes only ever add larger ones. It is wrong by
// little as long as two thirds of the picture are still.
func spread(offsets []int32, known []bool) int {
	const unit = 4 // counting in fours keeps the table small
	counts := make([]int, 256*toneUnit/unit+1)
	total := 0
	for i, v := range offsets {
		if known[i] {
			counts[min(max(v, -v)/unit, int32(len(counts)-1))]++
			total++
		}
	}
	seen := 0
	for i, n := range counts {
		seen += n
		if 10*seen >= 3*total && seen > 0 {
			return int(float64((float64(i)+0.5)*unit) / 0.3853)
		}
	}
	return 0
}

// blurOffsets averages in place over about 7 x 7 pixels, by two passes of a box of five.
func blurOffsets(v []int32, width, height int) {
	const reach = 2
	line := make([]int32, max(width, height))
	box := func(n int, at func(int) *int32) {
		for i := range n {
			line[i] = *at(i)
		}
		for i := range n {
			var sum int32
			for d := -reach; d <= reach; d++ {
				sum += line[min(max(i+d, 0), n-1)]
			}
			*at(i) = sum / (2*reach + 1)
		}
	}
	for range 2 {
		for y := range height {
			box(width, func(x int) *int32 { return &v[y*width+x] })
		}
		for x := range width {
			box(height, func(y int) *int32 { return &v[y*width+x] })
		}
	}
}

// grown is what grows from the empty stage upward. Both maps hold, by pixel, the first level at which it has changed for
// good; 0 for never.
type grown struct {
	width, height, top int
	sure               []uint16 // by strong changes, and the weak ones around them
	any                []uint16 // by any change, however soft
}

// grownFrom joins the changes of all levels; changes[0] is not used.
func grownFrom(width, height int, changes []*change) *grown {
	g := &grown{width: width, height: height, top: len(changes) - 1}
	g.any = firstLevels(changes, soft)
	g.sure = firstLevels(changes, shade)
	shadows := make([]uint16, width*height)
	for _, c := range changes[1:] {
		for i, grade := range c.grades {
			if grade == shade {
				shadows[i]++
			}
		}
	}
	// What half of the photos take for a shadow is one.
	for i, first := range g.sure {
		if first != 0 && 2*int(shadows[i]) >= g.top-int(first)+1 {
			g.sure[i] = 0
		}
	}
	around := firstLevels(changes, weak)
	for i, n := range shadows {
		if n > 0 {
			around[i] = 0
		}
	}
	g.widen(around)
	return g
}

// widen lets each level of what is sure spread over the weaker changes of the same level that it touches.
func (g *grown) widen(around []uint16) {
	var todo []int32
	for i, first := range g.sure {
		if first != 0 {
			todo = append(todo, int32(i))
		}
	}
	for len(todo) > 0 {
		i := int(todo[len(todo)-1])
		todo = todo[:len(todo)-1]
		x, y := i%g.width, i/g.width
		for ny := max(y-1, 0); ny <= min(y+1, g.height-1); ny++ {
			for nx := max(x-1, 0); nx <= min(x+1, g.width-1); nx++ {
				if j := ny*g.width + nx; g.sure[j] == 0 && around[j] == g.sure[i] {
					g.sure[j] = g.sure[i]
					todo = append(todo, int32(j))
				}
			}
		}
	}
}

// firstLevels is by pixel the lowest level from which on at least three photos in four have changed there to that grade
// or above. What passes through the scene for one photo is not among them.
func firstLevels(changes []*change, least grade) []uint16 {
	pixels := len(changes[1].grades)
	first := make([]uint16, pixels)
	count := make([]uint16, pixels)
	top := len(changes) - 1
	for level := top; level >= 1; level-- {
		span := uint16(top - level + 1)
		for i, g := range changes[level].grades {
			if g < least {
				continue
			}
			count[i]++
			if 4*count[i] >= 3*span {
				first[i] = uint16(level)
			}
		}
	}
	return first
}
