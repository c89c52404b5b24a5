package strip

// parser turns the filtered bytes of a part into the cheapest tokens it can find under a table. Since the prices of
// all tokens are known beforehand, the best way through an extent is a shortest path, found in one pass: each
// place is reached by a literal, by three bytes repeated from near, or by any length of the matches that the search finds. What is grey is parsed
// by pixels (greySearch).
type parser struct {
	search search
	grey   greySearch
	kind   kind
	stride int     // filtered bytes of a row of the picture
	long   int     // long or longSmooth
	steps  []step  // by place in the extent at hand, or pixel of a row, its end and some more
	tokens []token // of the extent at hand
}

// step is the cheapest way found to a place: its bits from stepShift on, and below them the last token on the way,
// without isMatch, or 0 for a literal, or a pixel of three; all bits of the token turned over. So the least of steps is the cheapest one, and of
// those that cost the same the one with the longest match: fewer tokens make a better table.
type step uint64

const (
	stepShift = lengthShift + 9
	unreached = step(1<<64 - 1)
)

func newStep(t token, bits uint32) step { return step(bits)<<stepShift | step(^t&(1<<stepShift-1)) }

// and is the step with a token of its own added.
func (s step) cost() step { return s >> stepShift << stepShift }

// token is the step without its cost.
func (s step) token() token { return ^token(s) & (1<<stepShift - 1) }

const (
	// long is the length from which a match is taken without looking for others inside it. At 64 files of photographs are a
	// hundredth smaller, and coding takes a twelfth longer. Of what is smooth it is longSmooth: soft
	// slopes of colour would be several parts larger, plain walls with a little noise a tenth.
	long       = 16
	longSmooth = 64
	// within is the length of a match inside which matches of less than compared bytes are no more looked for. To look for
	// them makes files some thousandths smaller, for a twentieth of the time.
	within = 20
	// near is the longest distance that costs next to nothing (3.2.5), and holds one pixel.
	near = 4
)

// begin takes the filtered bytes of the extents of a part, each after its lead. They have room for parsePad bytes more,
// which are cleared. In drawn parts the last place of soughtFar bytes is not looked at: to take what is longest leaves
// fewer tokens there that are alike.
func (p *parser) begin(data []byte, extents []extent, as kind) {
	p.kind, p.long = as, long
	if as == kindSmooth || as == kindDrawn || as == kindSlope {
		p.long = longSmooth
	}
	if as == kindGrey {
		p.grey.begin(len(data))
	}
	p.search.begin(data, extents, as)
}

// learn makes extent k known, so that others may repeat it, without parsing it.
func (p *parser) learn(k int) {
	here := p.search.places[k]
	p.search.here = here
	if p.kind == kindGrey {
		p.parseGrey(here.to, nil)
		return
	}
	p.search.know(here.from, here.to)
}

// parse is the tokens of extent k, until the next call. Extents are parsed or learned from the first on, each once.
func (p *parser) parse(k int, t *table) []token {
	data, here := p.search.data, p.search.places[k]
	p.search.here = here
	if p.kind == kindGrey {
		return p.parseGrey(here.start, t)
	}
	p.search.know(here.from, here.start)
	n := here.to - here.start
	steps := p.clearSteps(n)
	literal := step(0)       // the way to the place at hand whose last token is a literal
	length, distance := 0, 0 // of the longest match known that goes on at the place at hand
	last := uint16(0)        // far (search) of the place before
	for from := here.start; from < here.to; {
		count := p.search.gather(from)
		steps, data := steps[from-here.start:], data[from:]
		i := 0
		for i < count {
			best := min(steps[i], literal)
			steps[i] = best
			literal = best.cost() + t.singles[data[i]]
			steps[i+3] = min(steps[i+3], best.cost()+t.triples[p.search.triples[i]])

			next, far, found, before := p.search.near[i], p.search.far[i], sought-1, length
			length = 0
			if last != 0 && (far == last || next.same >= compared && next.back == last) {
				length = max(0, before-1) // what goes on has been offered, in all its lengths
			}
			if next.same < compared {
				if next.same >= sought && before <= within {
					p.search.offerShort(next, from+i, steps[i:], t)
				}
			} else if next.back != last {
				n, d := p.search.offerLong(int(next.back), from+i, found, steps[i:], t)
				if found = max(found, n); n > length {
					length, distance = n, d
				}
			}
			if far != 0 && far != next.back && far != last {
				if n, d := p.search.offerLong(int(far), from+i, found, steps[i:], t); n > length {
					length, distance = n, d
				}
			}
			last = far
			if length == longest {
				last = 0
			}
			// Where a long match has been found the next place is tried, too, in case a literal and a match that is
			// near are cheaper than one that is far. Then the search goes on at the match's end.
			if length < p.long || before < p.long && distance > near {
				i++
				continue
			}
			i += length
			length, last = 0, 0
			literal = unreached
			p.search.skip(from + i)
		}
		from += i
	}
	steps[n] = min(steps[n], literal)
	return p.trace(data[here.start:here.to])
}

// clearSteps is the steps to n places, their start and some more, none of which has been reached.
func (p *parser) clearSteps(n int) []step {
	if cap(p.steps) < n+compared {
		p.steps = make([]step, n+compared)
		p.tokens = make([]token, n)
	}
	p.steps = p.steps[:n+compared]
	for i := range p.steps {
		p.steps[i] = unreached
	}
	return p.steps
}

// trace is the tokens of the best way to the end of data, the bytes of the extent at hand.
func (p *parser) trace(data []byte) []token {
	left := len(data)
	for x := len(data); x > 0; {
		left--
		last := p.steps[x].token()
		if last == 0 {
			x--
			last = token(data[x])
		} else {
			x -= last.length()
			last |= isMatch
		}
		p.tokens[left] = last
	}
	return p.tokens[left:len(data)]
}
