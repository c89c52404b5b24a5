package sequence

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"hash/adler32"
	"io/fs"
	"strings"
	"syscall"
	"testing"

	"colonnade/analyze/levels"
	"colonnade/compose/pngfile"
)

func TestOptionsThatMakeNoSenseAreRefusedBeforeAnythingIsWritten(t *testing.T) {
	for want, spoil := range map[string]func(o *Options){
		"folder: an empty name; name a folder": func(o *Options) { o.Folder = "" },
		"frames 0 to 5 of 5: they are not a part of frames 1 to 5; give the first and the last within the piece":                 func(o *Options) { o.First = 0 },
		"frames 4 to 3 of 5: they are not a part of frames 1 to 5; give the first and the last within the piece":                 func(o *Options) { o.First, o.Last = 4, 3 },
		"frames 1 to 6 of 5: they are not a part of frames 1 to 5; give the first and the last within the piece":                 func(o *Options) { o.Last = 6 },
		"frames 1 to 5 of 1000000000: they are not a part of frames 1 to 10000000; give the first and the last within the piece": func(o *Options) { o.Count = 1e9 },
		`repeats: "twice" is not a way; give auto, write or link`:                                                                func(o *Options) { o.Repeats = "twice" },
	} {
		m := newMemory(nil)
		o := tiny("frames", 5)
		o.system = m
		spoil(&o)
		_, err := Write(context.Background(), o)
		if !errors.Is(err, ErrRefused) || err.Error() != want {
			t.Errorf("%v, want %q", err, want)
		}
		if len(m.changes) > 0 {
			t.Errorf("%s: the folder was changed", want)
		}
	}
}

// TestFolderThatCanNotBeWrittenIntoIsRefused, be it to be made or there already: when that shows only later, it is a failure
// (TestErrorsSayWhatIsSafeAndWhatToDo).
func TestFolderThatCanNotBeWrittenIntoIsRefused(t *testing.T) {
	for text, cause := range map[string]error{
		"ledge: it cannot be written into (read-only file system); allow that or name another folder": syscall.EROFS,
		"ledge: it cannot be written into (permission denied); allow that or name another folder":     syscall.EACCES,
	} {
		for kind, there := range map[string]bool{"to be made": false, "there already": true} {
			m := newMemory(nil)
			o := tiny("ledge", 5)
			o.system = &lockedAway{m, cause, there}
			_, err := Write(context.Background(), o)
			if !errors.Is(err, ErrRefused) || err.Error() != text {
				t.Errorf("%s: %v, want %q", kind, err, text)
			}
			if files := m.files(); len(files) > 0 {
				t.Errorf("%s: %d files are there", kind, len(files))
			}
		}
	}
}

// lockedAway is a file system that lets nothing be made in a folder, or not the folder either.
type lockedAway struct {
	fileSystem
	cause error
	there bool
}

func (l *lockedAway) MakeFolder(name string) error {
	if l.there {
		return l.fileSystem.MakeFolder(name)
	}
	return &fs.PathError{Op: "mkdir", Path: name, Err: l.cause}
}

// Lock makes a file, the first that is made.
func (l *lockedAway) Lock(name string) (release func(), err error) {
	return nil, &fs.PathError{Op: "open", Path: name, Err: l.cause}
}

// oddCoder is a coder with a fault.
type oddCoder struct {
	tinyCoder
	key    func(tuple []levels.Level) string
	append func(dst []byte, tuple []levels.Level) ([]byte, error)
}

func (c oddCoder) Key(tuple []levels.Level) string {
	if c.key != nil {
		return c.key(tuple)
	}
	return c.tinyCoder.Key(tuple)
}

func (c oddCoder) Append(dst []byte, tuple []levels.Level) ([]byte, error) {
	if c.append != nil {
		return c.append(dst, tuple)
	}
	return c.tinyCoder.Append(dst, tuple)
}

// A frame under its name is one with the key that was asked for, whatever the coder does.
func TestACoderThatKeepsNoPromiseWritesNoFrame(t *testing.T) {
	for name, c := range map[string]struct {
		coder oddCoder
		want  string
	}{
		"a key that is none": {
			oddCoder{key: func([]levels.Level) string { return "stone" }},
			`frame 1: its key "stone" is not 64 hexadecimal digits`,
		},
		"a key that panics": {
			oddCoder{key: func([]levels.Level) string { panic("a stone fell") }},
			"a frame could not be made: a stone fell",
		},
		"the frame of another tuple": {
			oddCoder{append: func(dst []byte, _ []levels.Level) ([]byte, error) { return tinyCoder{"ledge"}.Append(dst, waves(40)) }},
			"it was made with the key",
		},
		"no PNG": {
			oddCoder{append: func(dst []byte, _ []levels.Level) ([]byte, error) { return append(dst, "a list of stones"...), nil }},
			"it was made with the key",
		},
		"a frame without its end": {
			oddCoder{append: func(dst []byte, tuple []levels.Level) ([]byte, error) {
				whole, err := tinyCoder{"ledge"}.Append(dst, tuple)
				return whole[:60], err
			}},
			"it was made with the key",
		},
		"an error": {
			oddCoder{append: func(dst []byte, _ []levels.Level) ([]byte, error) { return dst, errors.New("photo-2.jpg: gone") }},
			"photo-2.jpg: gone",
		},
	} {
		m := newMemory(nil)
		o := tiny("frames", 9)
		o.system = m
		c.coder.tinyCoder = tinyCoder{"ledge"}
		o.Coder = c.coder
		summary, err := Write(context.Background(), o)
		if err == nil || !strings.Contains(err.Error(), c.want) || errors.Is(err, ErrRefused) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
		for file := range m.files() {
			if strings.HasSuffix(file, ".png") || summary.Written > 0 {
				t.Errorf("%s: %s is there, %d frames are told", name, file, summary.Written)
			}
		}
	}
}

func TestARecordThatContradictsItselfIsNoneOfOurs(t *testing.T) {
	good := rendered(t)[RecordName]
	for name, c := range map[string]struct{ from, to, says string }{
		"more frames than keys":     {`"frames": 12`, `"frames": 13`, "(12 keys for 13 frames)"},
		"fewer frames than keys":    {`"frames": 12`, `"frames": 11`, "(12 keys for 11 frames)"},
		"rows of keys are missing":  {`"frames": 12`, `"frames": 120`, "(its frames, keys, pattern or size do not go together)"},
		"no frames":                 {`"frames": 12`, `"frames": 0`, "(its frames, keys, pattern or size do not go together)"},
		"a negative count":          {`"frames": 12`, `"frames": -12`, "(its frames, keys, pattern or size do not go together)"},
		"another pattern":           {Pattern, "shot_%d.png", "(its frames, keys, pattern or size do not go together)"},
		"no width":                  {`"width": 7`, `"width": 0`, "(its frames, keys, pattern or size do not go together)"},
		"a key cut short":           {key(1) + " ", key(1)[:15] + " ", "is no key)"},
		"safe beyond the last":      {`"1-12"`, `"1-13"`, `("1-13" is no run of its frames)`},
		"safe backwards":            {`"1-12"`, `"9-3"`, `("9-3" is no run of its frames)`},
		"safe twice":                {`"1-12"`, `"1-6", "6-12"`, `("6-12" is no run of its frames)`},
		"safe in words":             {`"1-12"`, `"all"`, `("all" is no run of its frames)`},
		"shards beyond the last":    {`"safe":`, `"shards": {"count": 2, "first": 1, "last": 13}, "safe":`, "(its shards do not lie within its frames)"},
		"shards of none":            {`"safe":`, `"shards": {"count": 0, "first": 1, "last": 12}, "safe":`, "(its shards do not lie within its frames)"},
		"shards that end too early": {`"safe":`, `"shards": {"count": 2, "first": 5, "last": 4}, "safe":`, "(its shards do not lie within its frames)"},
	} {
		text := strings.Replace(good, c.from, c.to, 1)
		if text == good {
			t.Fatalf("%s: %s is not in the record", name, c.from)
		}
		_, err := decodeRecord([]byte(text))
		if !errors.Is(err, errNotOurs) || !strings.HasSuffix(err.Error(), c.says) {
			t.Errorf("%s: %v, want %q", name, err, c.says)
		}
	}
}

// repacked is a tiny frame whose picture's bytes are others: each row's filter byte stays, every pixel is black. With
// keyed the key is that of the tuple, otherwise there is none.
func repacked(tuple []levels.Level, keyed bool) string {
	file := pngfile.AppendHead(nil, tinyWidth, tinyHeight, pngfile.NewColour(nil), tinyCoder{"ledge"}.Key(tuple))
	if !keyed {
		file = file[:bytes.Index(file, []byte("tEXt"))-4]
	}
	rows := make([]byte, (3*tinyWidth+1)*tinyHeight)
	data := []byte{0x78, 0x01, 1}
	data = binary.LittleEndian.AppendUint16(data, uint16(len(rows)))
	data = binary.LittleEndian.AppendUint16(data, ^uint16(len(rows)))
	data = binary.BigEndian.AppendUint32(append(data, rows...), adler32.Checksum(rows))
	return string(pngfile.AppendEnd(pngfile.AppendChunk(file, "IDAT", data)))
}

func TestVerifyFindsWhatIsSoundByItself(t *testing.T) {
	again := "remove it, then give the same colonnade render again"
	files := rendered(t)
	files[Name(3)] = repacked(waves(3), false)
	report := verifyFiles(t, files)
	if len(report.Faults) != 1 || report.Faults[0] != (Fault{"frames/frame_000003.png", "it has no key, so colonnade did not write it", again}) {
		t.Errorf("a frame without a key: %+v", report.Faults)
	}
	// Frames 5 and 10 show the same. Which of two that differ is wrong can not be known; both are told.
	files = rendered(t)
	files[Name(10)] = repacked(waves(10), true)
	report = verifyFiles(t, files)
	if len(report.Faults) != 1 || report.Faults[0].What != "its bytes are not those of frames/frame_000005.png, though its key is the same" {
		t.Errorf("two frames of one key and different bytes: %+v", report.Faults)
	}
}
