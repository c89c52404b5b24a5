package strip

import (
	"container/list"
	"context"
	"encoding/binary"
	"sync"

	"colonnade/analyze/levels"
	"colonnade/compose/picture"
)

// memo keeps coded states while memory lasts; those not used for longest go first.
type memo struct {
	// coding is held by the one frame whose states are being coded, on all workers. A frame that waits for it
	// holds no states, so that the one that codes can wait until enough of them are free.
	coding sync.Mutex

	mutex    sync.Mutex
	released sync.Cond           // a frame no longer holds its states
	states   []map[string]*state // by set; the key is the levels of its columns
	recent   list.List           // of *state, last used first
	frames   int                 // that hold states
	size     int64
	limit    int64 // 0: none
}

func (m *memo) init(sets int, limit int64) {
	m.states = make([]map[string]*state, sets)
	for i := range m.states {
		m.states[i] = map[string]*state{}
	}
	m.released.L = &m.mutex
	m.limit = limit
}

// hold finds the states of all sets that the frame's tuple needs and keeps them in memory until release. It
// reports whether all were there; if not, it holds none.
func (m *memo) hold(l *layout, f *frame) bool {
	m.mutex.Lock()
	defer m.mutex.Unlock()
	m.find(l, f)
	for _, set := range l.used {
		if f.states[set] == nil {
			return false
		}
	}
	m.pin(l, f)
	return true
}

// find looks the frame's states up; those that are not there are nil.
func (m *memo) find(l *layout, f *frame) {
	for _, set := range l.used {
		f.key = f.key[:0]
		for _, column := range l.sets.members[set] {
			f.key = binary.LittleEndian.AppendUint32(f.key, uint32(f.tuple[column]))
		}
		f.states[set] = m.states[set][string(f.key)]
	}
}

func (m *memo) pin(l *layout, f *frame) {
	for _, set := range l.used {
		s := f.states[set]
		s.frames++
		m.recent.MoveToFront(s.place)
	}
	m.frames++
}

// release lets the states of the frame go.
func (m *memo) release(l *layout, f *frame) {
	m.mutex.Lock()
	defer m.mutex.Unlock()
	for _, set := range l.used {
		f.states[set].frames--
	}
	m.frames--
	m.shrink(0)
	m.released.Broadcast()
}

// shrink drops states that no frame holds until there is room for size more bytes. It reports whether there is.
func (m *memo) shrink(size int64) bool {
	if m.limit <= 0 {
		return true
	}
	for e := m.recent.Back(); e != nil && m.size+size > m.limit; {
		s := e.Value.(*state)
		e = e.Prev()
		if s.frames == 0 {
			m.recent.Remove(s.place)
			delete(m.states[s.set], s.key())
			m.size -= s.size
		}
	}
	return m.size+size <= m.limit
}

// insert adds a new state.
func (m *memo) insert(s *state) {
	s.place = m.recent.PushFront(s)
	m.states[s.set][s.key()] = s
	m.size += s.size
}

func (s *state) key() string {
	var key []byte
	for _, level := range s.levels {
		key = binary.LittleEndian.AppendUint32(key, uint32(level))
	}
	return string(key)
}

// acquire holds the states of the frame's tuple, and codes those that are missing.
func (c *Coder) acquire(ctx context.Context, f *frame) error {
	m := &c.memo
	if m.hold(c.layout, f) {
		return nil
	}
	m.coding.Lock()
	defer m.coding.Unlock()

	m.mutex.Lock()
	m.find(c.layout, f)
	var missing []*state
	for _, set := range c.layout.used {
		s := f.states[set]
		if s != nil {
			s.frames++ // against being dropped for the room of the others
			continue
		}
		s = &state{set: set}
		for _, column := range c.layout.sets.members[set] {
			s.levels = append(s.levels, f.tuple[column])
		}
		missing = append(missing, s)
	}
	need := int64(0)
	for _, s := range missing {
		need += c.layout.bytes[s.set] // coded, it will seldom be larger
	}
	for !m.shrink(need) && m.frames > 0 {
		m.released.Wait()
	}
	m.mutex.Unlock()

	err := c.code(ctx, missing)

	m.mutex.Lock()
	defer m.mutex.Unlock()
	for _, s := range f.states {
		if s != nil {
			s.frames--
		}
	}
	if err != nil {
		return err
	}
	for _, s := range missing {
		f.states[s.set] = s
		m.insert(s)
	}
	m.pin(c.layout, f)
	m.shrink(0)
	return nil
}

// code codes states on all workers.
func (c *Coder) code(ctx context.Context, states []*state) error {
	if len(states) == 0 {
		return nil
	}
	base, err := c.source.base()
	if err != nil {
		return err
	}
	photos := map[int]*picture.Picture{}
	for _, s := range states {
		for _, level := range s.levels {
			for _, photo := range []levels.Level{level / levels.One, (level + levels.One - 1) / levels.One} {
				if photos[int(photo)] == nil {
					if photos[int(photo)], err = c.source.photo(int(photo)); err != nil {
						return err
					}
				}
			}
		}
	}
	type job struct {
		state       *state
		band, index int
	}
	byState := make([]*state, len(c.layout.sets.members))
	for _, s := range states {
		byState[s.set] = s
		s.strings = make([][]byte, c.layout.parts[s.set])
	}
	var jobs []job
	for b := range c.layout.bands {
		for i := range c.layout.bands[b].parts {
			if s := byState[c.layout.bands[b].parts[i].set]; s != nil {
				jobs = append(jobs, job{s, b, i})
			}
		}
	}
	pieces := make([]piece, len(jobs))
	err = c.each(ctx, len(jobs), func(w *worker, i int) {
		s, b := jobs[i].state, jobs[i].band
		w.pixels.set(&c.source, c.layout.sets.members[s.set], s.levels, base, photos)
		pieces[i] = w.code(c, b, jobs[i].index)
	})
	if err != nil {
		return err
	}
	for i, j := range jobs {
		p := &c.layout.bands[j.band].parts[j.index]
		j.state.strings[p.nth] = pieces[i].strings
		j.state.bits += pieces[i].bits
		j.state.share.join(pieces[i].share)
		j.state.size += int64(len(pieces[i].strings))
	}
	return nil
}
