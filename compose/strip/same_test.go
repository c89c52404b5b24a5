package strip

import (
	"bytes"
	"context"
	"errors"
	"hash/adler32"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"colonnade/analyze/levels"
	"colonnade/compose/picture"
)

// overlapping is a small photographed stage whose columns overlap in their feathers.
func overlapping() *stage {
	s := photographed(120, 140, 4, 4)
	s.Masks = upright(120, 140, 4, 80, 3)
	return s
}

func someTuples(s *stage, n int) [][]levels.Level {
	random := rand.New(rand.NewPCG(11, 12))
	var all [][]levels.Level
	for range n {
		all = append(all, randomTuple(random, len(s.Masks), len(s.Photos)))
	}
	if n > 1 {
		all[n/2] = make([]levels.Level, len(s.Masks)) // the empty stage
	}
	return all
}

func TestBytesAreTheSameWhateverTheWorkersTheMemoryAndTheOrder(t *testing.T) {
	s := overlapping()
	all := someTuples(s, 8)
	var want [][]byte
	for _, tuple := range all {
		want = append(want, s.frame(t, s.coder(t, Options{Workers: 1}), tuple)) // each by a coder that made no other
	}
	backwards := slices.Clone(all)
	slices.Reverse(backwards)
	for _, options := range []Options{{}, {Workers: 1}, {Workers: 2}, {Workers: 7}, {Memory: 1}, {Memory: 90_000}, {Memory: 90_000, Workers: 3}} {
		for _, order := range [][][]levels.Level{all, backwards} {
			c := s.coder(t, options)
			for _, tuple := range order {
				i := slices.IndexFunc(all, func(other []levels.Level) bool { return slices.Equal(other, tuple) })
				if !bytes.Equal(s.frame(t, c, tuple), want[i]) {
					t.Errorf("%+v: the frame of %v has other bytes", options, tuple)
				}
			}
		}
	}
}

func TestManyGoroutinesMakeTheSameFrames(t *testing.T) {
	s := overlapping()
	all := someTuples(s, 10)
	reference := s.coder(t, Options{})
	for _, memory := range []int64{0, 1, 90_000} {
		c := s.coder(t, Options{Memory: memory, Workers: 2})
		var group sync.WaitGroup
		for g := range 6 {
			group.Go(func() {
				for i := range all {
					tuple := all[(i*5+g*3)%len(all)]
					got, err := c.Append(nil, s.head, tuple)
					want, _ := reference.Append(nil, s.head, tuple)
					if err != nil || !bytes.Equal(got, want) {
						t.Errorf("memory %d: the frame of %v has other bytes (error: %v)", memory, tuple, err)
					}
				}
			})
		}
		group.Wait()
		c.sound(t)
	}
}

func TestStatesStayWithinTheMemoryAndComeBack(t *testing.T) {
	s := overlapping()
	all := someTuples(s, 10)
	source := s.source()
	photo, asked := source.Photo, 0
	source.Photo = func(level int) (picture.Reader, error) {
		asked++
		return photo(level)
	}
	c, err := New(source, Options{Memory: 90_000})
	if err != nil {
		t.Fatal(err)
	}
	for range 2 {
		before := asked
		for _, tuple := range all {
			s.frame(t, c, tuple)
			if c.full.memo.size > 90_000 {
				t.Errorf("states take %d bytes, 90000 are allowed", c.full.memo.size)
			}
			held := int64(0)
			for e := c.full.memo.recent.Front(); e != nil; e = e.Next() {
				held += e.Value.(*state).size
			}
			if held != c.full.memo.size {
				t.Errorf("states take %d bytes, %d are counted", held, c.full.memo.size)
			}
		}
		if asked == before {
			t.Error("no photo was asked for: the states of all frames should not fit")
		}
	}
	unbounded := s.coder(t, Options{})
	for _, tuple := range all {
		s.frame(t, unbounded, tuple)
	}
	if unbounded.full.memo.size <= 90_000 {
		t.Errorf("all states take %d bytes: the bound in this test is no bound", unbounded.full.memo.size)
	}
}

func TestStatesOfAFrameInTheMakingStay(t *testing.T) {
	s := overlapping()
	all := someTuples(s, 10)
	c := s.coder(t, Options{Memory: 150_000})
	f, err := c.full.frame(context.Background(), all[0])
	if err != nil {
		t.Fatal(err)
	}
	dropped := false
	for _, tuple := range all[1:] {
		s.frame(t, c, tuple)
		other := c.full.newFrame()
		other.tuple = all[1]
		dropped = dropped || !c.full.find(other)
		other.tuple = all[0]
		if !c.full.find(other) || !slices.Equal(other.states, f.states) {
			t.Fatal("a state was dropped while a frame was made from it")
		}
	}
	if !dropped {
		t.Error("no state was dropped: the bound in this test is no bound")
	}
	c.full.done(f)
}

func TestCodedFramesNeedNoPhotos(t *testing.T) {
	s := overlapping()
	all := someTuples(s, 5)
	gone := false
	source := s.source()
	photo := source.Photo
	source.Photo = func(level int) (picture.Reader, error) {
		if gone {
			return nil, errors.New("the photo is gone")
		}
		return photo(level)
	}
	c, err := New(source, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, tuple := range all {
		s.frame(t, c, tuple)
	}
	gone = true
	for _, tuple := range all {
		s.frame(t, c, tuple)
	}
}

func TestACodedFrameAllocatesNothing(t *testing.T) {
	s := overlapping()
	c := s.coder(t, Options{})
	for _, tuple := range someTuples(s, 2) {
		frame := s.frame(t, c, tuple)
		room := make([]byte, 0, len(frame)) // not a byte more than needed
		allocations := testing.AllocsPerRun(20, func() {
			out, err := c.Append(room, s.head, tuple)
			if err != nil || &out[0] != &room[:1][0] {
				t.Fatalf("Append moved to other memory (error: %v)", err)
			}
		})
		if allocations != 0 {
			t.Errorf("Append allocated %v times", allocations)
		}
		if !bytes.Equal(room[:cap(room)], frame) {
			t.Error("the frame differs when dst has room for it alone")
		}
	}
}

func TestAppendKeepsWhatDstHolds(t *testing.T) {
	s := overlapping()
	c := s.coder(t, Options{})
	tuple := someTuples(s, 1)[0]
	file := s.frame(t, c, tuple)
	for n := range 9 { // so that strings begin at every place in a word
		before := bytes.Repeat([]byte{0xa5}, n)
		got, err := c.Append(bytes.Clone(before), s.head, tuple)
		if err != nil || !bytes.Equal(got, append(before, file...)) {
			t.Errorf("behind %d bytes the frame differs (error: %v)", n, err)
		}
	}
}

func TestSharesOfAStateAddUpInAnyOrder(t *testing.T) {
	random := rand.New(rand.NewPCG(13, 14))
	for range 30 {
		data := make([]byte, 1+random.IntN(70_000))
		for i := range data {
			data[i] = uint8(i*i>>3) | 0xf0
		}
		var sum share
		for end := len(data); end > 0; {
			start := end - 1 - random.IntN(min(end, 9000))
			sum.add(data[start:end], len(data)-end)
			end = start
		}
		if got, want := sum.checksum(len(data)), adler32.Checksum(data); got != want {
			t.Errorf("shares of %d bytes add up to %08x, hash/adler32 makes %08x", len(data), got, want)
		}
	}
}

func TestErrorsSayWhereAndWhat(t *testing.T) {
	small := picture.New(3, 3)
	broken := errors.New("photo-2.jpg: is broken; take another")
	tests := []struct {
		name string
		with func(*Source)
		want string
	}{
		{"no size", func(s *Source) { s.Height = 0 }, "frame: size is 120 x 0; both must be 1 or more"},
		{"far too wide", func(s *Source) { s.Width = 5_000_000 }, "frame: is 5000000 pixels wide; at most 2097152 can be coded"},
		{"no photos", func(s *Source) { s.Photos = 0 }, "photos: there are none; a column needs at least one"},
		{"a mask outside", func(s *Source) { s.Width = 100 }, "mask of column 4: lies at (81,0)-(120,140), outside the frame of 100 x 140; cut it at the frame"},
		{"a mask cut short", func(s *Source) { s.Masks[1].Alpha = s.Masks[1].Alpha[:10] }, "mask of column 2: has 10 values; 48 x 140 pixels need 6720"},
		{"a small base plate", func(s *Source) { s.Base = func() (picture.Reader, error) { return small, nil } }, "base plate: is 3 x 3, the frame is 120 x 140; fit it to the frame"},
		{"a small photo", func(s *Source) { s.Photo = func(int) (picture.Reader, error) { return small, nil } }, "photo of level 0: is 3 x 3, the frame is 120 x 140; fit it to the frame"},
		{"a broken photo", func(s *Source) { s.Photo = func(int) (picture.Reader, error) { return nil, broken } }, broken.Error()},
		{"a broken base plate", func(s *Source) { s.Base = func() (picture.Reader, error) { return nil, broken } }, broken.Error()},
	}
	for _, test := range tests {
		source := overlapping().source()
		test.with(&source)
		for _, shown := range [][]int{{0, 1}, {0}} {
			c, err := New(source, Options{})
			if err == nil {
				err = c.Prepare(context.Background(), shown)
			}
			if err == nil || err.Error() != test.want {
				t.Errorf("%s: error is %q, want %q", test.name, err, test.want)
			}
		}
	}
}

func TestAppendRefusesWhatIsNoFrame(t *testing.T) {
	s := overlapping()
	c := s.coder(t, Options{})
	for _, test := range []struct {
		tuple []levels.Level
		want  string
	}{
		{nil, "frame: has 0 levels; there are 4 columns"},
		{make([]levels.Level, 5), "frame: has 5 levels; there are 4 columns"},
		{[]levels.Level{0, 0, 3001, 0}, "column 3: stands at level 3.001; the photos go from 0 to 3"},
		{[]levels.Level{0, -1000, 0, 0}, "column 2: stands at level -1; the photos go from 0 to 3"},
	} {
		dst := []byte("kept")
		out, err := c.Append(dst, s.head, test.tuple)
		if err == nil || err.Error() != test.want || string(out) != "kept" {
			t.Errorf("Append gives %q and error %q, want %q", out, err, test.want)
		}
		if _, err := c.Size(s.head, test.tuple); err == nil || err.Error() != test.want {
			t.Errorf("Size gives error %q, want %q", err, test.want)
		}
	}
}

func TestAPhotoThatFailsFailsOneFrameOnly(t *testing.T) {
	s := overlapping()
	failing := false
	source := s.source()
	photo := source.Photo
	source.Photo = func(level int) (picture.Reader, error) {
		if failing && level == 2 {
			return nil, errors.New("photo-2.jpg: cannot be read")
		}
		return photo(level)
	}
	c, err := New(source, Options{})
	if err != nil {
		t.Fatal(err)
	}
	tuple := []levels.Level{1000, 0, 2000, 500}
	s.frame(t, c, []levels.Level{1000, 0, 0, 0})
	failing = true
	if out, err := c.Append([]byte("kept"), s.head, tuple); err == nil || !strings.HasPrefix(err.Error(), "photo-2.jpg") || string(out) != "kept" {
		t.Errorf("Append gives %d bytes and error %v, want the photo's error", len(out), err)
	}
	s.check(t, c, []levels.Level{1000, 1000, 0, 500})
	failing = false
	s.check(t, c, tuple)
	c.sound(t)
}

// ending is a context that ends after it has been asked so many times.
type ending struct {
	context.Context
	left atomic.Int64
}

func (e *ending) Err() error {
	if e.left.Add(-1) < 0 {
		return context.Canceled
	}
	return nil
}

// Wherever preparing ends, the next one begins anew.
func TestAfterPreparingHasEndedFramesAreRight(t *testing.T) {
	for _, s := range []*stage{overlapping(), halfDrawn()} {
		for after, done := int64(0), false; !done; after = after*5/4 + 1 {
			c := s.coder(t, Options{Workers: 1})
			ctx := &ending{Context: context.Background()}
			ctx.left.Store(after)
			err := c.Prepare(ctx, []int{0, 1})
			if done = err == nil; !done && !errors.Is(err, context.Canceled) {
				t.Fatalf("Prepare gives error %v", err)
			}
			s.check(t, c, someTuples(s, 1)[0])
		}
	}
}

// sound checks that what the memo counts is what is kept, and that no frame holds any of it.
func (c *Coder) sound(t *testing.T) {
	t.Helper()
	if c.full.memo != c.empty.memo {
		t.Fatal("the empty stage has a memo of its own, so that both have the memory")
	}
	m, kept, size := c.full.memo, 0, int64(0)
	for _, of := range []*coding{c.full, c.empty} {
		for _, states := range of.states {
			kept += len(states)
		}
	}
	for e := m.recent.Front(); e != nil; e = e.Next() {
		s := e.Value.(*state)
		size += s.size
		if s.frames != 0 {
			t.Errorf("a state is held by %d frames, none is being made", s.frames)
		}
	}
	if m.recent.Len() != kept || m.size != size {
		t.Errorf("%d states are kept, %d are listed; %d bytes are counted, they take %d", kept, m.recent.Len(), m.size, size)
	}
	if m.limit > 0 && m.size > m.limit {
		t.Errorf("states take %d bytes, %d are allowed", m.size, m.limit)
	}
}

func TestPreparingAndCodingEndWithTheirContext(t *testing.T) {
	s := overlapping()
	ended, end := context.WithCancel(context.Background())
	end()
	c := s.coder(t, Options{})
	for _, shown := range [][]int{{0, 1}, {0}} {
		if err := c.Prepare(ended, shown); !errors.Is(err, context.Canceled) {
			t.Errorf("Prepare for %v gives error %v, want %v", shown, err, context.Canceled)
		}
	}
	s.prepared(t, Options{})
	if _, err := c.full.frame(ended, someTuples(s, 1)[0]); !errors.Is(err, context.Canceled) {
		t.Errorf("coding gives error %v, want %v", err, context.Canceled)
	}
	s.check(t, c, someTuples(s, 1)[0])
}

// What two photos have in common is coded once: here all but the highest rows.
func TestStatesShareWhatTheyHaveInCommon(t *testing.T) {
	s := photographed(120, 3*bandRows, 1, 2)
	second := picture.New(120, 3*bandRows)
	copy(second.Pix, s.Photos[1].Pix)
	for x := range second.Row(3) {
		second.Row(3)[x] ^= 1
	}
	s.Photos = append(s.Photos, second)
	c := s.coder(t, Options{})
	for _, level := range []levels.Level{1000, 2000} {
		s.check(t, c, []levels.Level{level})
	}
	states := c.full.states[c.full.layout.sets.number([]int{0})]
	if len(states) != 2 {
		t.Fatalf("there are %d states", len(states))
	}
	var pieces [][]piece
	for _, state := range states {
		pieces = append(pieces, state.pieces)
	}
	for band := range pieces[0] {
		if same := &pieces[0][band].strings[0] == &pieces[1][band].strings[0]; same != (band > 0) {
			t.Errorf("band %d: coded once is %v", band, same)
		}
	}
}
