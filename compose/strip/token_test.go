package strip

import (
	"bytes"
	"compress/flate"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// Bases and extra bits of the two tables of RFC 1951, section 3.2.5 (from memory; compress/flate reads them alike in
// TestTokensReadBack).
func TestSymbolsOfLengthsAndDistancesAreTheStandards(t *testing.T) {
	lengthBases := []int{3, 4, 5, 6, 7, 8, 9, 10, 11, 13, 15, 17, 19, 23, 27, 31, 35, 43, 51, 59, 67, 83, 99, 115, 131, 163, 195, 227, 258}
	for length := shortest; length <= longest; length++ {
		i := len(lengthBases) - 1
		for lengthBases[i] > length {
			i--
		}
		symbol, extra, extraBits := lengthSymbol(length)
		wantBits := uint(0)
		if i >= 8 && i < 28 {
			wantBits = uint(i)/4 - 1
		}
		if symbol != firstLength+i || int(extra) != length-lengthBases[i] || extraBits != wantBits {
			t.Errorf("length %d: symbol %d, extra %d of %d bits; want %d, %d of %d", length, symbol, extra, extraBits,
				firstLength+i, length-lengthBases[i], wantBits)
		}
	}
	distanceBases := []int{1, 2, 3, 4, 5, 7, 9, 13, 17, 25, 33, 49, 65, 97, 129, 193, 257, 385, 513, 769, 1025, 1537,
		2049, 3073, 4097, 6145, 8193, 12289, 16385, 24577}
	for distance := 1; distance <= window; distance++ {
		i := len(distanceBases) - 1
		for distanceBases[i] > distance {
			i--
		}
		symbol, extra, extraBits := distanceSymbol(distance)
		if symbol != i || int(extra) != distance-distanceBases[i] || extraBits != uint(max(0, i/2-1)) {
			t.Fatalf("distance %d: symbol %d, extra %d of %d bits; want %d, %d of %d", distance, symbol, extra, extraBits,
				i, distance-distanceBases[i], max(0, i/2-1))
		}
	}
}

// randomTokens is tokens of any kind with the bytes that they stand for.
func randomTokens(random *rand.Rand, n int) (tokens []token, data []byte) {
	for range n {
		if len(data) == 0 || random.IntN(3) == 0 {
			data = append(data, uint8(random.Uint32()))
			tokens = append(tokens, token(data[len(data)-1]))
			continue
		}
		length := shortest + random.IntN(longest-shortest+1)
		if random.IntN(4) == 0 {
			length = longest
		}
		distance := 1 + random.IntN(min(len(data), window))
		tokens = append(tokens, match(length, distance))
		for range length {
			data = append(data, data[len(data)-distance])
		}
	}
	return tokens, data
}

func TestTokensReadBack(t *testing.T) {
	random := rand.New(rand.NewPCG(31, 32))
	for range 30 {
		tokens, data := randomTokens(random, random.IntN(2000))
		var c counts
		if random.IntN(2) == 0 { // else a table that fits nothing
			c.count(tokens, 1+random.Uint32N(3))
		}
		table := newTable(&c)
		w := bitWriter{}
		table.header(&w, true)
		table.encode(&w, tokens)
		w.write(table.end.bits(), uint(table.end.count()))
		w.write(0, 7) // the last bits fill a byte
		read, err := io.ReadAll(flate.NewReader(bytes.NewReader(w.out)))
		if err != nil || !bytes.Equal(read, data) {
			t.Fatalf("%d tokens read back as %d bytes, they stand for %d (error: %v)", len(tokens), len(read), len(data), err)
		}
	}
}

func TestPricesAreWhatTokensTake(t *testing.T) {
	random := rand.New(rand.NewPCG(33, 34))
	tokens, _ := randomTokens(random, 500)
	var c counts
	c.count(tokens, 1)
	table := newTable(&c)
	for _, k := range tokens {
		price := table.price([]token{k})
		w := bitWriter{}
		table.encode(&w, []token{k})
		if n := 8*len(w.out) + int(w.n); n != int(price) {
			t.Fatalf("token %x takes %d bits, its price is %d", k, n, price)
		}
	}
}

// What a parser is for: tokens that stand for the bytes, matches inside extents alone, and as few bits as can be found.
func TestParsedExtentsStandForTheirBytesAndKeepToThePart(t *testing.T) {
	random := rand.New(rand.NewPCG(35, 36))
	for round := range 64 {
		longest := 700
		if round%16 == 0 {
			longest = 20_000 // a part in which places need more than 16 bits
		}
		// Extents of the part, with bytes of others between, the last of which may be a lead.
		var extents []extent
		band := make([]byte, 0, 100_000)
		own := make([]bool, 0, 100_000)
		var data []byte
		alphabet := 1 + random.IntN(5)
		for range 1 + random.IntN(30) {
			for range random.IntN(3000) {
				band, own = append(band, 0xee), append(own, false)
			}
			lead := random.IntN([]int{near, leads}[round%2] + 1)
			for range lead {
				band, own = append(band, uint8(random.IntN(alphabet))), append(own, true)
			}
			from := len(band)
			for range random.IntN(longest) {
				band, own = append(band, uint8(random.IntN(alphabet)*random.IntN(alphabet))), append(own, true)
			}
			extents = append(extents, extent{int32(from), int32(len(band)), int32(lead)})
			data = append(data, band[from-lead:]...)
		}
		p := parser{stride: 1 + random.IntN(500)}
		p.begin(append(make([]byte, 0, len(data)+parsePad), data...), extents, kind(round%kinds))
		table := newTable(&counts{})
		matches := 0
		for k, e := range extents {
			if random.IntN(4) == 0 {
				p.learn(k)
				continue
			}
			matches += standFor(t, p.parse(k, table), band, own, int(e.from), int(e.to))
		}
		if alphabet < 3 && len(data) > 2000 && matches == 0 {
			t.Error("no match was found where all is alike")
		}
	}
}

// standFor checks that tokens stand for the bytes of a band from at to before to, and repeat what is the part's own alone. It tells how
// many of them are matches.
func standFor(t *testing.T, tokens []token, band []byte, own []bool, at, to int) (matches int) {
	t.Helper()
	from := at
	for _, k := range tokens {
		if k&isMatch == 0 {
			if band[at] != byte(k) {
				t.Fatalf("literal %d at %d, the byte is %d", k, at, band[at])
			}
			at++
			continue
		}
		matches++
		for range k.length() {
			source := at - k.distance()
			if source < 0 || !own[source] || band[source] != band[at] || at >= to {
				t.Fatalf("a match at %d of bytes %d to %d repeats %d, which it must not", at, from, to, source)
			}
			at++
		}
	}
	if at != to {
		t.Fatalf("tokens of bytes %d to %d end at %d", from, to, at)
	}
	return matches
}

// price is how many bits tokens take.
func (t *table) price(tokens []token) (bits uint32) {
	for _, k := range tokens {
		if k&isMatch == 0 {
			bits += t.literals[k].count()
			continue
		}
		class, _, _ := distanceSymbol(k.distance())
		bits += t.lengths[k.length()].count() + t.distances[class].count()
	}
	return bits
}

// The slow twin of a parse: at each place all lengths of what the last place with the same hash of four bytes begins, and all
// longer ones of the last place with the same twelve, looked at byte by byte; and three bytes of the last place with the same
// hash of three. In photographs it is three bytes in the place of four; in dense ones five, and eight in that of twelve; in slopes the
// first eight and the last eight of 24 in that of twelve. Left out is what goes on from the place before, and what is short inside a
// match. In the table a longer distance is never cheaper, and no match is long enough to be taken at once.
func TestParsesAreTheCheapestOnes(t *testing.T) {
	t.Run("photograph", func(t *testing.T) { testCheapest(t, kindPhoto, 3, compared, long) })
	t.Run("dense", func(t *testing.T) { testCheapest(t, kindDense, sought, compared, long) })
	t.Run("slope", func(t *testing.T) { testCheapest(t, kindSlope, 4, soughtSlope, longSmooth) })
	t.Run("smooth", func(t *testing.T) { testCheapest(t, kindSmooth, 4, soughtFar, longSmooth) })
}

func testCheapest(t *testing.T, as kind, nearBytes, farBytes, taken int) {
	random := rand.New(rand.NewPCG(39, 40))
	table := newTable(&counts{})
	repeated, triples, far, onward, inside := 0, 0, 0, 0, 0
	threeBits := uint(tripleBits)
	if nearBytes == 3 {
		threeBits = hashBits
	}
	for range 600 {
		data := make([]byte, random.IntN(200), 200+parsePad)
		for i := range data {
			data[i] = uint8(random.IntN(3) * random.IntN(3))
		}
		for range random.IntN(4) { // longer repetitions than chance makes
			if n := min(len(data), farBytes+random.IntN(30)); n > farBytes {
				from, to := random.IntN(len(data)-n+1), random.IntN(len(data)-n+1)
				copy(data[to:to+n], data[from:])
			}
		}
		var p parser
		p.begin(data, []extent{{to: int32(len(data))}}, as)
		padded := append(slices.Clone(data), make([]byte, parsePad)...)
		same := func(a, b, most int) (n int) {
			for n < most && max(a, b)+n < len(padded) && padded[a+n] == padded[b+n] {
				n++
			}
			return n
		}
		least := make([]uint32, len(data)+1)
		for i := range data {
			least[i+1] = math.MaxUint32
		}
		lastNear, lastFar, lastThree := map[uint64]int{}, map[uint64]int{}, map[uint64]int{}
		known, before, last := 0, 0, 0
		tooLong := false
		for at := range data {
			offer := func(n int, bits uint32) { least[at+n] = min(least[at+n], least[at]+bits) }
			offerAll := func(back, from, to int) {
				for n := from; n <= to; n++ {
					offer(n, table.price([]token{match(n, back)}))
				}
			}
			offer(1, table.literals[data[at]].count())
			if at+sought > len(data) {
				continue
			}
			back, begins := 0, 0
			value, rest := p.search.wide(padded[at:])
			nearHash := hash(value<<(64-8*nearBytes), hashBits)
			if source, ok := lastNear[nearHash]; ok {
				back, begins = at-source, same(source, at, compared)
			}
			lastNear[nearHash] = at
			if farBytes == compared {
				rest = 0
			}
			farBack, farHash := 0, hashWide(value, rest)
			last8 := farBytes - compared
			if source, ok := lastFar[farHash]; ok && same(source, at, compared) == compared && same(source+last8, at+last8, compared) == compared {
				farBack = at - source
			}
			lastFar[farHash] = at

			before, known = known, 0
			if last != 0 && (begins == compared && back == last || farBack == last) {
				known = before - 1
				onward++
			}
			found := sought - 1
			if begins == compared && back != last {
				found = same(at-back, at, len(data)-at)
				offerAll(back, sought, found)
				found = max(found, sought-1)
				known = max(known, found)
			} else if begins < compared && before <= within {
				offerAll(back, sought, min(begins, len(data)-at))
			} else if begins >= sought && begins < compared {
				inside++
			}
			if farBack != 0 && farBack != back && farBack != last {
				n := same(at-farBack, at, len(data)-at)
				offerAll(farBack, found+1, n)
				known = max(known, n)
				far++
			}
			last = farBack
			tooLong = tooLong || known >= taken

			three := hash(value<<40, threeBits)
			if source, ok := lastThree[three]; ok && bytes.Equal(data[source:source+3], data[at:at+3]) {
				offer(3, table.price([]token{match(3, at-source)}))
				triples++
			}
			lastThree[three] = at
		}
		if tooLong {
			continue
		}
		tokens := p.parse(0, table)
		if bits := table.price(tokens); bits != least[len(data)] {
			t.Fatalf("%v takes %d bits as %x; the cheapest way takes %d", data, bits, tokens, least[len(data)])
		}
		repeated += len(data) - len(tokens)
	}
	if taken <= within {
		inside = 100 // what is as long is taken at once
	}
	for _, n := range []int{repeated, triples, far, onward, inside} {
		if n < 100 {
			t.Errorf("tried too seldom: %d bytes repeated, %d times three, %d from far, %d going on, %d left out inside",
				repeated, triples, far, onward, inside)
			break
		}
	}
}

// A part is coded in a buffer that held others before: what is left of them after it must not change a token, or a
// state that is coded again would differ.
func TestWhatLiesAfterAPartDecidesNothing(t *testing.T) {
	random := rand.New(rand.NewPCG(37, 38))
	table := newTable(&counts{})
	for round := range 300 {
		data := make([]byte, random.IntN(40))
		for i := range data {
			data[i] = uint8(random.IntN(2))
		}
		extents := []extent{{to: int32(len(data))}}
		var first []token
		for rest := range uint8(4) {
			buffer := append(make([]byte, 0, len(data)+parsePad), data...)
			for i := range buffer[len(data):cap(buffer)] {
				buffer[:cap(buffer)][len(data)+i] = rest % 2 << (rest / 2 * uint8(i%2))
			}
			p := parser{stride: 16}
			p.begin(buffer, extents, kind(round%kinds))
			tokens := slices.Clone(p.parse(0, table))
			if rest == 0 {
				first = tokens
			} else if !slices.Equal(tokens, first) {
				t.Fatalf("%v gives %x, or %x by what follows it", data, first, tokens)
			}
		}
	}
}

func TestDistancesCostWhatTheirClassesDo(t *testing.T) {
	for seed := range uint32(20) {
		var seen counts
		for i := range seen.distances {
			seen.distances[i] = 1 + (uint32(i)*2654435761+seed*40503)>>(8+seed)
		}
		table := newTable(&seen)
		for distance := 1; distance <= window; distance++ {
			class, _, _ := distanceSymbol(distance)
			if got, want := table.distance(distance), step(table.distances[class].count())<<stepShift-step(distance-1); got != want {
				t.Fatalf("distance %d costs %x, its class %x", distance, got, want)
			}
		}
	}
}

// A worker parses one part after another: what it held of those before must not change a token either.
func TestWhatWasParsedBeforeDecidesNothing(t *testing.T) {
	random := rand.New(rand.NewPCG(45, 46))
	table := newTable(&counts{})
	part := func(stride int) (data []byte, extents []extent) {
		from := random.IntN(stride)
		for range 1 + random.IntN(4) {
			size := random.IntN(3 * stride)
			lead := random.IntN(min(from, size) + 1)
			extents = append(extents, extent{int32(from), int32(from + size), int32(lead)})
			for range lead + size {
				data = append(data, uint8(random.IntN(2)*random.IntN(2)))
			}
			from += size + random.IntN(stride)
		}
		return data, extents
	}
	for round := range 2000 {
		stride, as := 1+3*(1+random.IntN(20)), kind(round%kinds)
		parse := func(p *parser, data []byte, extents []extent) (tokens []token) {
			p.begin(append(make([]byte, 0, len(data)+parsePad), data...), extents, as)
			for k := range extents {
				tokens = append(tokens, p.parse(k, table)...)
			}
			return tokens
		}
		used := &parser{stride: stride}
		parse(used, slices.Repeat([]byte{0}, 9*stride), []extent{{from: 1, to: int32(1 + 9*stride)}})
		for range 3 {
			data, extents := part(stride)
			if got, want := parse(used, data, extents), parse(&parser{stride: stride}, data, extents); !slices.Equal(got, want) {
				t.Fatalf("%v of %v in rows of %d gives %x after others, and %x by itself", extents, data, stride, got, want)
			}
		}
	}
}
