package strip

import (
	"container/list"
	"context"
	"crypto/sha256"
	"encoding/binary"

	"colonnade/analyze/levels"
)

// state is one set of columns, each at a level, coded: all that it decides of a frame.
type state struct {
	set    int32
	levels []levels.Level // of the set's columns
	pieces []piece        // by band in which the set has a part
	bits   int64          // length of all strings
	share  share
	size   int64 // bytes of memory, those shared with other states included

	// Of the memo:
	frames int           // that hold it
	place  *list.Element // among the states used last
	among  states        // of its set
}

// piece is what a state decides of one band.
type piece struct {
	strings []byte // one for each extent, and stringPad bytes after them
	bits    int64
	share   share
	of      [sha256.Size]byte // SHA-256 of the filtered bytes
}

// pieceSize is about what a piece takes beside its strings.
const pieceSize = 96

func (s *state) key() string {
	var key []byte
	for _, level := range s.levels {
		key = binary.LittleEndian.AppendUint32(key, uint32(level))
	}
	return string(key)
}

// acquire finds the states of the frame's tuple, codes those that are missing, and holds them all.
func (c *coding) acquire(ctx context.Context, f *frame) error {
	m := c.memo
	if m.hold(c, f) {
		return nil
	}
	m.turn.Lock()
	defer m.turn.Unlock()

	m.mutex.Lock()
	c.find(f)
	var missing []*state
	known := make(map[*state][]*state)
	need := int64(0)
	for _, set := range c.layout.used {
		if s := f.states[set]; s != nil {
			m.pin(s)
			continue
		}
		s := &state{set: set, pieces: make([]piece, c.layout.parts[set]), among: c.states[set]}
		for _, column := range c.layout.sets.members[set] {
			s.levels = append(s.levels, f.tuple[column])
		}
		missing = append(missing, s)
		need += c.layout.bytes[set] // coded they are seldom longer
	}
	m.reserve(need)
	for _, s := range missing {
		known[s] = s.among.some()
	}
	m.mutex.Unlock()

	err := c.code(ctx, missing, known)

	m.mutex.Lock()
	defer m.mutex.Unlock()
	if err != nil {
		for _, set := range c.layout.used {
			if s := f.states[set]; s != nil {
				s.frames--
			}
		}
		return err
	}
	for _, s := range missing {
		f.states[s.set] = s
		m.insert(s)
	}
	m.frames++
	m.shrink(0)
	return nil
}

// code codes states, which differ in their sets, on all workers. A band in which a known state of the set puts the same bytes
// is taken from there.
func (c *coding) code(ctx context.Context, states []*state, known map[*state][]*state) error {
	if len(states) == 0 {
		return nil
	}
	ofSet := make([]*state, len(c.layout.sets.members))
	var rows [][]levels.Level
	for _, s := range states {
		ofSet[s.set] = s
		rows = append(rows, s.levels)
	}
	base, photos, err := c.source.load(levels.Shown(rows...))
	if err != nil {
		return err
	}
	type job struct {
		state       *state
		band, index int
	}
	var jobs []job
	for b := range c.layout.bands {
		for i, p := range c.layout.bands[b].parts {
			if s := ofSet[p.set]; s != nil {
				jobs = append(jobs, job{s, b, i})
			}
		}
	}
	err = c.each(ctx, len(jobs), func(w *worker, i int) {
		s, part := jobs[i].state, &c.layout.bands[jobs[i].band].parts[jobs[i].index]
		w.pixels.set(&c.source, c.layout.sets.members[s.set], s.levels, base, photos)
		s.pieces[part.nth] = w.code(c, jobs[i].band, part, known[s])
	})
	if err != nil {
		return err
	}
	for _, s := range states {
		for _, p := range s.pieces {
			s.bits += p.bits
			s.share.join(p.share)
			s.size += int64(len(p.strings)) + pieceSize
		}
	}
	return nil
}

// code codes one part of band b, or takes it from a known state that puts the same bytes there: objects added elsewhere do
// not change a photo here where it is free of noise. The worker's pixels are set to the state's columns.
func (w *worker) code(c *coding, b int, part *part, known []*state) piece {
	l, block := c.layout, &c.blocks[b]
	band := &l.bands[b]
	w.render(l, band, block, part.extents)
	var out piece
	if part.set != static { // of which there is one state
		out.of = sha256.Sum256(w.filtered)
	}
	for _, s := range known {
		if same := s.pieces[part.nth]; same.of == out.of {
			return same
		}
	}
	w.begin(part.extents, block)
	w.writer.out = w.writer.out[:0]
	end := l.stride * (l.height - band.top)
	data := w.filtered
	for i, e := range part.extents {
		n := int(e.to - e.from)
		data = data[e.lead:]
		out.share.add(data[:n], end-int(e.to))
		data = data[n:]

		start := w.writer.begin()
		if part.set == static && i == 0 {
			block.table.header(&w.writer, b == len(l.bands)-1)
		}
		block.table.encode(&w.writer, w.parser.parse(i, block.table))
		if part.set == static && i == len(part.extents)-1 {
			w.writer.write(block.table.end.bits(), uint(block.table.end.count()))
		}
		out.bits += int64(w.writer.end(start))
	}
	out.strings = make([]byte, len(w.writer.out)+stringPad)
	copy(out.strings, w.writer.out)
	return out
}
