package sequence

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
)

// sharded renders the shards named of a piece of 12 frames in three, each into a folder of its own.
func sharded(t *testing.T, scene string, shards ...int) (folders []string) {
	t.Helper()
	for _, k := range shards {
		folder := filepath.Join(t.TempDir(), "frames")
		o := tiny(folder, 12)
		o.Coder, o.Describe.Scene = tinyCoder{scene}, scene
		o.Describe.Shards = &Shards{Count: 3, First: 1, Last: 12}
		o.First, o.Last = o.Describe.Shards.Span(k)
		mustWrite(t, o)
		folders = append(folders, folder)
	}
	return folders
}

func mustJoin(t *testing.T, folder string, folders ...string) (Summary, *Report) {
	t.Helper()
	summary, report, err := Join(context.Background(), Options{Folder: folder, Jobs: 2}, folders...)
	if err != nil {
		t.Fatal(err)
	}
	return summary, report
}

func TestJoinedShardsAreTheFramesOfOneRender(t *testing.T) {
	whole := filepath.Join(t.TempDir(), "whole")
	o := tiny(whole, 12)
	o.Describe.Shards = &Shards{Count: 3, First: 1, Last: 12}
	mustWrite(t, o)
	folders := sharded(t, "ledge", 3, 1, 2)
	joined := filepath.Join(t.TempDir(), "joined")
	summary, report := mustJoin(t, joined, folders...)
	if len(report.Faults) > 0 || summary.Kept != 0 || report.Frames != 12 {
		t.Fatalf("%+v, %+v", summary, report)
	}
	same(t, contents(t, joined), contents(t, whole)) // the record as well
	sound(t, joined)

	// Again, and with a shard that lies in two folders, all is kept.
	if summary, _ := mustJoin(t, joined, append(folders, folders[0])...); summary.Kept != 12 {
		t.Errorf("joined again: %+v", summary)
	}
	// The first folder can take in the others.
	mustJoin(t, folders[0], folders...)
	same(t, contents(t, folders[0]), contents(t, whole))
}

func TestAMissingShardIsNamed(t *testing.T) {
	folders := sharded(t, "ledge", 1, 3)
	joined := filepath.Join(t.TempDir(), "joined")
	_, report := mustJoin(t, joined, folders...)
	want := []Fault{{folders[0] + " and 1 more", "shard 2 of 3 is missing: frames 5 to 8 are not rendered yet", "colonnade render with --shard 2/3"}}
	if !slices.Equal(report.Faults, want) {
		t.Errorf("%+v, want %+v", report.Faults, want)
	}
	if _, err := os.Stat(joined); err == nil {
		t.Error("frames were brought all the same")
	}
	alone, err := Verify(2, folders[0])
	if err != nil || len(alone.Faults) != 2 || !strings.HasPrefix(alone.Faults[1].What, "shard 3 of 3 is missing") {
		t.Errorf("one folder: %+v, %v", alone, err)
	}
}

func TestAFrameThatAShardLostIsAskedOfThatShard(t *testing.T) {
	folders := sharded(t, "ledge", 1, 2, 3)
	for _, n := range []int{7, 8} {
		if err := os.Remove(filepath.Join(folders[1], Name(n))); err != nil {
			t.Fatal(err)
		}
	}
	report, err := Verify(2, folders...)
	if err != nil {
		t.Fatal(err)
	}
	want := []Fault{{folders[0] + " and 2 more", "frames 7 to 8 are missing", "give the same colonnade render --shard 2/3 again"}}
	if !slices.Equal(report.Faults, want) || report.Frames != 10 {
		t.Errorf("%+v, want %+v", report, want)
	}
}

func TestFoldersOfTwoPiecesAreNotJoined(t *testing.T) {
	a, b := sharded(t, "ledge", 1, 2), sharded(t, "sill", 3)
	_, _, err := Join(context.Background(), Options{Folder: filepath.Join(t.TempDir(), "joined")}, append(a, b...)...)
	if err == nil || err.Error() != b[0]+": it holds frames of another piece than "+a[0]+"; name folders of one render" {
		t.Error(err)
	}
}

func TestABrokenFrameIsNotJoinedThoughAnotherIsSound(t *testing.T) {
	folders := sharded(t, "ledge", 1, 2, 3, 2)
	name := filepath.Join(folders[3], Name(6))
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	data[len(data)-20] ^= 1
	if err := os.WriteFile(name, data, 0o666); err != nil {
		t.Fatal(err)
	}
	joined := filepath.Join(t.TempDir(), "joined")
	_, report := mustJoin(t, joined, folders...)
	if len(report.Faults) != 1 || report.Faults[0].Where != name || report.Frames != 12 {
		t.Errorf("%+v", report)
	}
}

func TestAFrameThatChangesBetweenVerifyingAndJoiningIsNotBrought(t *testing.T) {
	folders := sharded(t, "ledge", 1, 2, 3)
	v, err := verify(disk{}, 2, folders...)
	if err != nil {
		t.Fatal(err)
	}
	name := filepath.Join(folders[0], Name(2))
	data, _ := os.ReadFile(name)
	data[len(data)-20] ^= 1
	if err := os.WriteFile(name, data, 0o666); err != nil {
		t.Fatal(err)
	}
	for n, wanted := range map[int]string{1: "", 2: name + ": it has changed since it was verified; verify the folders again"} {
		got := ""
		if _, err := (bearer{v}).Append(nil, asTuple(n)); err != nil {
			got = err.Error()
		}
		if got != wanted {
			t.Errorf("frame %d: %q, want %q", n, got, wanted)
		}
	}
}

func TestShardsShareOutEveryFrameOnce(t *testing.T) {
	for _, first := range []int{1, 37} {
		for frames := 1; frames <= 40; frames++ {
			for count := 1; count <= 45; count++ {
				s := &Shards{Count: count, First: first, Last: first + frames - 1}
				next := first
				for k := 1; k <= count; k++ {
					low, high := s.Span(k)
					if low != next || high-low+1 != frames/count && high-low != frames/count {
						t.Fatalf("%d frames, shard %d of %d: %d to %d after %d", frames, k, count, low, high, next-1)
					}
					for n := low; n <= high; n++ {
						if s.of(n) != k {
							t.Fatalf("%d frames: frame %d lies in shard %d of %d, not %d", frames, n, k, count, s.of(n))
						}
					}
					next = high + 1
				}
				if next != s.Last+1 || s.of(first-1) != 0 || s.of(s.Last+1) != 0 {
					t.Fatalf("%d frames in %d shards end at %d", frames, count, next-1)
				}
			}
		}
	}
}

func TestJoiningByLinksOrClonesWritesNoFrame(t *testing.T) {
	whole := filepath.Join(t.TempDir(), "whole")
	o := tiny(whole, 12)
	o.Describe.Shards = &Shards{Count: 3, First: 1, Last: 12}
	mustWrite(t, o)
	folders := sharded(t, "ledge", 1, 2, 3)
	for name, options := range map[string]Options{
		"links":                    {Repeats: RepeatsLink},
		"clones":                   {system: &copying{disk{}, 0}},
		"clones that come out bad": {system: &copying{disk{}, 20}}, // written, then
	} {
		options.Folder, options.Jobs = filepath.Join(t.TempDir(), "joined"), 2
		summary, report, err := Join(context.Background(), options, folders...)
		if err != nil || len(report.Faults) > 0 {
			t.Fatalf("%s: %v, %+v", name, err, report)
		}
		if wanted := name == "clones that come out bad"; wanted != (summary.Written > 0) || summary.Written+summary.Repeated != 12 {
			t.Errorf("%s: %+v", name, summary)
		}
		same(t, contents(t, options.Folder), contents(t, whole))
		sound(t, options.Folder)
	}
}

func TestALinkedJoinSharesItsFilesWithTheShards(t *testing.T) {
	folders := sharded(t, "ledge", 1, 2, 3)
	joined := filepath.Join(t.TempDir(), "joined")
	if _, _, err := Join(context.Background(), Options{Folder: joined, Repeats: RepeatsLink}, folders...); err != nil {
		t.Fatal(err)
	}
	before := contents(t, folders[0])
	a, err := os.Stat(filepath.Join(folders[0], Name(2)))
	if err != nil {
		t.Fatal(err)
	}
	if b, err := os.Stat(filepath.Join(joined, Name(2))); err != nil || !os.SameFile(a, b) {
		t.Errorf("frame 2 was copied: %v", err)
	}
	// Another piece over the joined one leaves the shards as they were.
	o := tiny(joined, 12)
	o.Coder, o.Describe.Scene = tinyCoder{"sill"}, "sill"
	mustWrite(t, o)
	same(t, contents(t, folders[0]), before)
	// All frames made anew by links, in the place of the same links: no name is left over.
	for range 2 {
		if _, _, err := Join(context.Background(), Options{Folder: joined, Repeats: RepeatsLink, Fresh: true}, folders...); err != nil {
			t.Fatal(err)
		}
	}
	for name := range contents(t, joined) {
		if strings.HasPrefix(name, ".") {
			t.Errorf("%s is left", name)
		}
	}
	sound(t, joined)
}

// copying stands for a file system with clones, which come out bad in one byte where spoil is not 0.
type copying struct {
	disk
	spoil int
}

func (c *copying) Clone(from, to string) (newFile, error) {
	data, err := os.ReadFile(from)
	if err != nil {
		return nil, err
	}
	if c.spoil > 0 && filepath.Dir(from) != filepath.Dir(to) {
		data[len(data)-c.spoil] ^= 1
	}
	return create(c.disk, to, data)
}

func TestAJoinThatFailsAnywhereGoesOn(t *testing.T) {
	folders := sharded(t, "ledge", 1, 2, 3)
	wanted := filepath.Join(t.TempDir(), "wanted")
	mustJoin(t, wanted, folders...)
	const apart = 13 // a few operations in hand of each kind
	ended := 0
	for _, repeats := range []string{RepeatsWrite, RepeatsLink} {
		for at := 1; ; at += apart {
			joined := filepath.Join(t.TempDir(), "frames")
			f := &failing{fileSystem: disk{}, at: at, failure: failure{err: syscall.ENOSPC, short: true, forEver: true}}
			_, report, err := Join(context.Background(), Options{Folder: joined, Repeats: repeats, system: f, Jobs: 2, batch: 4}, folders...)
			if f.done < at {
				break
			}
			if err != nil && report != nil {
				ended++
				oneLine(t, err)
			}
			if _, err := os.Stat(joined); err == nil {
				whole(t, contents(t, joined))
			}
			if _, report := mustJoin(t, joined, folders...); len(report.Faults) > 0 {
				t.Errorf("joined again: %+v", report.Faults)
			}
			got := contents(t, joined)
			for name := range got { // locks that could not be removed
				if strings.HasPrefix(name, lockName) {
					delete(got, name)
				}
			}
			same(t, got, contents(t, wanted))
			if t.Failed() {
				t.Fatalf("%s: operation %d failed: %v", repeats, at, err)
			}
		}
	}
	if ended == 0 {
		t.Error("no join failed")
	}
}

func TestAFrameThatDiffersBetweenTwoFoldersIsNamedWithTheOther(t *testing.T) {
	folders := sharded(t, "ledge", 1, 2, 3, 2)
	name, other := filepath.Join(folders[3], Name(6)), filepath.Join(folders[1], Name(6))
	if err := os.WriteFile(name, []byte(repacked(waves(6), true)), 0o666); err != nil {
		t.Fatal(err)
	}
	report, err := Verify(2, folders...)
	if err != nil {
		t.Fatal(err)
	}
	want := []Fault{{name, "its bytes are not those of " + other + ", though its key is the same", "remove it, then give the same colonnade render again"}}
	if !slices.Equal(report.Faults, want) {
		t.Errorf("%+v, want %+v", report.Faults, want)
	}
}

func TestTwoJoinsAtOnceDoNoHarm(t *testing.T) {
	folders := sharded(t, "ledge", 1, 2, 3)
	joined := filepath.Join(t.TempDir(), "joined")
	var group sync.WaitGroup
	var errs [2]error
	for i := range errs {
		group.Go(func() {
			_, _, errs[i] = Join(context.Background(), Options{Folder: joined}, folders...)
		})
	}
	group.Wait()
	var inUse InUseError
	for _, err := range errs {
		if err != nil && !errors.As(err, &inUse) {
			t.Error(err)
		}
	}
	if errs[0] != nil && errs[1] != nil {
		t.Error("neither was let in")
	}
	sound(t, joined)
}
