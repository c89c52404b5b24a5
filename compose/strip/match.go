package strip

import (
	"encoding/binary"
	"math/bits"
)

// A match must neither write nor read bytes that other columns decide, or what it copies would change with them.
// Each part of a band is therefore parsed by itself: a match lies within one extent, and what it repeats
// lies within one extent of the same part, this one or an earlier one. Its distance counts all bytes between.

// parser turns the filtered bytes of a part into the cheapest tokens it can find under a table. Since the prices of
// all tokens are known beforehand, the best way through an extent is a shortest path, found in one pass: each
// place is reached by a literal, or by any length of a match that the search finds.
//
// The search looks at the last three places where the same four bytes began. Three bytes are hardly ever cheaper
// repeated than written, and would bring up nearer places that repeat less: files of photographs were up to one part in
// fifty larger. More places gain little for their time.
type parser struct {
	data   []byte                      // of all extents, and parsePad bytes of any value after them
	places []place                     // by extent
	of     []int32                     // by block of 1<<blockBits bytes of data: the extent of its first byte
	latest [1 << hashBits][tries]int32 // by hash: one more than the last places in data, 0 for none
	steps  []step                      // by place in the extent at hand
	tokens []token                     // of the extent at hand
}

// place is where an extent lies in data, and how much further on in the band.
type place struct{ from, to, shift int }

// step is the best way found to a place.
type step struct {
	saved uint32 // bits, against literals all the way
	token token  // the last one on the way; 0 for a literal
}

const (
	hashBits  = 15
	tries     = 3
	sought    = 4 // bytes that are compared before a match is looked at; none of them lies past the extent
	blockBits = 6
	parsePad  = 8 // equal compares eight bytes at once
	// long is the length from which a match is taken without looking for others inside it.
	long = 64
	// near is the longest distance that costs next to nothing (3.2.5), and holds one pixel.
	near = 4
)

// begin takes the filtered bytes of the extents of a part. They have room for parsePad bytes more, which may be
// read but decide nothing.
func (p *parser) begin(data []byte, extents []extent) {
	clear(p.latest[:])
	p.data, p.places = data[:len(data)+parsePad], p.places[:0]
	p.of = p.of[:0]
	at := 0
	for k, e := range extents {
		to := at + int(e.to-e.from)
		p.places = append(p.places, place{at, to, int(e.from) - at})
		for len(p.of)<<blockBits < to {
			p.of = append(p.of, int32(k))
		}
		at = to
	}
}

// parse is the tokens of extent k, until the next call. Extents are parsed from the first on, each once.
func (p *parser) parse(k int, t *table) []token {
	here := p.places[k]
	n := here.to - here.from
	if cap(p.steps) < n+1 {
		p.steps = make([]step, n+1)
		p.tokens = make([]token, n)
	}
	steps := p.steps[:n+1]
	clear(steps)
	before := 0 // length of the match found one place before
	for at := here.from; at < here.to; at++ {
		steps := steps[at-here.from:]
		if saved := steps[0].saved; saved > steps[1].saved {
			steps[1] = step{saved, 0}
		}
		if here.to-at < sought {
			continue
		}
		length, distance := p.search(at, &here, steps, t)
		if length < long {
			before = 0
			continue
		}
		// Where a long match has been found the next place is tried, too, in case a literal and a match that is
		// near are cheaper than one that is far. Then the search goes on at the match's end.
		if before < long && distance > near {
			before = length
			continue
		}
		before = 0
		end := at + length
		for x := max(at+1, end-near); x < min(end, here.to-sought+1); x++ {
			p.note(x)
		}
		at = end - 1
	}
	return p.trace(here.from, n)
}

// note makes the bytes at place at known to the search. It returns the latest places where they occurred before, each
// one more than the place, 0 for none.
func (p *parser) note(at int) [tries]int32 {
	value := binary.LittleEndian.Uint32(p.data[at:])
	latest := &p.latest[value*0x9e3779b1>>(32-hashBits)] // 2^32 divided by the golden ratio
	sources := *latest
	*latest = [tries]int32{int32(at) + 1, sources[0], sources[1]}
	return sources
}

// search offers the matches that it finds for place at of extent here to steps, which begin at this place. It
// returns the longest one.
func (p *parser) search(at int, here *place, steps []step, t *table) (length, distance int) {
	room := min(here.to-at, longest)
	value := binary.LittleEndian.Uint32(p.data[at:])
	length = shortest - 1
	for _, source := range p.note(at) {
		source := int(source) - 1
		if source < 0 {
			break
		}
		if binary.LittleEndian.Uint32(p.data[source:]) != value {
			continue
		}
		i := p.of[source>>blockBits]
		for p.places[i].to <= source {
			i++
		}
		there := &p.places[i]
		away := at + here.shift - (source + there.shift)
		if away > window {
			break
		}
		same := min(there.to-source, room)
		if same <= length {
			continue
		}
		if same = equal(p.data[source:], p.data[at:], same); same > length {
			p.relax(steps, at, length, same, away, t)
			length, distance = same, away
		}
	}
	return length, distance
}

// trace is the tokens of the best way to the end of the extent of n bytes that begins at from.
func (p *parser) trace(from, n int) []token {
	left := n
	for x := n; x > 0; {
		left--
		last := p.steps[x].token
		if last == 0 {
			x--
			last = token(p.data[from+x])
		} else {
			x -= last.length()
		}
		p.tokens[left] = last
	}
	return p.tokens[left:n]
}

// relax offers a match at place at to steps, those from there on, in all its lengths over shorter.
func (p *parser) relax(steps []step, at, shorter, length, distance int, t *table) {
	class, _, _ := distanceSymbol(distance)
	price := t.distances[class].count()
	literals := steps[0].saved
	for _, b := range p.data[at:][:shorter] {
		literals += t.literals[b].count()
	}
	data := p.data[at:][:length]
	for n := shorter; n < len(data); {
		literals += t.literals[data[n]].count()
		n++
		cost := price + t.lengths[n].count()
		if literals > cost && literals-cost > steps[n].saved {
			steps[n] = step{literals - cost, match(n, distance)}
		}
	}
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
