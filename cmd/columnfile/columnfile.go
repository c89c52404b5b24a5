// Package columnfile reads the column file: the hand-edited TOML file that says which columns a scene has,
// which band of the song each follows, and how.
//
// It takes the file's text and the values of flags, and gives a File with every default filled in. Whatever
// a person can get wrong is refused in one line that names the file, line and column, the fault and the
// remedy. Photos and song are not looked at: what needs them is checked by the commands, which ask Where for
// the place to name.
//
// The format is TOML 1.1 (toml.io). Lines and columns are counted from 1, columns in characters.
package columnfile

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"io"
	"io/fs"
	"maps"
	"os"
	"slices"
	"syscall"
	"unicode/utf8"

	"colonnade/analyze/envelope"
	"colonnade/analyze/response"
	"colonnade/analyze/timing"
	"colonnade/masks"
)

const (
	// maxBytes is the largest file read: a thousand times the size of a long one.
	maxBytes = 4 << 20
	// maxColumns is the most columns a file may have.
	maxColumns = 500
	// maxCorners is the most corners a region may have.
	maxCorners = 2000
	// maxName is the most characters a column's name may have.
	maxName = 64
)

// File is a column file with every default filled in. Paths are resolved relative to the file's folder, those
// of flags relative to the working folder.
type File struct {
	Path      string      // as given, for messages
	Photos    string      // folder or glob
	Song      string      // "" when the file names none
	Offset    float64     // ms of the song's file before it really begins; below 0, silence before it
	Rate      timing.Rate // frames a second
	BaseLevel int         // level of the base plate, used when BasePath is ""
	BasePath  string      // file of the base plate, or ""
	Feather   float64     // photo pixels
	Encoded   bool        // mix in the photos' own encoding rather than in linear light
	Dissolve  bool        // mix the two nearest levels rather than show one
	Size      image.Point // of the frame; zero for the photo's own
	Crop      []float64   // nil, or x, y, width, height in photo pixels
	Steady    []string    // "light", "shift", both in this order, or nil
	Columns   []Column    // in the order of the file, one at the least
	Notes     []string    // warnings, in the form WHERE: WHAT; WHAT TO DO

	source    *source
	root      *table
	tables    []*table // of the columns
	overrides map[string]string
}

// Column is one stack of objects.
type Column struct {
	Name     string            // 1 to maxName characters, unlike every other
	Band     envelope.Band     // 0 < LowHz < HighHz, or envelope.Everything()
	Channel  envelope.Channel  // of the song
	Onset    bool              // it follows what sets in in the band rather than the band's level
	Region   masks.Region      // photo pixels, 3 to maxCorners corners, not crossing itself; a box has four
	Feather  float64           // photo pixels: its own, or the file's
	Response response.Settings // its own keys over those of [response] over response.Default()
}

// Part is what the column follows of a song.
func (c Column) Part() envelope.Part {
	return envelope.Part{Band: c.Band, Channel: c.Channel, Onset: c.Onset}
}

// Read reads the file at path and fills in defaults. overrides holds the values of flags by the name of the
// key ("photos", "song", "offset", "fps", "base", "feather", "light", "motion", "size", "crop", "steady") as text:
// "1920x1080", "0,96,6000,3375", "light,shift"; "none" undoes the file's song, size, crop or steady. Every
// error is one line, WHERE: WHAT; WHAT TO DO, where WHERE is a place in the file or a flag.
func Read(path string, overrides map[string]string) (*File, error) {
	file, err := OpenText(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, mistake(printable(path), "there is no such file", "check the name, or let the command mark write one")
	}
	if err != nil {
		return nil, unreadable(path, err)
	}
	defer file.Close()
	if info, err := file.Stat(); err == nil && info.IsDir() {
		return nil, mistake(printable(path), "this is a folder", "name the column file in it")
	}
	text, err := io.ReadAll(io.LimitReader(file, maxBytes+1))
	if err != nil {
		return nil, unreadable(path, err)
	}
	return Parse(path, text, overrides)
}

// OpenText opens a file that is read once from its beginning: a pipe will do, such as a shell's <(command), but one that nobody
// writes to is taken to be empty rather than waited for.
func OpenText(path string) (*os.File, error) {
	return os.OpenFile(path, os.O_RDONLY|syscall.O_NONBLOCK, 0)
}

func unreadable(path string, err error) error {
	var fault *fs.PathError
	if errors.As(err, &fault) {
		err = fault.Err
	}
	return fmt.Errorf("%s: the file can not be read (%w); check its permissions", printable(path), err)
}

// Parse is Read for a text at hand; path is for messages and for the folder that paths are relative to.
func Parse(path string, text []byte, overrides map[string]string) (*File, error) {
	if len(text) > maxBytes {
		return nil, mistake(printable(path), fmt.Sprintf("the file is larger than %d MiB", maxBytes>>20),
			"name a column file, which is a few kilobytes of text")
	}
	text = bytes.TrimPrefix(text, []byte("\ufeff"))
	s := newSource(path, text)
	if err := plainText(s); err != nil {
		return nil, err
	}
	root, err := parseTree(s)
	if err != nil {
		return nil, err
	}
	f := &File{Path: path, source: s, root: root, overrides: maps.Clone(overrides)}
	var r reader
	f.tables = r.columnTables(root)
	shared := r.responseTable(root)
	if r.err == nil {
		r.err = unknownKeys(s, root, f.tables)
	}
	if r.err == nil {
		r.settings(f)
	}
	if r.err == nil {
		r.columns(f, shared)
	}
	if r.err == nil {
		r.err = strict(s)
	}
	if r.err != nil {
		return nil, r.err
	}
	f.Notes = notes(f)
	return f, nil
}

// plainText refuses what is no UTF-8 text, before the parser stumbles over it.
func plainText(s *source) error {
	if bytes.HasPrefix(s.text, []byte("\xff\xfe")) || bytes.HasPrefix(s.text, []byte("\xfe\xff")) {
		return mistake(printable(s.path), "the file is UTF-16 text", "save it as UTF-8")
	}
	for at := 0; at < len(s.text); {
		r, size := utf8.DecodeRune(s.text[at:])
		if r == utf8.RuneError && size == 1 {
			if bytes.IndexByte(s.text, 0) >= 0 {
				return mistake(printable(s.path), "this is no text", "name a column file; colonnade mark writes one")
			}
			return mistake(s.where(at), fmt.Sprintf("byte 0x%02X is not UTF-8 text", s.text[at]), "save the file as UTF-8")
		}
		at += size
	}
	return nil
}

// Text is the file as it was read, without a byte order mark.
func (f *File) Text() string { return string(f.source.text) }

// columnTables is the table of each [[column]].
func (r *reader) columnTables(root *table) []*table {
	n := root.value("column")
	if n == nil {
		return nil // the unknown keys may tell why, and come first
	}
	if n.kind == tableKind {
		r.fail(n.where(), "a column has single brackets", "write [[column]]")
		return nil
	}
	if n.kind != listKind {
		r.wrong(n, "column", "not a table", "write [[column]]")
		return nil
	}
	var tables []*table
	for i, item := range n.items {
		if item.kind != tableKind {
			r.wrong(item, "column", "not a table", "write [[column]]")
			return nil
		}
		if i == maxColumns {
			r.fail(item.where(), fmt.Sprintf("the file has %d columns, more than %d", len(n.items), maxColumns), "leave some out")
			return nil
		}
		tables = append(tables, item.table)
	}
	return tables
}

// responseTable is the table [response], nil when there is none.
func (r *reader) responseTable(root *table) *table {
	n := root.value("response")
	if n == nil {
		return nil
	}
	if n.tables {
		r.fail(n.where(), "the response for all columns has double brackets", "write [response] once")
		return nil
	}
	if n.kind != tableKind {
		r.wrong(n, "response", "not a table", "write [response]")
		return nil
	}
	return n.table
}

// Where names the place of a key for a message about something found out later, as "columns.toml:31:1" or,
// for what a flag has set, "--size". column counts from 0; -1 stands for the keys outside of columns. A key
// that the column leaves out is looked for where its value comes from, then the place is the column's
// header, then the file. A column's "region" is also found as "box".
func (f *File) Where(column int, key string) string {
	if column >= 0 && column < len(f.tables) {
		t := f.tables[column]
		for _, name := range []string{key, map[string]string{"region": "box"}[key]} {
			if e := t.entry(name); e != nil {
				return f.source.where(e.at)
			}
		}
		inherited := key == "feather" || slices.Contains(responseKeys, key)
		if place := f.shared(key); inherited && place != "" {
			return place
		}
		return f.source.where(t.at)
	}
	if place := f.shared(key); place != "" {
		return place
	}
	return printable(f.Path)
}

// shared is the place of a key that holds for all columns, "" when it is not set.
func (f *File) shared(key string) string {
	if _, ok := f.overrides[key]; ok {
		return "--" + key
	}
	if e := f.root.entry(key); e != nil {
		return f.source.where(e.at)
	}
	if response := f.root.value("response"); response != nil && slices.Contains(responseKeys, key) {
		if e := response.table.entry(key); e != nil {
			return f.source.where(e.at)
		}
	}
	return ""
}
