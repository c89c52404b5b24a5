package strip

import (
	"encoding/binary"
	"math/bits"
)

// A match must neither write nor read bytes that other columns decide, or what it copies would change with them.
// Each part of a band is therefore parsed by itself: a match lies within one extent, and what it repeats
// lies within one extent of the same part, this one or an earlier one, and its lead. Its distance counts all bytes between.

// search finds matches. At each place it looks at two earlier ones: the last at which the same four bytes began, which is
// near, but repeats little more, and the last at which the same twelve began. In a sky, where four bytes are the same
// almost everywhere, only the second finds what is long. Four bytes alone are not repeated: that would make files a few
// thousandths smaller, for a twelfth of the time. Beside these it proposes to repeat three bytes, but only from the last
// place where they began, and only from near: that makes files of photographs one to three parts in a hundred smaller, and
// the first frame takes a twentieth longer.
//
// A processor waits for memory twice at each place, for the earlier ones and for their bytes, and guesses
// badly what it will find there. So this is done for many places at once without a decision, that all the
// waiting is done together; only then is each place decided on.
type search struct {
	data   []byte  // of all extents, each after its lead, and parsePad bytes after them
	places []place // by extent
	of     []int32 // by block of 1<<blockBits bytes of data: the extent of its first byte
	here   place   // the extent at hand
	to     int     // the places before it are known
	drawn  bool    // the last place of soughtFar bytes is not looked at

	// By hash of four, twelve and three bytes: the low 16 bits of the last place in data.
	latest       [1 << hashBits]uint16
	latestFar    [1 << farBits]uint16
	latestTriple [1 << tripleBits]uint16

	// By place from which was gathered:
	before, beforeFar [ahead]uint16
	near              [ahead]proposal
	far               [ahead]uint16 // how far back the same soughtFar bytes began; 0 if they did not
	triples           [ahead]uint16 // how far back the same three bytes began; 0 if not in the extent and near
}

// place is where an extent lies in data: its lead from from on, itself from start to before to; and how much further on
// in the band it lies.
type place struct{ from, start, to, shift int }

// proposal is what may be repeated at one place: how many bytes are the same, at most compared of them, and how far
// back in data their source lies, 1 to window.
type proposal struct{ same, back uint16 }

const (
	hashBits  = 15 // at 13 noisy photographs of 24 megapixels are a hundredth larger
	farBits   = 13
	sought    = 5 // the fewest bytes repeated, but for three from near; the hash is of the first four
	soughtFar = 12
	compared  = 8
	parsePad  = 2 * compared
	blockBits = 6
	ahead     = 64

	tripleBits = 12
	nearTriple = 2048 // the longest distance of a match of three bytes: at 512 files of 4K are some thousandths larger
)

func (s *search) begin(data []byte, extents []extent, drawn bool) {
	s.drawn = drawn
	clear(s.latest[:])
	clear(s.latestFar[:])
	clear(s.latestTriple[:])
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

// enter makes k the extent at hand.
func (s *search) enter(k int) {
	s.here = s.places[k]
	s.to = s.here.from
	s.skip(s.here.start)
	s.to = s.here.start
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
	data := s.data[from:]
	before, beforeFar, near, far := s.before[:count], s.beforeFar[:count], s.near[:count], s.far[:count]
	for i := range before {
		value, rest := wide(data[i:])
		before[i], beforeFar[i], s.triples[i] = s.note(from+i, value, rest)
	}
	first := 0
	if from == 0 {
		first = 1 // there is nothing before
	}
	for i := first; i < count; i++ {
		at := from + i
		value, rest := wide(data[i:])
		back := lookBack(at, before[i])
		differ := binary.LittleEndian.Uint64(s.data[at-back:]) ^ value
		near[i] = proposal{uint16(bits.TrailingZeros64(differ) / 8), uint16(back)}
		back = lookBack(at, beforeFar[i])
		if there, more := wide(s.data[at-back:]); (there^value)|(more^rest) != 0 {
			back = 0
		}
		far[i] = uint16(back)
		s.triples[i] = s.triple(uint32(value), at, s.triples[i])
	}
	if s.drawn {
		clear(far)
	}
	return s.to - from
}

// wide is the first compared bytes of data, and as many of which the last is the last of soughtFar.
func wide(data []byte) (value, rest uint64) {
	return binary.LittleEndian.Uint64(data), binary.LittleEndian.Uint64(data[soughtFar-compared:])
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
// of them occurred before, and how far back the last place is where three did.
func (s *search) note(at int, value, rest uint64) (before, beforeFar, triple uint16) {
	latest := &s.latest[hash(uint32(value), hashBits)]
	latestFar := &s.latestFar[hashWide(value, rest)]
	latestTriple := &s.latestTriple[hash(uint32(value)<<8, tripleBits)]
	before, beforeFar, triple = *latest, *latestFar, uint16(at)-*latestTriple
	*latest, *latestFar, *latestTriple = uint16(at), uint16(at), uint16(at)
	return before, beforeFar, triple
}

// hash and hashWide multiply by odd numbers whose bits look like chance, as 2^32 and 2^64 divided by the golden ratio do.
func hash(value uint32, bits uint) uint32 { return value * 0x9e3779b1 >> (32 - bits) }

func hashWide(value, rest uint64) uint64 {
	return (value*0x9e3779b97f4a7c15 + rest*0xc2b2ae3d27d4eb4f) >> (64 - farBits)
}

// skip goes to a place, a match having been taken that ends there. The last sought-1 places of an extent are never noted, so
// that no match goes on from one extent into the next.
func (s *search) skip(to int) {
	for at := max(s.to, to-near); at < min(to, s.here.to-sought+1); at++ {
		value, rest := wide(s.data[at:])
		s.note(at, value, rest)
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
		reached[n] = min(reached[n], cost+prices[n]|step((length-n)>>63))
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
	cost := steps[0].cost() + t.distance(distance)
	reached, prices := steps[least+1:length+1], t.prices[least+1:length+1]
	for i, price := range prices[:len(reached)] {
		reached[i] = min(reached[i], cost+price)
	}
	return length, distance
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
