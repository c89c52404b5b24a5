package sequence

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"colonnade/analyze/levels"
)

func TestFolderHoldsEveryFrameAndItsRecord(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "parents", "too")
	o := tiny(folder, 23)
	summary := mustWrite(t, o)
	if summary.Written != 23 || summary.Kept != 0 || summary.Repeated != 0 {
		t.Errorf("%+v", summary)
	}
	got := contents(t, folder)
	wanted := map[string]string{RecordName: got[RecordName]}
	for n := 1; n <= 23; n++ {
		text, _ := tinyCoder{"ledge"}.Append(nil, waves(n))
		wanted[fmt.Sprintf("frame_%06d.png", n)] = string(text)
	}
	same(t, got, wanted)
	sound(t, folder)

	again := mustWrite(t, o)
	if again.Kept != 23 || again.Written != 0 {
		t.Errorf("the second time: %+v", again)
	}
	same(t, contents(t, folder), wanted)
}

func TestOnlyFramesThatChangedAreMadeAnew(t *testing.T) {
	folder := t.TempDir()
	o := tiny(folder, 12)
	mustWrite(t, o)
	o.Tuple = func(n int) []levels.Level {
		if n == 7 || n == 11 {
			return []levels.Level{500, 0}
		}
		return waves(n)
	}
	summary := mustWrite(t, o)
	if summary.Written != 2 || summary.Kept != 10 {
		t.Errorf("%+v", summary)
	}
	sound(t, folder)
}

func TestAShorterPieceTakesItsOwnLateFramesAway(t *testing.T) {
	folder := t.TempDir()
	mustWrite(t, tiny(folder, 12))
	foreign := filepath.Join(folder, Name(40))
	if err := os.WriteFile(foreign, []byte("a list of stones"), 0o666); err != nil {
		t.Fatal(err)
	}
	summary := mustWrite(t, tiny(folder, 9))
	if summary.Removed != 3 || summary.Kept != 9 {
		t.Errorf("%+v", summary)
	}
	if _, err := os.Stat(foreign); err != nil {
		t.Error(err)
	}
	if err := os.Remove(foreign); err != nil {
		t.Fatal(err)
	}
	sound(t, folder)
}

func TestStopRecordsTheFramesInHandAndTheNextWriteGoesOn(t *testing.T) {
	folder := t.TempDir()
	o := tiny(folder, 40)
	stop := make(chan struct{})
	o.Stop = stop
	o.Coder = &stopping{tinyCoder: tinyCoder{"ledge"}, after: 10, stop: stop}
	o.Jobs = 1
	summary, err := Write(context.Background(), o)
	if !errors.Is(err, ErrStopped) || summary.Written != 10 {
		t.Fatalf("%+v, %v", summary, err)
	}
	o = tiny(folder, 40)
	summary = mustWrite(t, o)
	if summary.Kept != 10 || summary.Written != 30 {
		t.Errorf("%+v", summary)
	}
	sound(t, folder)
}

// stopping closes stop while it makes its frame number after.
type stopping struct {
	tinyCoder
	after, made int
	stop        chan struct{}
}

func (c *stopping) Append(dst []byte, tuple []levels.Level) ([]byte, error) {
	// The first call finds out how large a frame is.
	if c.made++; c.made == c.after+1 {
		close(c.stop)
	}
	return c.tinyCoder.Append(dst, tuple)
}

func TestProgressEndsComplete(t *testing.T) {
	o := tiny(t.TempDir(), 15)
	var last Progress
	o.Progress = func(p Progress) { last = p }
	mustWrite(t, o)
	if last.Done != 15 || last.Total != 15 || last.Written != 15 || last.Bytes == 0 {
		t.Errorf("%+v", last)
	}
}

func TestPartsInAnyOrderMakeTheWhole(t *testing.T) {
	whole, parts := t.TempDir(), t.TempDir()
	mustWrite(t, tiny(whole, 20))
	for _, s := range []span{{8, 14}, {15, 20}, {1, 7}} {
		o := tiny(parts, 20)
		o.First, o.Last = s.first, s.last
		mustWrite(t, o)
	}
	same(t, contents(t, parts), contents(t, whole))
	sound(t, parts)
}
