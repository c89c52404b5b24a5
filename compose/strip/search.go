package strip

import (
	"encoding/binary"
	"math/bits"
)

// A match must neither write nor read bytes that other columns decide, or what it copies would change with them.
// Each part of a band is therefore parsed by itself: a match lies within one extent, and what it repeats
// lies within one extent of the same part, this one or an earlier one, and its lead. Its distance counts all bytes between.

// search finds matches. It looks at the last two places where the same four bytes began, and proposes the one where
// most of the bytes that follow are the same, too. Beside these it proposes to repeat three bytes, but only from the last
// place where they began, and only from near: that makes files of photographs one to three parts in a hundred smaller, and
// the first frame takes a twentieth longer. The last four places instead of two would make them one to four thousandths
// smaller, for as much.
//
// A processor waits for memory twice at each place, for the list of the earlier ones and for their bytes, and guesses
// badly what it will find there. So this is done for many places at once without a decision, that all the
// waiting is done together; only then is each place decided on.
type search struct {
	data    []byte                // of all extents, each after its lead, and parsePad bytes after them
	places  []place               // by extent
	of      []int32               // by block of 1<<blockBits bytes of data: the extent of its first byte
	latest  [1 << hashBits]uint32 // by hash: the low 16 bits of the last two places in data, the last one lowest
	here    place                 // the extent at hand
	to      int                   // the places before it are known
	lists   [ahead]uint32         // of latest, by place
	found   [ahead]proposal
	triples [1 << tripleBits]uint16 // by hash of three bytes: the low 16 bits of the last place in data
	backs   [ahead]uint16           // by place: how far back the same three bytes began; 0 if not in the extent and near
}

// place is where an extent lies in data: its lead from from on, itself from start to before to; and how much further on
// in the band it lies.
type place struct{ from, start, to, shift int }

// proposal is what may be repeated at one place: how many bytes are the same, at most compared of them, in 65536ths,
// less how far back in data their source lies, 1 to window. So the greatest is the one with the most bytes, and of
// those with as many the latest.
type proposal int32

func newProposal(same, back int) proposal { return proposal(same<<16 - back) }

// parts is the reverse of newProposal.
func (p proposal) parts() (same, back int) {
	same = int(p+window) >> 16
	return same, same<<16 - int(p)
}

const (
	hashBits  = 15
	sought    = 4 // bytes that are hashed; none of them lies past the extent
	compared  = 8
	parsePad  = compared
	blockBits = 6
	ahead     = 64

	tripleBits = 12
	nearTriple = 512 // the longest distance of a match of three bytes; longer ones gain a thousandth
)

// leastProposal is one of sought bytes from as far back as can be.
const leastProposal = proposal(sought<<16 - window)

func (s *search) begin(data []byte, extents []extent) {
	clear(s.latest[:])
	clear(s.triples[:])
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

// gather is what may be repeated at the next places, the first of them being from; less than leastProposal where
// there is nothing. For three bytes s.backs tells.
func (s *search) gather(from int) []proposal {
	s.to = min(from+ahead, s.here.to)
	found := s.found[:s.to-from]
	clear(found)
	clear(s.backs[:])
	count := min(s.to, s.here.to-sought+1) - from
	if count <= 0 {
		return found
	}
	data := s.data[from:]
	lists := s.lists[:count]
	for i := range lists {
		value := binary.LittleEndian.Uint32(data[i : i+4])
		lists[i] = s.note(from+i, value)
		s.backs[i] = s.noteTriple(from+i, value)
	}
	first := 0
	if from == 0 {
		first = 1 // there is nothing before
	}
	for i := first; i < count; i++ {
		at, list := from+i, lists[i]
		value := binary.LittleEndian.Uint64(data[i : i+compared])
		found[i] = max(propose(s.data, value, at, uint16(list)), propose(s.data, value, at, uint16(list>>16)))
		s.backs[i] = s.triple(uint32(value), at, s.backs[i])
	}
	return found
}

// propose proposes an earlier place for at, value being the bytes there. It is known by its low bits alone, and
// taken to lie within the window. Where it does not, or is none, some other place stands for it.
func propose(data []byte, value uint64, at int, earlier uint16) proposal {
	back := int((uint16(at-1)-earlier)%window) + 1
	source := at - back
	differ := binary.LittleEndian.Uint64(data[source:source+compared]) ^ value
	return newProposal(bits.TrailingZeros64(differ)/8, back)
}

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

// note makes the bytes at a place known, value being the first four. It returns the list of the latest places where they
// occurred before.
func (s *search) note(at int, value uint32) uint32 {
	latest := &s.latest[value*0x9e3779b1>>(32-hashBits)] // 2^32 divided by the golden ratio
	sources := *latest
	*latest = sources<<16 | uint32(uint16(at))
	return sources
}

// noteTriple does the same for the first three of them. It returns how far back the last place with the same hash is.
func (s *search) noteTriple(at int, value uint32) uint16 {
	latest := &s.triples[value<<8*0x9e3779b1>>(32-tripleBits)]
	back := uint16(at) - *latest
	*latest = uint16(at)
	return back
}

// skip goes to a place, a match having been taken that ends there.
func (s *search) skip(to int) {
	for at := max(s.to, to-near); at < min(to, s.here.to-sought+1); at++ {
		value := binary.LittleEndian.Uint32(s.data[at:])
		s.note(at, value)
		s.noteTriple(at, value)
	}
}

// offer offers a match to the steps from the place at on, in all its lengths. It returns the longest one; a length
// below sought means that what was proposed lies too far back, or crosses the end of an extent.
func (s *search) offer(p proposal, at int, steps []step, t *table) (length, distance int) {
	length, distance = p.parts()
	source := at - distance
	there := &s.here
	if source < s.here.from {
		there = s.extent(source)
	}
	distance += s.here.shift - there.shift
	if distance > window {
		return 0, 0
	}
	room := min(s.here.to-at, there.to-source, longest)
	if length < compared {
		length = min(length, room)
	} else {
		length = equal(s.data[source:], s.data[at:], room)
	}
	class, _, _ := distanceSymbol(distance)
	cost := steps[0].cost() + step(t.distances[class].count())<<stepShift - step(distance-1)
	if length >= compared {
		prices := t.prices[sought : length+1]
		for i, reached := range steps[sought : length+1] {
			steps[sought+i] = min(reached, cost+prices[i])
		}
		return length, distance
	}
	// Most matches are short, and how short can not be guessed: all lengths are tried, those that are too long in vain.
	reached, prices := (*[compared]step)(steps), (*[compared]step)(t.prices[:])
	for n := sought; n < compared; n++ {
		reached[n] = min(reached[n], cost+prices[n]|step((length-n)>>63))
	}
	return length, distance
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
