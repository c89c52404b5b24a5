package strip

import (
	"encoding/binary"
	"math/bits"
	"slices"
)

// In black and white photographs the three bytes of a pixel are the same, so that most of what is repeated is whole pixels, and next to
// none of it is left to literals. So it is in the smooth parts of others, since JPEG files hold what is colour more coarsely than what is
// bright (ITU-T T.81, A.1.1; from memory). Such parts are parsed pixel by pixel: with a third of the places there is time to look at more
// earlier ones, the last at which the same one, two, three and six pixels began. By bytes files of black and white photographs were a
// sixth larger, some larger than the fastest of usual encoders makes them, and those of skies up to four parts in a hundred.

const (
	greyBits  = 13 // at 14 files are a thousandth smaller
	greyMost  = 8  // pixels are compared by their tags
	greyEvery = 16
	greySmall = 2 // how far from 0 what is left of a smooth part is
	// longGrey is longSmooth in pixels.
	longGrey = (longSmooth + 2) / 3
)

// greySearch finds matches of whole pixels. As search does, it looks at many places at once without a decision. With five and eight pixels
// in the place of six files are a hundredth smaller, and coding takes a quarter longer.
type greySearch struct {
	// By tag of a pixel, and by hash of the tags of two, three and six: the low 16 bits of the last place in data.
	one             [256]uint16
	two, three, six [1 << greyBits]uint16

	tags []byte // by a third of the place in data: a value of the pixel, that of all bytes if it is grey

	tokens []token // of the extent at hand

	// By pixel from which was gathered:
	earlier [ahead][4]greyProposal
}

// greyProposal is a place that may be repeated: how many pixels have the same tags, at most greyMost, and how far back it lies.
type greyProposal struct{ same, back uint16 }

// begin forgets what was known. size is that of data.
func (g *greySearch) begin(size int) {
	clear(g.one[:])
	clear(g.two[:])
	clear(g.three[:])
	clear(g.six[:])
	size = size/3 + 1 + greyMost
	if cap(g.tags) < size {
		g.tags = make([]byte, size)
	}
	g.tags = g.tags[:size]
}

// allGrey tells whether the three bytes of 63 in 64 pixels are the same in the bytes of extents, as begin takes them. One pixel in greyEvery
// is looked at.
func (p *parser) allGrey(data []byte, extents []extent) bool {
	all, grey := 0, 0
	for _, e := range extents {
		from, to := int(e.from-e.lead), int(e.to)
		for at := from; at < to; at += 3 * greyEvery {
			i := at - from + p.toPixel(at)
			if i+3 > to-from {
				break
			}
			all++
			if data[i] == data[i+1] && data[i] == data[i+2] {
				grey++
			}
		}
		data = data[to-from:]
	}
	return all > 0 && 64*grey >= 63*all
}

// toPixel is how many bytes it is from a byte of the band to the next at which a pixel begins; from the last two of a row it is to the
// next row's filter number.
func (p *parser) toPixel(at int) int { return (p.stride - at%p.stride) % 3 }

// tag tags the pixels that lie in data from first to before last, which are whole ones of one row; those beyond are taken for 0.
func (g *greySearch) tag(data []byte, first, last int) {
	tags := g.tags[first/3:][:(last-first)/3+greyMost]
	for i := range (last - first) / 3 {
		pixel := data[first+3*i:][:3]
		tags[i] = pixel[0] + 37*(pixel[1]-pixel[0]) + 91*(pixel[2]-pixel[1])
	}
	clear(tags[len(tags)-greyMost:])
}

// gather finds what count pixels from a place on may repeat, at most ahead.
func (g *greySearch) gather(from, count int) {
	for i := range g.earlier[:count] {
		at := from + 3*i
		value, earlier := g.tagsAt(at), &g.earlier[i]
		earlier[0].back = note(&g.one[value%256], at)
		earlier[1].back = note(&g.two[hash(value<<48, greyBits)], at)
		earlier[2].back = note(&g.three[hash(value<<40, greyBits)], at)
		earlier[3].back = note(&g.six[hash(value<<16, greyBits)], at)
	}
	for i := range g.earlier[:count] {
		at := from + 3*i
		earlier := &g.earlier[i]
		if at == 0 {
			clear(earlier[:]) // there is nothing before
			continue
		}
		value := g.tagsAt(at)
		earlier[0] = g.propose(earlier[0].back, at, value)
		earlier[1] = g.propose(earlier[1].back, at, value)
		earlier[2] = g.propose(earlier[2].back, at, value)
		earlier[3] = g.propose(earlier[3].back, at, value)
	}
}

// tagsAt is the tags of greyMost pixels from a place on.
func (g *greySearch) tagsAt(at int) uint64 { return binary.LittleEndian.Uint64(g.tags[uint(at)/3:]) }

// note puts the low bits of a place where those of an earlier one stood, which it returns.
func note(latest *uint16, at int) (earlier uint16) {
	earlier = *latest
	*latest = uint16(at)
	return earlier
}

// propose is what an earlier place, of which the low bits are known, has to offer to another whose tags are value.
func (g *greySearch) propose(earlier uint16, at int, value uint64) greyProposal {
	back := lookBack(at, earlier)
	same := bits.TrailingZeros64(value^g.tagsAt(at-back)) / 8
	return greyProposal{uint16(same), uint16(back)}
}

// knowGrey is know by pixels.
func (p *parser) knowGrey(from, to int) {
	for from < to {
		first, last, end := p.wholePixels(from, to)
		p.grey.tag(p.search.data, first, last)
		for ; first < last; first += 3 * ahead {
			p.grey.gather(first, min(ahead, (last-first)/3))
		}
		from = end
	}
}

// parseGrey is parse by pixels, when the lead is known.
func (p *parser) parseGrey(t *table) []token {
	here := p.search.here
	tokens := p.grey.tokens[:0]
	for at := here.start; at < here.to; {
		first, last, to := p.wholePixels(at, here.to)
		tokens = appendLiterals(tokens, p.search.data[at:first])
		tokens = p.bestPixels(tokens, first, last, t)
		tokens = appendLiterals(tokens, p.search.data[last:to])
		at = to
	}
	p.grey.tokens = tokens
	return tokens
}

// appendLiterals appends bytes as literals.
func appendLiterals(tokens []token, data []byte) []token {
	for _, value := range data {
		tokens = append(tokens, token(value))
	}
	return tokens
}

// wholePixels is the place of the first whole pixel between two places of the extent at hand, that of the end of those that follow in the
// same row, and that at which the row or the extent ends.
func (p *parser) wholePixels(at, to int) (first, last, end int) {
	inBand := at + p.search.here.shift
	end = min(to, at+p.stride-inBand%p.stride)
	first = min(end, at+p.toPixel(inBand))
	return first, end - (end-first)%3, end
}

// bestPixels appends the best tokens for whole pixels of a row. Steps are by pixel.
func (p *parser) bestPixels(tokens []token, first, last int, t *table) []token {
	s, g, data := &p.search, &p.grey, p.search.data
	g.tag(data, first, last)
	count := (last - first) / 3
	steps := p.clearSteps(count)
	steps[0] = 0
	for i, skip := 0, 0; i < count; i++ {
		if i%ahead == 0 {
			g.gather(first+3*i, min(ahead, count-i))
		}
		if i < skip {
			continue
		}
		at, steps := first+3*i, steps[i:]
		cost := steps[0].cost()
		pixel := data[at:][:3]
		literal := (cost + t.singles[pixel[0]]).cost() + t.singles[pixel[1]]
		steps[1] = min(steps[1], literal.cost()+t.singles[pixel[2]])
		most, length := count-i, 0
		earlier := &g.earlier[i%ahead]
		for k := range earlier {
			if min(int(earlier[k].same), most) > length {
				length = s.offerPixels(int(earlier[k].back), at, length, most, steps, t)
			}
		}
		if length >= longGrey {
			skip = i + length
		}
	}
	begin := len(tokens)
	for i := count; i > 0; {
		last := steps[i].token()
		if last == 0 {
			i--
			at := first + 3*i
			tokens = append(tokens, token(data[at+2]), token(data[at+1]), token(data[at]))
		} else {
			i -= last.length() / 3
			tokens = append(tokens, last|isMatch)
		}
	}
	slices.Reverse(tokens[begin:])
	return tokens
}

// offerPixels offers a match of at most most pixels to the steps from the place at on, in all lengths above least, and tells the greatest
// length that has been offered by now.
func (s *search) offerPixels(back, at, least, most int, steps []step, t *table) int {
	distance, room := s.source(at, back)
	if distance > window {
		return least
	}
	length := equal(s.data[at-back:], s.data[at:], min(room, 3*most)) / 3
	if length <= least {
		return least
	}
	offerAll(steps, t.pixels[:], least, length, steps[0].cost()+t.distance(distance))
	return length
}
