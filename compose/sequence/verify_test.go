package sequence

import (
	"encoding/json"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func verifyMemory(m *memory) (*Report, error) {
	v, err := verify(m, 2, "frames")
	if err != nil {
		return nil, err
	}
	return &v.report, nil
}

func verifyFiles(t *testing.T, files map[string]string) *Report {
	t.Helper()
	report, err := verifyMemory(newMemory(files))
	if err != nil {
		t.Fatal(err)
	}
	return report
}

func TestVerifyNamesEachFault(t *testing.T) {
	good := rendered(t)
	again := "remove it, then give the same colonnade render again"
	for name, c := range map[string]struct {
		spoil  func(files map[string]string)
		faults []Fault
	}{
		"nothing wrong": {func(map[string]string) {}, nil},
		"a frame missing": {
			func(f map[string]string) { delete(f, Name(4)) },
			[]Fault{{"frames", "frame 4 is missing", "give the same colonnade render again"}},
		},
		"a run of frames missing": {
			func(f map[string]string) { delete(f, Name(4)); delete(f, Name(5)); delete(f, Name(12)) },
			[]Fault{
				{"frames", "frames 4 to 5 are missing", "give the same colonnade render again"},
				{"frames", "frame 12 is missing", "give the same colonnade render again"},
			},
		},
		"two frames swapped": {
			func(f map[string]string) { f[Name(3)], f[Name(8)] = f[Name(8)], f[Name(3)] },
			[]Fault{
				{"frames/frame_000003.png", "it is another frame than the one wanted: its key begins with " + key(8) + ", " + key(3) + " wanted", again},
				{"frames/frame_000008.png", "it is another frame than the one wanted: its key begins with " + key(3) + ", " + key(8) + " wanted", again},
			},
		},
		"a frame too many": {
			func(f map[string]string) { f[Name(13)] = f[Name(1)] },
			[]Fault{{"frames/frame_000013.png", "it follows the last of 12 frames", "remove it"}},
		},
		"an empty frame": {
			func(f map[string]string) { f[Name(1)] = "" },
			[]Fault{{"frames/frame_000001.png", "it breaks off at byte 0", again}},
		},
		"a frame cut short": {
			func(f map[string]string) { f[Name(2)] = f[Name(2)][:200] },
			[]Fault{{"frames/frame_000002.png", "it breaks off at byte 200", again}},
		},
		"another program's picture": {
			func(f map[string]string) { f[Name(2)] = strangers(t)["a picture of another program"] },
			[]Fault{{"frames/frame_000002.png", "its header says another kind of picture than 8-bit RGB without interlace", again}},
		},
		"another size": {
			func(f map[string]string) {
				f[RecordName] = strings.Replace(f[RecordName], `"width": 7`, `"width": 8`, 1)
				for n := 2; n <= 12; n++ {
					delete(f, Name(n))
				}
			},
			[]Fault{
				{"frames/frame_000001.png", "it has 7 x 3 pixels, 8 x 3 wanted", again},
				{"frames", "frames 2 to 12 are missing", "give the same colonnade render again"},
			},
		},
	} {
		t.Run(name, func(t *testing.T) {
			files := maps.Clone(good)
			c.spoil(files)
			report := verifyFiles(t, files)
			if fmt.Sprint(report.Faults) != fmt.Sprint(append([]Fault{}, c.faults...)) {
				t.Errorf("got  %q\nwant %q", report.Faults, c.faults)
			}
			if _, err := json.Marshal(report); err != nil {
				t.Error(err)
			}
		})
	}
}

func key(n int) string { return tinyCoder{"ledge"}.Key(waves(n))[:keyPrefix] }

func TestVerifyFindsAnyFlippedByte(t *testing.T) {
	good := rendered(t)
	for _, n := range []int{7, 10} { // 10 repeats 5
		text := good[Name(n)]
		for at := range len(text) {
			files := maps.Clone(good)
			damaged := []byte(text)
			damaged[at] ^= 1 << (at % 8)
			files[Name(n)] = string(damaged)
			report := verifyFiles(t, files)
			if len(report.Faults) != 1 || report.Faults[0].Where != filepath.Join("frames", Name(n)) {
				t.Fatalf("frame %d, byte %d: %+v", n, at, report.Faults)
			}
		}
	}
}

// A part that was asked for may be all that is wanted: what comes before and after it is no fault, a gap in it is.
func TestVerifyTellsWhichPartsAreNotRenderedYet(t *testing.T) {
	m := newMemory(nil)
	for _, s := range []span{{2, 3}, {8, 10}} {
		o := tiny("frames", 12)
		o.system = m
		o.First, o.Last = s.first, s.last
		mustWrite(t, o)
	}
	report := verifyFiles(t, m.files())
	wanted := []Fault{
		{"frames", "frames 4 to 7 are not rendered yet", "colonnade render with --frames 4-7, or the shards that hold them"},
	}
	if fmt.Sprint(report.Faults) != fmt.Sprint(wanted) {
		t.Errorf("got  %q\nwant %q", report.Faults, wanted)
	}
	if report.Frames != 5 || report.First != 2 || report.Last != 10 || report.Wanted != 12 {
		t.Errorf("%+v", report)
	}
}

// A part rendered after a change leaves the frames after it as they were: one fault for the run, not one a frame, and the remedy
// mends it.
func TestFramesOfThePieceBeforeAreOneFault(t *testing.T) {
	m := newMemory(nil)
	before := tiny("frames", 12)
	before.system = m
	mustWrite(t, before)
	after := tiny("frames", 12)
	after.system, after.Coder, after.Describe.Scene = m, tinyCoder{"another"}, "another"
	after.First, after.Last = 3, 5
	mustWrite(t, after)
	report := verifyFiles(t, m.files())
	const remedy = "render that part too, which writes them anew, or remove them"
	wanted := []Fault{
		{"frames", "frames 1 to 2 are left from another piece: no such frame is wanted yet", remedy},
		{"frames", "frames 6 to 12 are left from another piece: no such frame is wanted yet", remedy},
	}
	if fmt.Sprint(report.Faults) != fmt.Sprint(wanted) || report.Frames != 3 {
		t.Errorf("%d frames\ngot  %q\nwant %q", report.Frames, report.Faults, wanted)
	}
	after.First, after.Last = 6, 12
	mustWrite(t, after)
	wanted = wanted[:1]
	if report = verifyFiles(t, m.files()); fmt.Sprint(report.Faults) != fmt.Sprint(wanted) {
		t.Errorf("that part too: got  %q\nwant %q", report.Faults, wanted)
	}
}

func TestFaultsBeyondCountingAreCounted(t *testing.T) {
	shards := Shards{Count: 3 * mostFaults, First: 1, Last: 3 * mostFaults}
	record := newRecord(Description{Rate: "25/1", Width: 7, Height: 3, Shards: &shards}, 3*mostFaults)
	text, err := record.encode()
	if err != nil {
		t.Fatal(err)
	}
	report := verifyFiles(t, map[string]string{RecordName: string(text)})
	last := report.Faults[len(report.Faults)-1]
	if len(report.Faults) != mostFaults+1 || last.What != fmt.Sprintf("%d more faults were found", 2*mostFaults) {
		t.Errorf("%d faults, the last is %q", len(report.Faults), last)
	}
}

func TestVerifyRefusesWhatIsNoFolderOfFrames(t *testing.T) {
	folder := t.TempDir()
	missing := filepath.Join(folder, "nowhere")
	for where, says := range map[string]string{
		missing: missing + ": no such file or directory; name a folder that colonnade rendered into",
		folder:  folder + ": it has no sequence.json; name a folder that colonnade rendered into",
	} {
		if _, err := Verify(1, where); err == nil || err.Error() != says {
			t.Errorf("%v, wanted %s", err, says)
		}
	}
}

func TestFileTimesDecideNothing(t *testing.T) {
	folder := t.TempDir()
	o := tiny(folder, 6)
	mustWrite(t, o)
	for n, name := range []string{Name(1), Name(2), RecordName} {
		when := []int64{0, 1 << 33, 1 << 33}[n] // 1970 and 2242
		if err := os.Chtimes(filepath.Join(folder, name), time.Unix(when, 0), time.Unix(when, 0)); err != nil {
			t.Fatal(err)
		}
	}
	if summary := mustWrite(t, o); summary.Kept != 6 {
		t.Errorf("%+v", summary)
	}
	sound(t, folder)
}

func TestRecordReadsAsItWasWritten(t *testing.T) {
	text := rendered(t)[RecordName]
	for _, line := range []string{
		`"format": "colonnade sequence"`, `"fps": "25/1"`, `"frames": 12`, `"width": 7`, `"height": 3`,
		`"pattern": "frame_%06d.png"`, `"first": 1`, `"file": "tide.wav"`, `"start": 0`, `"scene": "ledge"`, `"1-12"`,
	} {
		if !strings.Contains(text, line) {
			t.Errorf("%s is not in\n%s", line, text)
		}
	}
	r, err := decodeRecord([]byte(text))
	if err != nil {
		t.Fatal(err)
	}
	again, err := r.encode()
	if err != nil || string(again) != text {
		t.Errorf("%v\n%s\nbecame\n%s", err, text, again)
	}
}

func FuzzRecord(f *testing.F) {
	m := newMemory(nil)
	o := tiny("frames", 12)
	o.system = m
	if _, err := Write(f.Context(), o); err != nil {
		f.Fatal(err)
	}
	text := m.files()[RecordName]
	f.Add([]byte(text))
	f.Add([]byte(strings.Replace(text, `"1-12"`, `"3-5", "9"`, 1)))
	f.Add([]byte(strings.Replace(text, `"frames": 12`, `"frames": 99999999999`, 1)))
	f.Add([]byte("{}"))
	f.Fuzz(func(t *testing.T, text []byte) {
		r, err := decodeRecord(text)
		if err != nil {
			return
		}
		first, err := r.encode()
		if err != nil {
			t.Fatal(err)
		}
		r, err = decodeRecord(first)
		if err != nil {
			t.Fatalf("%v in what was written:\n%s", err, first)
		}
		if second, _ := r.encode(); string(second) != string(first) {
			t.Fatalf("%s\nbecame\n%s", first, second)
		}
	})
}
