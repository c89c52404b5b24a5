package levels

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"slices"
	"strconv"
	"strings"

	"colonnade/analyze/timing"
)

const (
	maxColumns = 1000
	maxRows    = 5_000_000  // 23 hours at 60 frames a second
	maxCells   = 50_000_000 // what a table may hold in all: 200 megabytes
	maxLine    = 1 << 20    // bytes; a thousand long names take less
	// rowsAtOnce are made together, so that a long table is not a million small pieces of memory.
	rowsAtOnce = 1024
)

// Read reads a table for the columns called names, of levels from 0 to top, at a frame rate; the table's columns come
// in the order of names whatever their order in the file. name is the file's, for errors.
//
// It takes what Write writes and what spreadsheets make of it: commas, semicolons or tabs between fields, a decimal
// comma with the latter two, quoted fields, either line ending, a byte order mark, empty lines at the end. It refuses
// missing, unknown and repeated columns, frames that do not follow one another, times that are another frame rate's,
// and levels below 0, above top or finer than a thousandth. Errors name the line and the column.
func Read(name string, r io.Reader, rate timing.Rate, names []string, top int) (*Table, error) {
	if err := checkNames(names); err != nil {
		return nil, err
	}
	return newTableReader(name, r, rate, names, top).read()
}

type tableReader struct {
	name      string
	lines     *bufio.Scanner
	line      int // number of the line in hand, from 1
	emptyLine int // number of the first empty line since the last row, or 0
	separator byte
	fields    []string // of the line in hand
	names     []string
	top       int
	maxRows   int // rows and levels that the table may have
	maxCells  int
	header    []string
	columns   []int // for each field the column it is for, or one of the two below
	table     *Table
	free      []Level // made for rows to come
}

const (
	isFrame = -1
	isTime  = -2
)

func newTableReader(name string, r io.Reader, rate timing.Rate, names []string, top int) *tableReader {
	t := &tableReader{name: name, lines: bufio.NewScanner(r), names: names, top: top, maxRows: maxRows, maxCells: maxCells,
		table: &Table{Rate: rate, Names: slices.Clone(names)}}
	t.lines.Buffer(make([]byte, 0, 4096), maxLine)
	return t
}

func (t *tableReader) read() (*Table, error) {
	if err := t.readHeader(); err != nil {
		return nil, err
	}
	for {
		more, err := t.readRow()
		if err != nil {
			return nil, err
		}
		if !more {
			break
		}
	}
	if len(t.table.Rows) == 0 {
		return nil, t.fault("the table has no rows; make it anew from the song")
	}
	return t.table, nil
}

// fault is an error in the line in hand.
func (t *tableReader) fault(format string, args ...any) error {
	return fmt.Errorf("%s:%d: %s", t.name, max(1, t.line), fmt.Sprintf(format, args...))
}

// next reads a line into fields; it gives false at the end.
func (t *tableReader) next() (bool, error) {
	if !t.lines.Scan() {
		err := t.lines.Err()
		switch {
		case errors.Is(err, bufio.ErrTooLong):
			t.line++
			return false, t.fault("the line is longer than %d bytes; a level table has a short line for each frame", maxLine)
		case err != nil:
			var path *fs.PathError
			if errors.As(err, &path) { // the name is said already
				err = path.Err
			}
			return false, fmt.Errorf("%s: the table can not be read (%w); check the file", t.name, err)
		}
		return false, nil
	}
	t.line++
	line := t.lines.Bytes()
	if t.line == 1 {
		if bytes.HasPrefix(line, []byte("\xff\xfe")) || bytes.HasPrefix(line, []byte("\xfe\xff")) {
			return false, t.fault("the table is in UTF-16; save it as CSV in UTF-8")
		}
		line = bytes.TrimPrefix(line, []byte("\xef\xbb\xbf"))
		t.separator = separatorOf(line)
	}
	return true, t.split(string(line))
}

// separatorOf is the first of comma, semicolon and tab that is not quoted.
func separatorOf(header []byte) byte {
	inside := false
	for _, c := range header {
		switch c {
		case '"':
			inside = !inside
		case ',', ';', '\t':
			if !inside {
				return c
			}
		}
	}
	return ','
}

// split cuts a line into fields, without the spaces and quotes around them.
func (t *tableReader) split(line string) error {
	t.fields = t.fields[:0]
	for {
		if len(t.fields) > maxColumns+2 {
			return t.fault("the line has more than %d fields; at most %d columns are taken", maxColumns+2, maxColumns)
		}
		if rest := strings.TrimLeft(line, " "); strings.HasPrefix(rest, `"`) {
			field, behind, ok := cutQuoted(rest)
			if !ok {
				return t.fault("field %d has a quote that is not closed or not at its end; write it as \"name\"", len(t.fields)+1)
			}
			t.fields = append(t.fields, strings.TrimSpace(field))
			if behind = strings.TrimLeft(behind, " "); behind == "" {
				return nil
			} else if behind[0] != t.separator {
				return t.fault("field %d has a quote that is not closed or not at its end; write it as \"name\"", len(t.fields))
			}
			line = behind[1:]
			continue
		}
		field, rest, more := strings.Cut(line, string(rune(t.separator)))
		t.fields = append(t.fields, strings.TrimSpace(field))
		if !more {
			return nil
		}
		line = rest
	}
}

// cutQuoted cuts the quoted field that text begins with from what is behind it. A doubled quote stands for one.
func cutQuoted(text string) (field, behind string, ok bool) {
	for i := 1; i < len(text); i++ {
		if text[i] != '"' {
			continue
		}
		if i+1 < len(text) && text[i+1] == '"' {
			i++
			continue
		}
		return strings.ReplaceAll(text[1:i], `""`, `"`), text[i+1:], true
	}
	return "", "", false
}

func (t *tableReader) isEmpty() bool {
	for _, field := range t.fields {
		if field != "" {
			return false
		}
	}
	return true
}

func (t *tableReader) readHeader() error {
	more, err := t.next()
	if err != nil {
		return err
	}
	if !more || t.isEmpty() {
		return t.fault("there is no header; the first line is frame,time and the columns' names")
	}
	known := map[string]int{frameColumn: isFrame, timeColumn: isTime}
	wanted := []string{frameColumn, timeColumn}
	for i, name := range t.names {
		known[strings.TrimSpace(name)] = i
		wanted = append(wanted, strings.TrimSpace(name))
	}
	seen := map[string]bool{}
	for _, field := range t.fields {
		column, ok := known[field]
		if !ok {
			if near := nearest(field, wanted); near != "" {
				return t.fault("column %q is not known; the nearest name is %q", shortened(field), near)
			}
			return t.fault("column %q is not known; take it out, or add it to the column file", shortened(field))
		}
		if seen[field] {
			return t.fault("column %q is there twice; take one out", field)
		}
		seen[field] = true
		t.columns = append(t.columns, column)
		t.header = append(t.header, field)
	}
	for _, name := range wanted {
		if !seen[name] {
			return t.fault("column %q is missing; add it, or make the table anew from the song", name)
		}
	}
	return nil
}

// readRow adds a row to the table; it gives false at the end.
func (t *tableReader) readRow() (bool, error) {
	more, err := t.next()
	if !more || err != nil {
		return false, err
	}
	if t.isEmpty() {
		if t.emptyLine == 0 {
			t.emptyLine = t.line
		}
		return true, nil
	}
	if t.emptyLine != 0 {
		return false, fmt.Errorf("%s:%d: the line is empty, but rows follow; take it out", t.name, t.emptyLine)
	}
	if len(t.fields) != len(t.header) {
		hint := ""
		if t.separator == ',' && len(t.fields) > len(t.header) {
			hint = ", with points in numbers or semicolons between fields"
		}
		return false, t.fault("%d fields under %d column names; write one field for each%s", len(t.fields), len(t.header), hint)
	}
	table := t.table
	if len(table.Rows) == t.maxRows || (len(table.Rows)+1)*len(t.names) > t.maxCells {
		return false, t.fault("the table is longer than %d rows or %d levels; cut it in parts", t.maxRows, t.maxCells)
	}
	if len(t.free) < len(t.names) {
		t.free = make([]Level, rowsAtOnce*len(t.names))
	}
	row := t.free[:len(t.names):len(t.names)]
	t.free = t.free[len(t.names):]
	if err := t.checkFrame(); err != nil {
		return false, err
	}
	for i, column := range t.columns {
		if column >= 0 {
			if row[column], err = t.level(i); err != nil {
				return false, err
			}
		}
	}
	table.Rows = append(table.Rows, row)
	return true, nil
}

// checkFrame holds the row's number and time against the rows before it and the frame rate.
func (t *tableReader) checkFrame() error {
	frame, seconds := 0, 0.0
	for i, column := range t.columns {
		var err error
		text := t.fields[i]
		switch column {
		case isFrame:
			if frame, err = strconv.Atoi(text); err != nil || frame < 1 || frame > math.MaxInt32 || text[0] == '+' {
				return t.fault("column %q: %q is not a frame number; frames are counted from 1", frameColumn, shortened(text))
			}
		case isTime:
			if seconds, err = strconv.ParseFloat(withPoint(text), 64); err != nil || !(math.Abs(seconds) < math.MaxInt32) {
				return t.fault("column %q: %q is not a number of seconds; write it as 62.5", timeColumn, shortened(text))
			}
		}
	}
	table := t.table
	if len(table.Rows) == 0 {
		table.First = frame
	} else if want := table.First + len(table.Rows); frame != want {
		return t.fault("column %q: %d follows %d; number the rows one after another", frameColumn, frame, want-1)
	}
	perSecond := table.Rate.PerSecond()
	if off := seconds*perSecond - float64(frame-1); !(math.Abs(off) <= 0.5) {
		about := ""
		if fps := float64(frame-1) / seconds; fps >= 0.5 && fps < 1000 {
			about = fmt.Sprintf(", about %.4g", fps)
		}
		return t.fault("column %q: frame %d is at %g s, but at %s frames a second it begins at %.6f s; give the fps that the table is for%s, or make it anew",
			timeColumn, frame, seconds, table.Rate, table.Rate.Start(frame), about)
	}
	return nil
}

// level reads field i.
func (t *tableReader) level(i int) (Level, error) {
	text := t.fields[i]
	bad := func(what string) (Level, error) {
		return 0, t.fault("column %q: %q %s; write a level from 0 to %d", t.header[i], shortened(text), what, t.top)
	}
	if text == "" {
		return 0, t.fault("column %q: the level is missing; write one from 0 to %d", t.header[i], t.top)
	}
	whole, decimals, _ := strings.Cut(withPoint(text), ".")
	decimals = strings.TrimRight(decimals, "0")
	negative := strings.HasPrefix(whole, "-")
	if whole = strings.TrimPrefix(whole, "-"); whole == "" || !onlyDigits(whole) || !onlyDigits(decimals) {
		return bad("is not a number")
	}
	if len(decimals) > 3 {
		return bad("is finer than a thousandth")
	}
	whole = strings.TrimLeft(whole, "0")
	thousandths := int64(math.MaxInt64)
	if len(whole) < 10 { // more digits are above any top
		thousandths, _ = strconv.ParseInt("0"+whole+(decimals + "000")[:3], 10, 64)
	}
	switch {
	case negative && thousandths > 0:
		return 0, t.fault("column %q: %s is below the lowest level 0; write a level from 0 to %d", t.header[i], shortened(text), t.top)
	case thousandths > int64(t.top)*int64(One):
		return 0, t.fault("column %q: %s is above the highest level %d; lower it, or add the photos that it needs", t.header[i], shortened(text), t.top)
	}
	return Level(thousandths), nil
}

func onlyDigits(text string) bool {
	for _, c := range text {
		if c < '0' || c > '9' {
			return false
		}
	}
	return true
}

// withPoint is a number with a point where it has a decimal comma. Between commas a field cannot hold one.
func withPoint(text string) string { return strings.Replace(text, ",", ".", 1) }

// shortened is a text of a stranger as it may stand in a message.
func shortened(text string) string {
	const longest = 40
	if len(text) > longest {
		return text[:longest] + "..."
	}
	return text
}
