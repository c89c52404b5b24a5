package sequence

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// In tiny(…, 23) frames 5, 10, 15 and 20 are the same.
func TestRepeatsAreMadeTheWayThatWasAsked(t *testing.T) {
	var size int64
	{
		text, _ := tinyCoder{"ledge"}.Append(nil, waves(5))
		size = int64(len(text))
	}
	for name, c := range map[string]struct {
		repeats                  string
		cannotClone, cannotLink  bool
		linksAtMost              int
		written, repeated, saves int
	}{
		"auto clones":                   {RepeatsAuto, false, false, 0, 20, 3, 0},
		"nothing said is auto":          {"", false, false, 0, 20, 3, 0},
		"auto without clones writes":    {RepeatsAuto, true, false, 0, 23, 0, 3},
		"write writes":                  {RepeatsWrite, false, false, 0, 23, 0, 3},
		"link links":                    {RepeatsLink, true, false, 0, 20, 3, 0},
		"link without links writes":     {RepeatsLink, false, true, 0, 23, 0, 3},
		"a file has only so many names": {RepeatsLink, true, false, 2, 21, 2, 1},
	} {
		t.Run(name, func(t *testing.T) {
			m := newMemory(nil)
			m.cannotClone, m.cannotLink, m.linksAtMost = c.cannotClone, c.cannotLink, c.linksAtMost
			o := tiny("frames", 23)
			o.system, o.Repeats = m, c.repeats
			s := mustWrite(t, o)
			if s.Written != c.written || s.Repeated != c.repeated || s.LinkWouldSave != int64(c.saves)*size {
				t.Errorf("%+v, wanted %+v", s, c)
			}
			written := newMemory(nil)
			o.system, o.Repeats = written, RepeatsWrite
			mustWrite(t, o)
			same(t, m.files(), written.files())
		})
	}
}

func TestReplacingALinkedFrameLeavesTheOthers(t *testing.T) {
	folder := t.TempDir()
	o := tiny(folder, 12)
	o.Repeats = RepeatsLink
	mustWrite(t, o)
	before := contents(t, folder)
	at := func(n int) os.FileInfo {
		info, err := os.Stat(filepath.Join(folder, Name(n)))
		if err != nil {
			t.Fatal(err)
		}
		return info
	}
	if !os.SameFile(at(5), at(10)) {
		t.Fatal("frames 5 and 10 are not one file")
	}
	o.Tuple = waves
	o.Coder, o.Describe.Scene = tinyCoder{"sill"}, "sill"
	o.First, o.Last = 5, 5
	mustWrite(t, o)
	after := contents(t, folder)
	if after[Name(5)] == before[Name(5)] || after[Name(10)] != before[Name(10)] {
		t.Error("frame 5 should have changed, frame 10 not")
	}
	for name := range after {
		if strings.HasPrefix(name, ".") {
			t.Errorf("%s is left", name)
		}
	}
}

func TestTooSmallADiskIsToldBeforeTheFirstFrame(t *testing.T) {
	text, _ := tinyCoder{"ledge"}.Append(nil, waves(1))
	size := int64(len(text))
	m := newMemory(nil)
	o := tiny("frames", 1000)
	o.system, o.Repeats = m, RepeatsWrite
	m.free = 100 * size
	s, err := Write(context.Background(), o)
	wanted := "frames: 1000 frames need about 297000 bytes, 29700 bytes is free; free 267300 bytes, give --repeats link, which needs about 237897 bytes, or name a folder on another disk"
	if err == nil || err.Error() != wanted || s.Written > 0 {
		t.Errorf("%v, %+v", err, s)
	}
	if errors.Is(err, ErrRefused) {
		t.Error("a disk that is too small is no wrong option")
	}
	// What is to be replaced makes room.
	m.free = 0
	mustWrite(t, o)
	m.free = 20 * size
	o.Coder, o.Describe.Scene = tinyCoder{"sill"}, "sill"
	mustWrite(t, o)
}

func TestRateForgetsWhatIsLongAgo(t *testing.T) {
	var r rate
	if got := r.at(0, 0); got != 0 {
		t.Errorf("at the start %v", got)
	}
	count := 0
	for second := 1; second <= 60; second++ {
		count += 10
		if got := r.at(time.Duration(second)*time.Second, count); got != 10 {
			t.Fatalf("after %d s at 10 a second: %v", second, got)
		}
	}
	for second := 61; second <= 100; second++ {
		count += 2
		r.at(time.Duration(second)*time.Second, count)
	}
	if got := r.at(100*time.Second, count); got != 2 {
		t.Errorf("after 40 s at 2 a second: %v", got)
	}
	if len(r.seen) > 40 {
		t.Errorf("%d samples kept", len(r.seen))
	}
}
