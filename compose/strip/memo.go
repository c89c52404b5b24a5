package strip

import (
	"container/list"
	"encoding/binary"
	"sync"
)

// memo keeps coded states as long as there is memory; those not used for longest go first.
//
// A frame holds all of its states at once. Were frames to take them one by one, two could each wait for memory
// that the other has. So one frame at a time has its missing states coded, and a frame that waits for
// its turn holds none.
type memo struct {
	turn sync.Mutex // held by what is being prepared or coded

	mutex    sync.Mutex
	recent   list.List // of *state, last used first
	size     int64     // bytes of all states
	limit    int64     // 0: none
	frames   int       // that hold states
	wanted   bool      // the frame whose states are being coded waits for memory
	released sync.Cond // a frame no longer holds its states
}

// states is those of a set that are kept. The key is the levels of its columns.
type states map[string]*state

func newMemo(limit int64) *memo {
	m := &memo{limit: limit}
	m.released.L = &m.mutex
	return m
}

// hold finds the states that the frame needs and keeps them in memory until release. It reports whether all were
// there; if not, it holds none.
func (m *memo) hold(c *coding, f *frame) bool {
	m.mutex.Lock()
	defer m.mutex.Unlock()
	if m.wanted || !c.find(f) {
		return false
	}
	for _, set := range c.layout.used {
		m.pin(f.states[set])
	}
	m.frames++
	return true
}

// find looks up the states that the frame needs, and reports whether all are there; those that are not are nil. The memo's mutex is held.
func (c *coding) find(f *frame) bool {
	all := true
	for _, set := range c.layout.used {
		f.key = f.key[:0]
		for _, column := range c.layout.sets.members[set] {
			f.key = binary.LittleEndian.AppendUint32(f.key, uint32(f.tuple[column]))
		}
		f.states[set] = c.states[set][string(f.key)]
		all = all && f.states[set] != nil
	}
	return all
}

// mostKnown is how many states of a set are looked at for what they have in common with a new one: more than most sets of photos
// have, and few enough for a dissolve of thousands of levels.
const mostKnown = 32

// some is up to mostKnown of the states.
func (all states) some() []*state {
	var some []*state
	for _, s := range all {
		if len(some) == mostKnown {
			break
		}
		some = append(some, s)
	}
	return some
}

// pin holds one state.
func (m *memo) pin(s *state) {
	s.frames++
	m.recent.MoveToFront(s.place)
}

// release lets the frame's states go.
func (m *memo) release(c *coding, f *frame) {
	m.mutex.Lock()
	defer m.mutex.Unlock()
	for _, set := range c.layout.used {
		f.states[set].frames--
	}
	m.frames--
	m.shrink(0)
	m.released.Broadcast()
}

// reserve makes room for need more bytes. It waits for frames that hold states if it has to. If there still is too
// little once there are none, the frame whose states are coded needs more than the limit by itself, and gets it.
func (m *memo) reserve(need int64) {
	m.wanted = true
	for !m.shrink(need) && m.frames > 0 {
		m.released.Wait()
	}
	m.wanted = false
}

// shrink drops states that no frame holds until there is room for need more bytes. It reports whether there is.
func (m *memo) shrink(need int64) bool {
	if m.limit <= 0 {
		return true
	}
	for e := m.recent.Back(); e != nil && m.size+need > m.limit; {
		s := e.Value.(*state)
		e = e.Prev()
		if s.frames == 0 {
			m.recent.Remove(s.place)
			delete(s.among, s.key())
			m.size -= s.size
		}
	}
	return m.size+need <= m.limit
}

// insert adds a new state and holds it.
func (m *memo) insert(s *state) {
	s.frames = 1
	s.place = m.recent.PushFront(s)
	s.among[s.key()] = s
	m.size += s.size
}
