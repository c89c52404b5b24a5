package shoot

import (
	"image"

	"colonnade/compose/picture"
)

// Shot is a photo that has been measured, at the base plate's light and in its place.
type Shot struct {
	Measure
	codes            codes
	slopes           []int32 // of its brightness, as the base plate's
	white            []uint8 // bits of the channels that may be burnt out, where the photo is brighter than the base plate
	use              []uint8 // still, and at hand in both pictures, in reduced pixels
	limit, lumaLimit int32   // see Base.limits
	seams            []seam  // by column
	spills           []spill
	ghosts           []ghost
	thumbnail        *image.NRGBA
}

// edgeGain is the least gain of a channel that is told: four stops darker. What is darker is another picture.
const edgeGain = GainUnit / 16

// Measure measures a photo, which has the base plate's size. It may be called by several goroutines at once.
func (b *Base) Measure(photo *picture.Picture) Measure {
	_, s := b.measure(photo)
	return s.Measure
}

// Look measures a photo and all that Judge asks of it. It may be called by several goroutines at once.
func (b *Base) Look(photo *picture.Picture) *Shot {
	r, s := b.measure(photo)
	s.slopes = slopes(s.codes, b.reduced.width, b.reduced.height)
	s.limit, s.lumaLimit = b.limits(s)
	raw := r.codes(b.table, evenGains).smoothed(r.width, r.height)
	b.findSeams(s, raw)
	s.thumbnail = thumbnail(raw, r.width, r.height)
	return s
}

func (b *Base) measure(photo *picture.Picture) (*reduced, *Shot) {
	s := &Shot{}
	r := reduce(photo, 0, 0, b.factor, b.curve)
	b.move(photo, r, b.tiles, &s.Measure)
	aligned := b.align(photo, r, s)
	found := compareLight(b.reduced, aligned, s.use, [2]float64{b.noise, s.Noise}, b.table)
	if len(b.columns) == 0 {
		// What has been put there is left out once it is known, and all is measured again without it.
		s.codes = b.even(aligned, found.gains())
		b.leaveOut(s)
		if tiles := b.narrowed(s.use); len(tiles) > 0 {
			s.Measure = Measure{}
			b.move(photo, r, tiles, &s.Measure)
			aligned = b.align(photo, r, s)
		} else {
			s.Dull = !s.ShiftTrusted
		}
		for range 2 {
			s.codes = b.even(aligned, found.gains())
			b.leaveOut(s)
			found = compareLight(b.reduced, aligned, s.use, [2]float64{b.noise, s.Noise}, b.table)
		}
	}
	s.LightTrusted = found.trusted
	s.gains = found.gains()
	s.Light = stops(found.luminous)
	for c := range 3 {
		s.Channels[c] = stops(found.ratio[c])
	}
	s.Uneven = found.uneven
	s.codes = b.even(aligned, s.gains)
	s.white = whiteIn(aligned, s.gains)
	s.Burnt, s.Black = b.clipped(r, s.use)
	s.asIs, s.even = b.difference(aligned.codes(b.table, evenGains).smoothed(r.width, r.height), s.use), b.difference(s.codes, s.use)
	return r, s
}

// even is a photo's codes at the base plate's light. Where it is burnt out as the base plate would be, were it as bright,
// nothing is known to differ, and the base plate's light stands for it.
func (b *Base) even(aligned *reduced, gains [3]int64) codes {
	out := aligned.codes(b.table, gains)
	for c := range out {
		for i, burnt := range aligned.burnt {
			least := uint16(nearWhite)
			if burnt != 0 {
				least = partlyWhite
			}
			if v := int64(b.reduced.light[c][i]); aligned.light[c][i] >= least && v*gains[c] >= burntLight*GainUnit {
				out[c][i] = b.table[v]
			}
		}
	}
	return out.smoothed(aligned.width, aligned.height)
}

// whiteIn are the channels, as bits, that may be burnt out at a pixel or beside it, of those that are brighter than the base plate's.
func whiteIn(aligned *reduced, gains [3]int64) []uint8 {
	w, h := aligned.width, aligned.height
	out := make([]uint8, w*h)
	for c, gain := range gains {
		if lightUnit*GainUnit/gain >= burntLight {
			continue
		}
		for i, v := range aligned.light[c] {
			if v < nearWhite && (aligned.burnt[i] == 0 || v < partlyWhite) {
				continue
			}
			for y := max(i/w-1, 0); y <= min(i/w+1, h-1); y++ {
				for x := max(i%w-1, 0); x <= min(i%w+1, w-1); x++ {
					out[y*w+x] |= 1 << c
				}
			}
		}
	}
	return out
}

// burntLight is the light that a photo may show as white: three parts in a hundred less than white.
const burntLight = lightUnit * 97 / 100

// nearWhite is what JPEG may make of white beside an edge: a tenth less light, twelve codes. partlyWhite is the mean of pixels of
// which some are burnt out.
const nearWhite, partlyWhite = lightUnit * 9 / 10, lightUnit * 3 / 4

// align is the reduced photo in the base plate's place, and sets what both have in common. Whole pixels are moved back at
// the photo's full size, where nothing is lost by it.
func (b *Base) align(photo *picture.Picture, r *reduced, s *Shot) *reduced {
	s.use = b.shared(s.shift)
	if !s.ShiftTrusted || s.shift == [2]int64{} {
		return r
	}
	x, y := nearest(s.shift[0], ShiftUnit), nearest(s.shift[1], ShiftUnit)
	if b.factor > 1 && (x != 0 || y != 0) {
		r = reduce(photo, int(x), int(y), b.factor, b.curve)
	} else {
		x, y = 0, 0
	}
	// From 64ths of a photo pixel to 1024ths of a reduced one.
	const step = moveUnit / ShiftUnit
	return r.moved(nearest((s.shift[0]-x*ShiftUnit)*step, int64(b.factor)), nearest((s.shift[1]-y*ShiftUnit)*step, int64(b.factor)))
}

func (c comparison) gains() (gains [3]int64) {
	for i, ratio := range c.ratio {
		gains[i] = min(max(int64(ratio*GainUnit+0.5), edgeGain), 16*GainUnit)
	}
	return gains
}

// nearest is a/b to the nearest whole number.
func nearest(a, b int64) int64 {
	if a < 0 {
		return -nearest(-a, b)
	}
	return (a + b/2) / b
}

// shared is the still area less the border that a moved photo does not show.
func (b *Base) shared(shift [2]int64) []uint8 {
	w, h := b.reduced.width, b.reduced.height
	reach := func(steps int64) int {
		steps = max(steps, -steps)
		if steps == 0 {
			return 0
		}
		return int(steps/ShiftUnit)/b.factor + 3 // the kernel reaches two pixels past its own
	}
	left, up := reach(shift[0]), reach(shift[1])
	out := make([]uint8, w*h)
	for y := up; y < h-up; y++ {
		if left < w-left {
			copy(out[y*w+left:y*w+w-left], b.still[y*w+left:y*w+w-left])
		}
	}
	return out
}

// leaveOut takes what has changed, and what lies around it, out of the still area.
func (b *Base) leaveOut(s *Shot) {
	s.use = b.shared(s.shift)
	w, h := b.reduced.width, b.reduced.height
	limit, _ := b.limits(s)
	around := max(min(w, h)/100, 1)
	changed := make([]int32, w*h)
	for i := range changed {
		if apart(b.codes, s.codes, i) > limit+b.slopes[i]/4 {
			changed[i] = 1
		}
	}
	for i, n := range boxSums(changed, w, h, around) {
		if n > int64(around) { // specks are noise
			s.use[i] = 0
		}
	}
}

// difference is the mean difference in brightness from the base plate, in codeUnit steps times 1024.
func (b *Base) difference(c codes, use []uint8) int64 {
	var sum, n int64
	for i, u := range use {
		if u != 0 {
			d := int64(c.luma(i) - b.codes.luma(i))
			sum += max(d, -d)
			n++
		}
	}
	return sum * 1024 / max(n, 1)
}

// clipped are the shares of the still area that are burnt out and black.
func (b *Base) clipped(r *reduced, use []uint8) (burnt, black float64) {
	var bright, dark, n int64
	for i, u := range use {
		if u != 0 {
			bright, dark, n = bright+int64(r.burnt[i]), dark+int64(r.black[i]), n+int64(b.factor*b.factor)
		}
	}
	n = max(n, 1)
	return rounded(float64(bright)/float64(n), 10_000), rounded(float64(dark)/float64(n), 10_000)
}
