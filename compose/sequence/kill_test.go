package sequence

import (
	"context"
	"maps"
	"math/rand/v2"
	"strings"
	"testing"

	"colonnade/compose/pngfile"
)

// killed is the file system after the first count changes as the next process finds it: all of them are seen, though the
// disk may have few of them yet.
func (m *memory) killed(count int) *memory {
	k := newMemory(nil)
	maps.Copy(k.base, m.base)
	maps.Copy(k.names, m.base)
	copies := make(map[*node]*node)
	for _, n := range m.base {
		copies[n] = n // nothing is ever written into it
	}
	for _, c := range m.changes[:count] {
		if c.node != nil {
			if copies[c.node] == nil {
				copies[c.node] = &node{links: 1}
			}
			c.node = copies[c.node]
		}
		if c.kind == "write" {
			c.node.data = append(c.node.data, c.data...)
		}
		if c.from != "" {
			delete(k.names, c.from)
		}
		if c.to != "" {
			k.names[c.to] = c.node
		}
		k.note(c)
	}
	return k
}

// A kill leaves names and records that no sync has brought to the disk. Resuming trusts what it sees, so it has to bring
// that to the disk before it calls it safe.
func TestAPowerCutAfterAKillLosesNoFrame(t *testing.T) {
	o := tiny("frames", 9)
	o.Jobs = 1
	for _, repeats := range []string{RepeatsAuto, RepeatsLink, RepeatsWrite} {
		o.Repeats = repeats
		first := newMemory(nil)
		o.system = first
		mustWrite(t, o)
		wanted := first.files()
		for count := range first.changes {
			second := first.killed(count)
			o.system = second
			if _, err := Write(context.Background(), o); err != nil {
				t.Fatalf("%s, resumed after %d changes: %v", repeats, count, err)
			}
			same(t, second.files(), wanted)
			for at := count; at <= len(second.changes); at += 2 {
				whole(t, second.crash(at, rand.New(rand.NewPCG(uint64(count), uint64(at)))))
				if t.Failed() {
					t.Fatalf("%s: killed after %d changes, the power cut after %d of %d", repeats, count, at, len(second.changes))
				}
			}
		}
	}
}

// Frames that were copied into the folder, by a program that syncs nothing, are whole to look at and not yet on the disk.
func TestFramesThatWereCopiedHereAreOnTheDiskBeforeTheyAreCalledSafe(t *testing.T) {
	files := rendered(t)
	delete(files, RecordName)
	m := newMemory(nil)
	for name, text := range files {
		f, err := m.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := f.Write([]byte(text)); err != nil {
			t.Fatal(err)
		}
	}
	begun := len(m.changes)
	o := tiny("frames", 12)
	o.system = m
	if summary := mustWrite(t, o); summary.Kept != 12 {
		t.Fatalf("%+v", summary)
	}
	checker := pngfile.NewChecker()
	for at := begun; at <= len(m.changes); at++ {
		for variant := range uint64(20) {
			left := m.crash(at, rand.New(rand.NewPCG(uint64(at), variant)))
			text, ok := left[RecordName]
			if !ok {
				continue
			}
			r, err := decodeRecord([]byte(text))
			if err != nil {
				t.Fatal(err)
			}
			for i, safe := range r.safe {
				if !safe {
					continue
				}
				if _, err := checker.Check(strings.NewReader(left[Name(i+1)])); err != nil {
					t.Fatalf("the power cut after %d of %d changes: frame %d is called safe, but %v", at, len(m.changes), i+1, err)
				}
			}
		}
	}
}

// A frame that is called safe is trusted by its key and its end, so that one cut short since then is made anew.
func TestAFrameCalledSafeThatLostItsEndIsMadeAnew(t *testing.T) {
	wanted := rendered(t)
	for _, size := range []int{len(wanted[Name(6)]) - 1, len(wanted[Name(6)]) - 12, len(wanted[Name(6)]) - 40} {
		files := maps.Clone(wanted)
		files[Name(6)] = files[Name(6)][:size]
		m := newMemory(files)
		o := tiny("frames", 12)
		o.system = m
		if summary := mustWrite(t, o); summary.Kept != 11 {
			t.Errorf("%d bytes left of it: %+v", size, summary)
		}
		same(t, m.files(), wanted)
	}
}
