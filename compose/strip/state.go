package strip

import (
	"container/list"

	"colonnade/analyze/levels"
)

// state is one set of columns, each at a level, coded: all that it decides of a frame.
type state struct {
	set     int32
	levels  []levels.Level // of the set's columns
	strings [][]byte       // by band in which the set has a part: its strings, with stringPad bytes after them
	bits    int64          // length of all strings
	share   share
	size    int64 // bytes of memory

	// Of the memo:
	frames int           // that are being made from it
	place  *list.Element // among the states used last
}

// piece of a state: what one band adds to it.
type piece struct {
	strings []byte
	bits    int64
	share   share
}

// code codes one part of band b. The worker's pixels are set to the state's columns.
func (w *worker) code(c *Coder, b, index int) piece {
	l, t := c.layout, c.blocks[b].table
	band := &l.bands[b]
	part := &band.parts[index]
	w.render(l, band, c.blocks[b].filter, part.extents)
	var out piece
	w.writer = bitWriter{out: w.writer.out[:0]}
	end := l.stride * (l.height - band.top)
	rest := w.filtered
	for i, e := range part.extents {
		data := rest[:e.to-e.from]
		rest = rest[len(data):]
		out.share.add(data, end-int(e.to))
		start := w.writer.begin()
		if part.set == static && i == 0 {
			t.header(&w.writer, b == len(l.bands)-1)
		}
		w.tokens = literals(w.tokens[:0], data)
		t.encode(&w.writer, w.tokens)
		if part.set == static && i == len(part.extents)-1 {
			c := t.symbols[endOfBlock]
			w.writer.write(uint64(c.bits), uint(c.length))
		}
		out.bits += int64(w.writer.end(start))
	}
	out.strings = make([]byte, len(w.writer.out)+stringPad)
	copy(out.strings, w.writer.out)
	return out
}

func literals(tokens []token, data []byte) []token {
	for _, b := range data {
		tokens = append(tokens, token(b))
	}
	return tokens
}
