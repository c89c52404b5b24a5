package strip

import (
	"encoding/binary"
	"math/bits"
)

// A match must neither write nor read bytes that other columns decide, or what it copies would change with them.
// Each part of a band is therefore parsed by itself: a match lies within one extent, and what it repeats
// lies within one extent of the same part, this one or an earlier one, and its lead. Its distance counts all bytes between.

// search finds matches, but not those of black and white photographs (greySearch). At each place of a photograph that is neither smooth nor
// dense it looks at two earlier ones: the last at which the same three bytes began, which is near, but repeats little more, and the last at
// which the same eight did. In a sky, where a few bytes are the same almost everywhere, only the second finds what is long. Three bytes are
// repeated only from near: that makes files of photographs one to three parts in a hundred smaller. Four are not: they would make them a
// few thousandths smaller, for a twelfth of the time.
//
// In other bands three places are looked at: the last of three, of four and of twelve bytes, of slopes of 24, of other drawings not of them;
// or of three, five and eight.
// Of dense photographs that makes files two parts in a hundred smaller and of what repeats itself much a tenth, of others less than one
// part; it takes a quarter longer.
//
// A processor waits for memory twice at each place, for the earlier ones and for their bytes, and guesses
// badly what it will find there. So this is done for many places at once without a decision, that all the
// waiting is done together; only then is each place decided on.
type search struct {
	data   []byte  // of all extents, each after its lead, and parsePad bytes after them
	places []place // by extent
	of     []int32 // by block of 1<<blockBits bytes of data: the extent of its first byte
	here   place   // the extent at hand
	to     int     // the places of the extent at hand that lie before it have been gathered
	kind   kind    // of the band
	// Of dense bands the first hash is that of sought bytes, not of four, and rest (wide) is not looked at: the second is that of
	// compared bytes. Files are half of one per cent smaller.
	begun  uint   // the bits of a value that the first hash leaves out
	rest   uint64 // the bits of rest that are looked at
	beyond int    // where rest begins

	// By hash of four, twelve (or 24) and three bytes; five, eight and three; or three and eight: the low 16 bits of the last place in data.
	latest       [1 << hashBits]uint16
	latestFar    [1 << farBits]uint16
	latestTriple [1 << tripleBits]uint16

	// By place from which was gathered:
	before, beforeFar [ahead]uint16
	near              [ahead]proposal
	far               [ahead]uint16 // how far back the same soughtFar, soughtSlope or compared bytes began; 0 if they did not
	triples           [ahead]uint16 // how far back the same three bytes began; 0 if not in the extent and near
}

// place is where an extent lies in data: its lead from from on, itself from start to before to; and how much further on
// in the band it lies.
type place struct{ from, start, to, shift int }

// proposal is what may be repeated at one place: how many bytes are the same, at most compared of them, and how far
// back in data their source lies, 1 to window.
type proposal struct{ same, back uint16 }

const (
	hashBits    = 15 // at 13 noisy photographs of 24 megapixels are a hundredth larger
	farBits     = 13
	sought      = 5 // the fewest bytes repeated, but for three from near
	soughtFar   = 12
	soughtSlope = 24 // of which the first compared and the last compared ones are looked at
	compared    = 8
	parsePad    = soughtSlope + compared
	blockBits   = 6
	ahead       = 64

	tripleBits = 14
	nearTriple = 2048 // the longest distance of a match of three bytes: at 512 files of 4K are some thousandths larger
)

func (s *search) begin(data []byte, extents []extent, as kind) {
	s.kind, s.begun, s.rest, s.beyond = as, 64-8*4, ^uint64(0), soughtFar-compared
	switch as {
	case kindDense:
		s.begun, s.rest = 64-8*sought, 0
	case kindSlope:
		s.beyond = soughtSlope - compared
	}
	if as != kindGrey { // which has its own
		clear(s.latest[:])
		clear(s.latestFar[:])
		clear(s.latestTriple[:])
	}
	s.data, s.places = data[:len(data)+parsePad], s.places[:0]
	clear(s.data[len(data):])
	s.of = s.of[:0]
	at := 0
	for k, e := range extents {
		start := at + int(e.lead)
		to := start + int(e.to-e.from)
		s.places = append(s.places, place{at, start, to, int(e.from) - start})
		for len(s.of)<<blockBits < to {
			s.of = append(s.of, int32(k))
		}
		at = to
	}
}

// gather finds what may be repeated at the next places, the first of them being from, and tells their number.
func (s *search) gather(from int) int {
	s.to = min(from+ahead, s.here.to)
	clear(s.near[:])
	clear(s.far[:])
	clear(s.triples[:])
	count := min(s.to, s.here.to-sought+1) - from
	if count <= 0 {
		return s.to - from
	}
	if s.kind == kindPhoto {
		s.gatherFew(from, count)
	} else {
		s.gatherMany(from, count)
	}
	return s.to - from
}

// gatherFew looks at two earlier places.
func (s *search) gatherFew(from, count int) {
	data := s.data[from:]
	before, beforeFar, near, far := s.before[:count], s.beforeFar[:count], s.near[:count], s.far[:count]
	for i := range before {
		before[i], beforeFar[i] = s.noteFew(from+i, binary.LittleEndian.Uint64(data[i:]))
	}
	for i := range near {
		at := from + i
		if at == 0 {
			continue // there is nothing before
		}
		value := binary.LittleEndian.Uint64(data[i:])
		back := lookBack(at, before[i])
		same := bits.TrailingZeros64(binary.LittleEndian.Uint64(s.data[at-back:])^value) / 8
		near[i] = proposal{uint16(same), uint16(back)}
		s.triples[i] = uint16(back &^ (less(same, 3) | less(nearTriple, back) | less(at-back, s.here.from)))
		back = lookBack(at, beforeFar[i])
		if binary.LittleEndian.Uint64(s.data[at-back:]) != value {
			back = 0
		}
		far[i] = uint16(back)
	}
}

// gatherMany looks at three earlier places.
func (s *search) gatherMany(from, count int) {
	data := s.data[from:]
	before, beforeFar, near, far := s.before[:count], s.beforeFar[:count], s.near[:count], s.far[:count]
	for i := range before {
		value, rest := s.wide(data[i:])
		before[i], beforeFar[i], s.triples[i] = s.note(from+i, value, rest)
	}
	for i := range near {
		at := from + i
		if at == 0 {
			continue // there is nothing before
		}
		value, rest := s.wide(data[i:])
		back := lookBack(at, before[i])
		differ := binary.LittleEndian.Uint64(s.data[at-back:]) ^ value
		near[i] = proposal{uint16(bits.TrailingZeros64(differ) / 8), uint16(back)}
		back = lookBack(at, beforeFar[i])
		if there, more := s.wide(s.data[at-back:]); (there^value)|(more^rest)&s.rest != 0 {
			back = 0
		}
		far[i] = uint16(back)
		s.triples[i] = s.triple(uint32(value), at, s.triples[i])
	}
	if s.kind == kindDrawn {
		clear(far)
	}
}

// wide is the first compared bytes of data, and the last as many of those that are sought from far.
func (s *search) wide(data []byte) (value, rest uint64) {
	return binary.LittleEndian.Uint64(data), binary.LittleEndian.Uint64(data[s.beyond:])
}

// lookBack is how far back from a place an earlier one lies, of which the low bits are known alone. It is taken to
// lie within the window. Where it does not, or is none, some other place stands for it.
func lookBack(at int, earlier uint16) int { return int((uint16(at-1)-earlier)%window) + 1 }

// triple is back if the three lowest bytes of value, which are those at a place, begin as far before it in the extent and
// near, and else 0.
func (s *search) triple(value uint32, at int, back uint16) uint16 {
	source := max(at-int(back), s.here.from)
	differ := (binary.LittleEndian.Uint32(s.data[source:source+4]) ^ value) << 8
	if differ != 0 || source != at-int(back) || back > nearTriple {
		return 0
	}
	return back
}

// note makes the bytes at a place known, which are those of wide. It returns the last places where four and twelve
// (or 24) of them, or five and eight, occurred before, and how far back the last place is where three did.
func (s *search) note(at int, value, rest uint64) (before, beforeFar, triple uint16) {
	latest := &s.latest[hash(value<<s.begun, hashBits)]
	latestFar := &s.latestFar[hashWide(value, rest&s.rest)]
	latestTriple := &s.latestTriple[hash(value<<40, tripleBits)]
	before, beforeFar, triple = *latest, *latestFar, uint16(at)-*latestTriple
	*latest, *latestFar, *latestTriple = uint16(at), uint16(at), uint16(at)
	return before, beforeFar, triple
}

// noteFew does the same, but returns the last places where three and compared bytes occurred.
func (s *search) noteFew(at int, value uint64) (before, beforeFar uint16) {
	latest, latestFar := &s.latest[hash(value<<40, hashBits)], &s.latestFar[hashWide(value, 0)]
	before, beforeFar = *latest, *latestFar
	*latest, *latestFar = uint16(at), uint16(at)
	return before, beforeFar
}

// less is all bits if a is less than b, and else none.
func less(a, b int) int { return (a - b) >> 63 }

// hash and hashWide multiply by odd numbers whose bits look like chance, as 2^64 divided by the golden ratio does.
func hash(value uint64, bits uint) uint64 { return value * 0x9e3779b97f4a7c15 >> (64 - bits) }

func hashWide(value, rest uint64) uint64 {
	return (value*0x9e3779b97f4a7c15 + rest*0xc2b2ae3d27d4eb4f) >> (64 - farBits)
}

// skip goes to a place, a match having been taken that ends there.
func (s *search) skip(to int) { s.know(max(s.to, to-near), to) }

// know notes the places from from to before to. The last sought-1 places of an extent are never noted, so
// that no match goes on from one extent into the next.
func (s *search) know(from, to int) {
	for at := from; at < min(to, s.here.to-sought+1); at++ {
		value, rest := s.wide(s.data[at:])
		if s.kind == kindPhoto {
			s.noteFew(at, value)
		} else {
			s.note(at, value, rest)
		}
	}
}

// offerShort offers a match of less than compared bytes to the steps from the place at on, in all its lengths.
func (s *search) offerShort(p proposal, at int, steps []step, t *table) {
	distance, room := s.source(at, int(p.back))
	if distance > window {
		return
	}
	length := min(int(p.same), room)
	// Most matches are short, and how short can not be guessed: all lengths are tried, those that are too long in vain.
	cost := steps[0].cost() + t.distance(distance)
	reached, prices := (*[compared]step)(steps), (*[compared]step)(t.prices[:])
	for n := sought; n < compared; n++ {
		reached[n] = min(reached[n], cost+prices[n]|step(less(length, n)))
	}
}

// offerLong does the same for a match of compared bytes or more, but in all lengths above least, and tells what was
// offered. The length is 0 where nothing was: what lies back is too far away, or it is no longer.
func (s *search) offerLong(back, at, least int, steps []step, t *table) (length, distance int) {
	distance, room := s.source(at, back)
	if distance > window {
		return 0, 0
	}
	length = equal(s.data[at-back:], s.data[at:], room)
	if length <= least {
		return 0, 0
	}
	offerAll(steps, t.prices[:], least, length, steps[0].cost()+t.distance(distance))
	return length, distance
}

// offerAll offers cost and the price of each length above least, up to length, to the steps so far on.
func offerAll(steps, prices []step, least, length int, cost step) {
	steps, prices = steps[least+1:length+1], prices[least+1:length+1]
	for i, price := range prices[:len(steps)] {
		steps[i] = min(steps[i], cost+price)
	}
}

// source is the distance in the band to what lies back before a place of data, and how much of it can be repeated.
func (s *search) source(at, back int) (distance, room int) {
	there := &s.here
	if at-back < s.here.from {
		there = s.extent(at - back)
	}
	return back + s.here.shift - there.shift, min(s.here.to-at, there.to-(at-back), longest)
}

// extent is the extent in which a place of data lies.
func (s *search) extent(at int) *place {
	i := s.of[at>>blockBits]
	for s.places[i].to <= at {
		i++
	}
	return &s.places[i]
}

// equal is how many of the first limit bytes of a and b are the same up to the first that differs. Both go on for
// parsePad bytes beyond the limit.
func equal(a, b []byte, limit int) int {
	for n := 0; n < limit; n += 8 {
		if differ := binary.LittleEndian.Uint64(a[n:]) ^ binary.LittleEndian.Uint64(b[n:]); differ != 0 {
			return min(limit, n+bits.TrailingZeros64(differ)/8)
		}
	}
	return limit
}
