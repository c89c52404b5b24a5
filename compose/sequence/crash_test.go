package sequence

import (
	"context"
	"math/rand/v2"
	"strings"
	"testing"

	"colonnade/analyze/levels"
	"colonnade/compose/pngfile"
)

// scenarios are Writes that meet different folders. Each starts from what before leaves and must end in the
// frames that an undisturbed Write makes.
func scenarios() map[string]struct{ before, options Options } {
	piece := tiny("frames", 14)
	piece.Jobs = 1
	shifted := piece
	shifted.Tuple = func(n int) []levels.Level { return waves(n/2 + 1) }
	longer := tiny("frames", 17)
	linked := piece
	linked.Repeats = RepeatsLink
	written := piece
	written.Repeats = RepeatsWrite
	part := piece
	part.First, part.Last = 4, 11
	otherScene := piece
	otherScene.Coder, otherScene.Describe.Scene = tinyCoder{"sill"}, "sill"
	return map[string]struct{ before, options Options }{
		"an empty folder, clones":            {options: piece},
		"an empty folder, links":             {options: linked},
		"an empty folder, all written":       {options: written},
		"other levels before":                {before: shifted, options: piece},
		"other levels before, links":         {before: shifted, options: linked},
		"another scene and length before":    {before: longer, options: otherScene},
		"a part of the frames before":        {before: part, options: piece},
		"a part of frames with other levels": {before: shifted, options: part},
	}
}

// prepare is the folder before a scenario's Write.
func prepare(t *testing.T, before Options) map[string]string {
	t.Helper()
	if before.Count == 0 {
		return nil
	}
	m := newMemory(nil)
	before.system = m
	mustWrite(t, before)
	return m.files()
}

// whole tells of files under frames' names that are not whole, and of frames called safe that are not.
func whole(t *testing.T, files map[string]string) {
	t.Helper()
	checker := pngfile.NewChecker()
	for name, text := range files {
		if _, ok := number(name); ok {
			if _, err := checker.Check(strings.NewReader(text)); err != nil {
				t.Errorf("%s is not whole: %v", name, err)
			}
		}
	}
	text, ok := files[RecordName]
	if !ok {
		return
	}
	r, err := decodeRecord([]byte(text))
	if err != nil {
		t.Errorf("%s is not whole: %v", RecordName, err)
		return
	}
	for i, safe := range r.safe {
		if !safe {
			continue
		}
		frame, err := checker.Check(strings.NewReader(files[Name(i+1)]))
		if err != nil || !strings.HasPrefix(frame.Key, r.keys[i]) {
			t.Errorf("frame %d is called safe: %v, key %.16s, %s wanted", i+1, err, frame.Key, r.keys[i])
		}
	}
}

// TestNoPowerCutLosesAFrame cuts the power after every change of every scenario, several times over, each time
// with other losses, then cuts it again while the folder is resumed, and compares what a last Write makes with
// what an undisturbed one does. The way is that of the SQLite project's crash tests (its testing.html, 3.3).
func TestNoPowerCutLosesAFrame(t *testing.T) {
	const variants = 2
	states := 0
	for name, s := range scenarios() {
		t.Run(name, func(t *testing.T) {
			base := prepare(t, s.before)
			run := func(files map[string]string) *memory {
				m := newMemory(files)
				o := s.options
				o.system = m
				if _, err := Write(context.Background(), o); err != nil {
					t.Fatalf("Write: %v", err)
				}
				return m
			}
			undisturbed := run(base)
			wanted := undisturbed.files()
			for count := range undisturbed.changes {
				for variant := range variants {
					chance := rand.New(rand.NewPCG(uint64(count), uint64(variant)))
					left := undisturbed.crash(count, chance)
					whole(t, left)
					second := run(left)
					same(t, second.files(), wanted)
					again := second.crash(chance.IntN(len(second.changes)+1), chance)
					whole(t, again)
					same(t, run(again).files(), wanted)
					states += 2
					if t.Failed() {
						t.Fatalf("after %d of %d changes, variant %d", count, len(undisturbed.changes), variant)
					}
				}
			}
		})
	}
	if states < 1000 {
		t.Errorf("%d states tried, 1000 wanted", states)
	}
	t.Logf("%d states", states)
}
