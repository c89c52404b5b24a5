package strip

import (
	"encoding/binary"
	"math/bits"
)

// A match must neither write nor read bytes that other columns decide, or what it copies would change with them.
// Each part of a band is therefore parsed by itself: a match lies within one extent, and what it repeats
// lies within one extent of the same part, this one or an earlier one. Its distance counts all bytes between.

// search finds matches. It looks at the last three places where the same four bytes began. Three bytes are
// hardly ever cheaper repeated than written, and would bring up nearer places that repeat less: files of photographs
// were up to one part in fifty larger. More places gain little for their time.
//
// A processor waits for memory twice at each place, for the list of the earlier ones and for their bytes, and guesses
// badly what it will find there. So this is done for many places at once without a decision, that all the
// waiting is done together; only then is each place decided on. It takes about half the time.
type search struct {
	data   []byte                // of all extents, and parsePad bytes of any value after them
	places []place               // by extent
	of     []int32               // by block of 1<<blockBits bytes of data: the extent of its first byte
	latest [1 << hashBits]uint64 // by hash: the low 16 bits of the last places in data, the last one lowest
	here   place                 // the extent at hand
	from   int                   // the places in found: from it to before to
	to     int
	found  [ahead]found
}

// place is where an extent lies in data, and how much further on in the band.
type place struct{ from, to, shift int }

// found is what may be repeated at one place. Of what lies further back than a match can reach, and of a source that
// crosses the end of its extent or stretches beyond that of the extent at hand, offer knows.
type found struct {
	back uint64 // by source, the latest lowest, 16 bits each: how far it lies before this place in data
	same uint32 // by source, 8 bits each: how many bytes are the same, at most 8
	any  uint32 // at least sought if one source has as many bytes the same
}

const (
	hashBits  = 15
	tries     = 3
	sought    = 4 // bytes that are hashed; none of them lies past the extent
	blockBits = 6
	parsePad  = 8 // bytes are compared eight at once
	ahead     = 64
)

func (s *search) begin(data []byte, extents []extent) {
	clear(s.latest[:])
	s.data, s.places = data[:len(data)+parsePad], s.places[:0]
	s.of = s.of[:0]
	at := 0
	for k, e := range extents {
		to := at + int(e.to-e.from)
		s.places = append(s.places, place{at, to, int(e.from) - at})
		for len(s.of)<<blockBits < to {
			s.of = append(s.of, int32(k))
		}
		at = to
	}
}

// enter makes k the extent at hand.
func (s *search) enter(k int) {
	s.here = s.places[k]
	s.from, s.to = s.here.from, s.here.from
}

// look is what may be repeated at a place. Places are looked at from the extent's first on.
func (s *search) look(at int) *found {
	if at >= s.to {
		s.gather(at)
	}
	return &s.found[at-s.from]
}

// gather fills found from a place on.
func (s *search) gather(from int) {
	s.from, s.to = from, min(from+ahead, s.here.to)
	clear(s.found[:])
	count := min(s.to, s.here.to-sought+1) - from
	if count <= 0 {
		return
	}
	found := s.found[:count]
	data := s.data[from:]
	for i := range found {
		found[i].back = s.note(from+i, binary.LittleEndian.Uint32(data[i:i+4]))
	}
	for i := range found {
		f, at := &found[i], from+i
		value := binary.LittleEndian.Uint64(data[i : i+8])
		back1 := uint16(at) - uint16(f.back)
		back2 := uint16(at) - uint16(f.back>>16)
		back3 := uint16(at) - uint16(f.back>>32)
		same1 := s.same(value, at-int(back1))
		same2 := s.same(value, at-int(back2))
		same3 := s.same(value, at-int(back3))
		f.back = uint64(back1) | uint64(back2)<<16 | uint64(back3)<<32
		f.same = same1 | same2<<8 | same3<<16
		f.any = same1 | same2 | same3
	}
}

// note makes the bytes at a place known, value being the first four. It returns the latest places where they occurred
// before. Those that were none, or lie 65536 or more before, look like some other place before this one, or like this one.
func (s *search) note(at int, value uint32) uint64 {
	latest := &s.latest[value*0x9e3779b1>>(32-hashBits)] // 2^32 divided by the golden ratio
	sources := *latest
	*latest = sources<<16 | uint64(uint16(at))
	return sources
}

// same is how many of the first eight bytes from a place on are those of value.
func (s *search) same(value uint64, at int) uint32 {
	return uint32(bits.TrailingZeros64(binary.LittleEndian.Uint64(s.data[at:])^value) / 8)
}

// skip goes to a place, a match having been taken that ends there.
func (s *search) skip(to int) {
	for at := max(s.to, to-near); at < min(to, s.here.to-sought+1); at++ {
		s.note(at, binary.LittleEndian.Uint32(s.data[at:]))
	}
}

// offer offers the matches found at a place to the steps from there on, in all their lengths. It returns the longest one;
// a length below sought means that there is none.
func (s *search) offer(f *found, at int, steps []step, t *table) (length, distance int) {
	length = sought - 1
	back := f.back
	for same := f.same; same != 0; same >>= 8 {
		n, away := int(same&0xff), int(back&0xffff)
		back >>= 16
		if n <= length && n < 8 {
			continue
		}
		if away == 0 || away > window {
			break
		}
		source := at - away
		room := min(s.here.to-at, longest)
		if source < s.here.from {
			there := s.extent(source)
			away += s.here.shift - there.shift
			if away > window {
				break
			}
			room = min(room, there.to-source)
		}
		if n < 8 {
			n = min(n, room)
		} else {
			n = equal(s.data[source:], s.data[at:], room)
		}
		if n <= length {
			continue
		}
		class, _, _ := distanceSymbol(away)
		cost := steps[0].cost() + step(t.distances[class].count())<<stepShift - step(away-1)
		prices := t.prices[length+1 : n+1]
		for i, reached := range steps[length+1 : n+1] {
			steps[length+1+i] = min(reached, cost+prices[i])
		}
		length, distance = n, away
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
