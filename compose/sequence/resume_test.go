package sequence

import (
	"bytes"
	"context"
	"errors"
	"image"
	"image/png"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// rendered is a folder in memory that holds a piece of 12 tiny frames.
func rendered(t *testing.T) map[string]string {
	t.Helper()
	m := newMemory(nil)
	o := tiny("frames", 12)
	o.system = m
	mustWrite(t, o)
	return m.files()
}

// callNoneSafe makes of the record that of a Write that a power cut ended before it called any frame safe.
func callNoneSafe(t *testing.T, files map[string]string) {
	t.Helper()
	r, err := decodeRecord([]byte(files[RecordName]))
	if err != nil {
		t.Fatal(err)
	}
	clear(r.safe)
	text, err := r.encode()
	if err != nil {
		t.Fatal(err)
	}
	files[RecordName] = string(text)
}

func TestDamagedFramesAreMadeAnew(t *testing.T) {
	wanted := rendered(t)
	text := wanted[Name(6)]
	swap := func(at int) string {
		damaged := []byte(text)
		damaged[at] ^= 0x10
		return string(damaged)
	}
	for what, damaged := range map[string]string{
		"empty":                         "",
		"cut in the signature":          text[:5],
		"cut in the header":             text[:20],
		"cut before the key":            text[:100],
		"cut in the key":                text[:len(text)-120],
		"cut in the picture":            text[:len(text)-20],
		"its last byte missing":         text[:len(text)-1],
		"zeros":                         strings.Repeat("\x00", len(text)),
		"zeros, longer than wrote":      strings.Repeat("\x00", 70_000),
		"zeros from the middle":         text[:len(text)/2] + strings.Repeat("\x00", len(text)-len(text)/2),
		"zeros up to the end":           strings.Repeat("\x00", 512) + "a later block",
		"a byte flipped in the picture": swap(len(text) - 40),
		"a byte flipped in the header":  swap(17),
		"a byte flipped in the key":     swap(bytes.Index([]byte(text), []byte("tEXt")) + 30),
		"another frame":                 wanted[Name(7)],
		"bytes behind its end":          text + "stones",
	} {
		t.Run(what, func(t *testing.T) {
			files := maps.Clone(wanted)
			files[Name(6)] = damaged
			callNoneSafe(t, files)
			m := newMemory(files)
			o := tiny("frames", 12)
			o.system = m
			summary := mustWrite(t, o)
			if summary.Kept != 11 {
				t.Errorf("%+v", summary)
			}
			same(t, m.files(), wanted)
		})
	}
}

func TestFramesCalledSafeAreNotReadWhole(t *testing.T) {
	files := rendered(t)
	m := newMemory(files)
	o := tiny("frames", 12)
	o.system = &noWholeReads{fileSystem: m, t: t}
	if summary := mustWrite(t, o); summary.Kept != 12 {
		t.Errorf("%+v", summary)
	}
}

// noWholeReads fails the test when a frame is read from its beginning on.
type noWholeReads struct {
	fileSystem
	t *testing.T
}

func (f *noWholeReads) Open(name string) (openFile, error) {
	r, err := f.fileSystem.Open(name)
	if _, ok := number(filepath.Base(name)); err == nil && ok {
		r = noWholeRead{r, f.t}
	}
	return r, err
}

type noWholeRead struct {
	openFile
	t *testing.T
}

func (r noWholeRead) Read(p []byte) (int, error) {
	r.t.Error("a frame called safe was read whole")
	return r.openFile.Read(p)
}

// strangers are files that colonnade did not write.
func strangers(t *testing.T) map[string]string {
	t.Helper()
	var picture bytes.Buffer
	if err := png.Encode(&picture, image.NewRGBA(image.Rect(0, 0, tinyWidth, tinyHeight))); err != nil {
		t.Fatal(err)
	}
	return map[string]string{
		"a picture of another program": picture.String(),
		"a list":                       "granite, slate, basalt\n",
		"noise":                        "\xf3\x91\x02\x77\xe4\x00\x00\x19\xbc",
	}
}

func TestForeignFileUnderAFramesNameIsNeverReplaced(t *testing.T) {
	for what, text := range strangers(t) {
		for _, fresh := range []bool{false, true} {
			for where, files := range map[string]map[string]string{"in a folder of ours": rendered(t), "in an empty folder": {}} {
				files[Name(6)] = text
				m := newMemory(files)
				o := tiny("frames", 12)
				o.system, o.Fresh = m, fresh
				_, err := Write(context.Background(), o)
				if !errors.Is(err, ErrRefused) || !strings.Contains(err.Error(), Name(6)) {
					t.Errorf("%s %s, fresh %v: %v", what, where, fresh, err)
				}
				same(t, m.files(), files)
			}
		}
	}
}

func TestFolderOfOtherFilesIsRefusedUnlessTakenOver(t *testing.T) {
	files := map[string]string{"notes.txt": "a list", "frame_7.png": "a picture", ".hidden": "a setting"}
	m := newMemory(files)
	o := tiny("frames", 5)
	o.system = m
	_, err := Write(context.Background(), o)
	if wanted := "frames: it holds frame_7.png, which colonnade did not write; name another folder, or give --fresh to use it beside what is there"; !errors.Is(err, ErrRefused) || err.Error() != wanted {
		t.Errorf("%v", err)
	}
	same(t, m.files(), files)

	o.Fresh = true
	mustWrite(t, o)
	for name, text := range files {
		if m.files()[name] != text {
			t.Errorf("%s was changed", name)
		}
	}
	// The folder is ours now, beside what else is there.
	o.Fresh = false
	if summary := mustWrite(t, o); summary.Kept != 5 {
		t.Errorf("%+v", summary)
	}
}

func TestForeignRecordIsRefused(t *testing.T) {
	for text, says := range map[string]string{
		`{"name": "another program's"}`: "it is not one of colonnade's; move it away or name another folder",
		``:                              "it is not one of colonnade's (unexpected end of JSON input); move it away or name another folder",
		`{"format": "colonnade sequence", "version": 99}`: "it has version 99, this program knows version 1; move it away or name another folder",
	} {
		for _, fresh := range []bool{false, true} {
			m := newMemory(map[string]string{RecordName: text})
			o := tiny("frames", 5)
			o.system, o.Fresh = m, fresh
			_, err := Write(context.Background(), o)
			if !errors.Is(err, ErrRefused) || err.Error() != filepath.Join("frames", RecordName)+": "+says {
				t.Errorf("%v", err)
			}
			same(t, m.files(), map[string]string{RecordName: text})
		}
	}
}

func TestFreshMakesEveryFrameAnew(t *testing.T) {
	m := newMemory(rendered(t))
	o := tiny("frames", 12)
	o.system, o.Fresh, o.First, o.Last = m, true, 3, 8
	o.Repeats = RepeatsWrite
	if summary := mustWrite(t, o); summary.Written != 6 || summary.Kept != 0 {
		t.Errorf("%+v", summary)
	}
	same(t, m.files(), rendered(t))
}

func TestFolderWithoutItsRecordIsKnownByItsFrames(t *testing.T) {
	files := rendered(t)
	wanted := maps.Clone(files)
	delete(files, RecordName)
	files[Name(3)] = files[Name(3)][:len(files[Name(3)])-20] // has its key, and no end
	m := newMemory(files)
	o := tiny("frames", 12)
	o.system = m
	if summary := mustWrite(t, o); summary.Kept != 11 {
		t.Errorf("%+v", summary)
	}
	same(t, m.files(), wanted)
}

func TestFramesOfAnotherPieceAreNotCalledThisOnes(t *testing.T) {
	m := newMemory(rendered(t))
	o := tiny("frames", 12)
	o.system, o.Last = m, 4
	o.Coder, o.Describe.Scene = tinyCoder{"sill"}, "sill"
	mustWrite(t, o)
	report, err := verifyMemory(m)
	if err != nil {
		t.Fatal(err)
	}
	if report.Frames != 4 || len(report.Faults) != 1 || !strings.Contains(report.Faults[0].What, "another piece") {
		t.Errorf("%+v", report)
	}
	o.First, o.Last = 1, 12
	if summary := mustWrite(t, o); summary.Kept != 4 {
		t.Errorf("%+v", summary)
	}
	if report, err = verifyMemory(m); err != nil || len(report.Faults) > 0 {
		t.Errorf("%+v, %v", report, err)
	}
}

func TestLinksAndFoldersUnderFramesNamesAreForeign(t *testing.T) {
	elsewhere := filepath.Join(t.TempDir(), "photo.png")
	if err := os.WriteFile(elsewhere, []byte("stones"), 0o666); err != nil {
		t.Fatal(err)
	}
	for what, plant := range map[string]func(name string) error{
		"a symbolic link": func(name string) error { return os.Symlink(elsewhere, name) },
		"a folder":        func(name string) error { return os.Mkdir(name, 0o777) },
	} {
		folder := t.TempDir()
		if err := plant(filepath.Join(folder, Name(2))); err != nil {
			t.Fatal(err)
		}
		o := tiny(folder, 3)
		o.Fresh = true
		if _, err := Write(context.Background(), o); !errors.Is(err, ErrRefused) {
			t.Errorf("%s: %v", what, err)
		}
	}
	if text, _ := os.ReadFile(elsewhere); string(text) != "stones" {
		t.Error("the link's target was changed")
	}
}

func TestStaleTemporaryFilesAreSwept(t *testing.T) {
	files := rendered(t)
	wanted := maps.Clone(files)
	files["."+Name(3)+".tmp"] = "half a frame"
	files["."+Name(900)+".tmp"] = "half a frame"
	files["."+RecordName+".tmp"] = "half a record"
	m := newMemory(files)
	o := tiny("frames", 12)
	o.system = m
	mustWrite(t, o)
	same(t, m.files(), wanted)
}

// Ready is told the frames that are not there, before any file is changed; where it fails all stays as it is, the record too.
func TestReadyIsToldWhatIsMissingBeforeAnythingIsChanged(t *testing.T) {
	folder := t.TempDir()
	o := tiny(folder, 12)
	o.Last = 7
	mustWrite(t, o)
	record := filepath.Join(folder, RecordName)
	before, err := os.ReadFile(record)
	if err != nil {
		t.Fatal(err)
	}
	broken := errors.New("stones-1.jpg: is broken; take another")
	var told []int
	o.Last, o.Ready = 12, func(missing []int) error {
		told = missing
		return broken
	}
	if s, err := Write(context.Background(), o); !errors.Is(err, broken) || err.Error() != broken.Error() || s.Written != 0 {
		t.Errorf("Write gives %v and %+v, want Ready's error", err, s)
	}
	if want := []int{8, 9, 10, 11, 12}; !slices.Equal(told, want) {
		t.Errorf("Ready is told frames %v, want %v", told, want)
	}
	if after, err := os.ReadFile(record); err != nil || !bytes.Equal(after, before) {
		t.Errorf("the record has changed (error: %v)", err)
	}
	o.Ready = func([]int) error { return nil }
	if s := mustWrite(t, o); s.Kept != 7 || s.Written+s.Repeated != 5 {
		t.Errorf("then %+v", s)
	}
	o.Ready = func([]int) error { return broken }
	if s := mustWrite(t, o); s.Kept != 12 { // nothing is missing: it is not asked
		t.Errorf("at last %+v", s)
	}
}
