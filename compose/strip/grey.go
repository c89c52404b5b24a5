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
	greyMost  = 7  // pixels are compared at once; more are by their bytes (offerOnward)
	greyPad   = 8  // values are read at once (eight)
	greyEvery = 16
	greySmall = 2 // how far from 0 what is left of a smooth part is
	// longGrey is longSmooth in pixels.
	longGrey = (longSmooth + 2) / 3
)

// greySearch finds matches of whole pixels. As search does, it looks at many places at once, and at all of them without a decision: how much
// is the same can not be guessed, and each wrong guess would cost more than to compare four places does. Coding takes a fifth less time than
// with a decision at each. With five and eight pixels in the place of six files are three to five thousandths smaller, for one place more.
type greySearch struct {
	// By tag of a pixel, and by hash of the tags of two, three and six: the low 16 bits of the last index.
	one             [256]uint16
	two, three, six [1 << greyBits]uint16

	// By index, a third of the place in data. Where no pixel begins all are 0.
	tags        []byte // a value of the pixel, that of all bytes if it is grey
	reds, blues []byte // by how much the second byte is above the first, and the third above the second; with the tag they tell the pixel
	spots       []spot

	tokens []token // of the extent at hand

	// By pixel from which was gathered:
	earlier [ahead][4]uint16 // where the same one, two, three and six pixels began before
	offers  [ahead]greyOffer
}

// spot is a pixel's place in the band, which is below 1<<29, and in the lowest three bits how many pixels, at most greyMost, lie from it on
// in the row and the extent.
type spot uint32

func (s spot) place() uint32 { return uint32(s >> 3) }
func (s spot) run() uint32   { return uint32(s & 7) }

// greyOffer is what may be repeated at a pixel: the prices of the distances of four earlier ones, the nearest first, and which of them is
// the first from which so many pixels are the same: in byte n for n pixels, none if they are not.
type greyOffer struct {
	prices [none + 1]step
	first  uint64
}

const none = 4

// Of numbers in bytes, as greyOffer has them: bytesAbove[n] is 1 in each byte above n, firstBit[n] the lowest bit of byte n.
var bytesAbove, firstBit = func() (bytesAbove, firstBit [greyMost + 1]uint64) {
	for n := range firstBit {
		firstBit[n] = 1 << (8 * n)
		for m := range n {
			bytesAbove[m] += firstBit[n]
		}
	}
	return bytesAbove, firstBit
}()

// begin forgets what was known. size is that of data.
func (g *greySearch) begin(size int) {
	clear(g.one[:])
	clear(g.two[:])
	clear(g.three[:])
	clear(g.six[:])
	size = size/3 + 1 + greyPad
	if cap(g.tags) < size {
		g.tags, g.reds, g.blues, g.spots = make([]byte, size), make([]byte, size), make([]byte, size), make([]spot, size)
	}
	g.tags, g.reds, g.blues, g.spots = g.tags[:size], g.reds[:size], g.blues[:size], g.spots[:size]
	for i := range g.offers {
		g.offers[i].prices[none] = unreached >> 1
	}
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

// parseGrey is parse by pixels. What lies before start in the extent at hand is made known, but not parsed.
func (p *parser) parseGrey(start int, t *table) []token {
	here, data := p.search.here, p.search.data
	tokens := p.grey.tokens[:0]
	for at := here.from; at < here.to; {
		inBand := at + here.shift
		to := min(here.to, at+p.stride-inBand%p.stride) // the end of the row
		first := min(to, at+p.toPixel(inBand))
		last := to - (to-first)%3
		p.grey.tag(data, first, last, here.shift)

		from := max(at, start)
		parsed := min(last, first+(max(0, start-first)+2)/3*3) // the first whole pixel from start on
		for i := first / 3; i < parsed/3; i += ahead {
			p.grey.note(i, min(ahead, parsed/3-i))
		}
		if from < to {
			tokens = appendLiterals(tokens, data[from:max(from, parsed)])
			tokens = p.bestPixels(tokens, parsed, last, t)
			tokens = appendLiterals(tokens, data[max(from, last):to])
		}
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

// tag takes in the pixels that lie in data from first to before last, which are whole ones of one row, and shift further on in the band.
// Beyond them there is none.
func (g *greySearch) tag(data []byte, first, last, shift int) {
	at, count := first/3, (last-first)/3
	end := at + count + greyPad
	tags, reds, blues, spots := g.tags[at:end], g.reds[at:end], g.blues[at:end], g.spots[at:end]
	for i := range count {
		pixel := data[first+3*i:][:3]
		red, blue := pixel[1]-pixel[0], pixel[2]-pixel[1]
		tags[i], reds[i], blues[i] = pixel[0]+37*red+91*blue, red, blue
		spots[i] = spot(first+3*i+shift)<<3 | spot(min(count-i, greyMost))
	}
	clear(tags[count:])
	clear(reds[count:])
	clear(blues[count:])
	clear(spots[count:])
}

// note makes count pixels known, at most ahead, and keeps where the same were before.
func (g *greySearch) note(first, count int) {
	for i := range g.earlier[:count] {
		at := first + i
		value, earlier := eight(g.tags, at), &g.earlier[i]
		earlier[0] = note(&g.one[value%256], at)
		earlier[1] = note(&g.two[hash(value<<48, greyBits)], at)
		earlier[2] = note(&g.three[hash(value<<40, greyBits)], at)
		earlier[3] = note(&g.six[hash(value<<16, greyBits)], at)
	}
}

// note puts the low bits of an index where those of an earlier one stood, which it returns.
func note(latest *uint16, at int) (earlier uint16) {
	earlier = *latest
	*latest = uint16(at)
	return earlier
}

// eight is the eight bytes from at on.
func eight(of []byte, at int) uint64 { return binary.LittleEndian.Uint64(of[at : at+8]) }

// gather finds what the pixels from from to before to, counted from first, may repeat. They have been noted.
func (g *greySearch) gather(first, from, to int, t *table) {
	tags, reds, blues, spots := g.tags, g.reds, g.blues, g.spots
	for i := from; i < to; i++ {
		at, offer := first+i, &g.offers[i%ahead]
		tag, red, blue := eight(tags, at), eight(reds, at), eight(blues, at)
		more, first := bytesAbove[0], uint64(0)
		for k, earlier := range &g.earlier[i%ahead] {
			there := at - int(uint16(at)-earlier)
			its := spots[there]
			differ := (eight(tags, there) ^ tag) | (eight(reds, there) ^ red) | (eight(blues, there) ^ blue) |
				firstBit[its.run()] | firstBit[greyMost]
			more &= bytesAbove[bits.TrailingZeros64(differ)/8&7]
			first += more
			// The distance less 1. Where that is beyond the window, or the pixel itself is what stands for none, the price is that of none.
			back := spots[at].place() - its.place() - 1
			beyond := uint64((window-1-int64(back))>>63) >> 1
			offer.prices[k] = t.distance(int(back%window)+1) | step(beyond)
		}
		offer.first = first
	}
}

// bestPixels appends the best tokens for whole pixels of a row. Steps are by pixel.
func (p *parser) bestPixels(tokens []token, first, last int, t *table) []token {
	g, data := &p.grey, p.search.data
	count := (last - first) / 3
	steps := p.clearSteps(count)
	steps[0] = 0
	for i, skip := 0, 0; i < count; i++ {
		if i%ahead == 0 {
			n := min(ahead, count-i)
			g.note(first/3+i, n)
			g.gather(first/3+i, min(max(0, skip-i), n), n, t)
		}
		if i < skip {
			continue
		}
		at, reached := first+3*i, (*[greyMost + 1]step)(steps[i:])
		cost := reached[0].cost()
		pixel := data[at:][:3]
		literal := (cost + t.singles[pixel[0]]).cost() + t.singles[pixel[1]]
		reached[1] = min(reached[1], literal.cost()+t.singles[pixel[2]])
		offer := &g.offers[i%ahead]
		for n := 1; n <= greyMost; n++ {
			reached[n] = min(reached[n], cost+offer.prices[offer.first>>(8*n)&7]+t.pixels[n])
		}
		if k := offer.first >> (8 * greyMost); k != none {
			if length := p.offerOnward(first/3+i, g.earlier[i%ahead][k], at, count-i, steps[i:], t); length >= longGrey {
				skip = i + length
			}
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

// offerOnward offers a match of more than greyMost pixels, at most most, to the steps from the place at on, which has the index, if so many
// are the same from an earlier index on, of which the low bits are known, and tells how many are.
func (p *parser) offerOnward(index int, earlier uint16, at, most int, steps []step, t *table) int {
	s := &p.search
	there := index - int(uint16(index)-earlier)
	from := int(p.grey.spots[there].place()) - s.extent(3*there+2).shift
	if from == at {
		return 0
	}
	distance, room := s.source(at, at-from)
	if distance > window {
		return 0
	}
	length := equal(s.data[from:], s.data[at:], min(room, 3*most)) / 3
	if length > greyMost {
		offerAll(steps, t.pixels[:], greyMost, length, steps[0].cost()+t.distance(distance))
	}
	return length
}
