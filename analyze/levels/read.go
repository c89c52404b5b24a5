package levels

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"colonnade/analyze/timing"
)

// The names of the first two columns of a table.
const frameName, timeName = "frame", "time"

// MaxRows and MaxCells bound a table: 27 hours at 50 frames a second, and a quarter of a gigabyte.
const (
	MaxRows  = 5_000_000
	MaxCells = 60_000_000
)

// Read reads a level table as a spreadsheet may have left it: with commas, semicolons or tabs, decimal points or
// (but for commas) decimal commas, any line ends, a byte-order mark, empty lines at the end. name is the file's, for
// messages. The columns may come in any order; the table's are in the order of names. Frames are numbered upward
// without a gap from any first one. Levels lie between 0 and top.
func Read(name string, r io.Reader, rate timing.Rate, names []string, top int) (*Table, error) {
	reader, separator, err := openTable(name, r)
	if err != nil {
		return nil, err
	}
	header, err := reader.Read()
	if err != nil {
		return nil, syntax(name, err)
	}
	places, err := match(name, header, names)
	if err != nil {
		return nil, err
	}
	table := &Table{Rate: rate, Names: names}
	for {
		record, err := reader.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, syntax(name, err)
		}
		line, _ := reader.FieldPos(0)
		if blank(record) {
			continue
		}
		at := fmt.Sprintf("%s:%d", name, line)
		if len(record) != len(header) {
			return nil, fmt.Errorf("%s: %d cells, the header has %d; fill the row or take it out", at, len(record), len(header))
		}
		if err := table.add(at, record, places, top, separator); err != nil {
			return nil, err
		}
	}
	if len(table.Rows) == 0 {
		return nil, fmt.Errorf("%s: no frames below the header; write the table with colonnade listen -o", name)
	}
	return table, nil
}

// openTable skips a byte-order mark and finds the separator in the first line.
func openTable(name string, r io.Reader) (*csv.Reader, rune, error) {
	buffered := bufio.NewReaderSize(r, 1<<16)
	if mark, _ := buffered.Peek(3); bytes.Equal(mark, []byte("\ufeff")) {
		buffered.Discard(3)
	}
	if start, _ := buffered.Peek(2); len(start) == 2 && (start[0] == 0xff && start[1] == 0xfe || start[0] == 0xfe && start[1] == 0xff) {
		return nil, 0, fmt.Errorf("%s: is UTF-16 text; save it as CSV in UTF-8", name)
	}
	first, _ := buffered.Peek(buffered.Size())
	if len(first) == 0 {
		return nil, 0, fmt.Errorf("%s: is empty; write the table with colonnade listen -o", name)
	}
	first, _, _ = bytes.Cut(first, []byte("\n"))
	separator := ','
	for _, other := range []rune{';', '\t'} {
		if bytes.ContainsRune(first, other) && !bytes.HasPrefix(first, []byte(frameName+",")) {
			separator = other
		}
	}
	reader := csv.NewReader(buffered)
	reader.Comma = separator
	reader.FieldsPerRecord = -1
	reader.ReuseRecord = true
	return reader, separator, nil
}

func syntax(name string, err error) error {
	var bad *csv.ParseError
	if errors.As(err, &bad) {
		return fmt.Errorf("%s:%d: %w; check the quotes of that line", name, bad.Line, bad.Err)
	}
	return fmt.Errorf("%s: can not be read (%w); check the file", name, err)
}

// match gives the place of frame, of time and of each of names in the header.
func match(name string, header, names []string) ([]int, error) {
	wanted := append([]string{frameName, timeName}, names...)
	places := make([]int, len(wanted))
	byName := make(map[string]int, len(wanted))
	for i, w := range wanted {
		places[i] = -1
		byName[w] = i
	}
	for place, cell := range header {
		cell = strings.TrimSpace(cell)
		i, ok := byName[cell]
		if !ok {
			return nil, fmt.Errorf("%s:1: %q is no column of the column file, which has %s; rename it or take it out", name, cell, list(names))
		}
		if places[i] >= 0 {
			return nil, fmt.Errorf("%s:1: %q heads two columns of the table; take one out", name, cell)
		}
		places[i] = place
	}
	for i, place := range places {
		if place < 0 {
			return nil, fmt.Errorf("%s:1: no column %q; the header is %s,%s,%s", name, wanted[i], frameName, timeName, strings.Join(names, ","))
		}
	}
	return places, nil
}

func list(names []string) string {
	const most = 12
	quoted := make([]string, 0, most+1)
	for i, n := range names {
		if i == most {
			quoted = append(quoted, fmt.Sprintf("%d more", len(names)-most))
			break
		}
		quoted = append(quoted, strconv.Quote(n))
	}
	return strings.Join(quoted, ", ")
}

func blank(record []string) bool {
	for _, cell := range record {
		if strings.TrimSpace(cell) != "" {
			return false
		}
	}
	return true
}

// add appends a row after checking every cell of it.
func (t *Table) add(at string, record []string, places []int, top int, separator rune) error {
	cell := func(i int) string {
		text := strings.TrimSpace(record[places[i]])
		if separator != ',' {
			text = strings.Replace(text, ",", ".", 1)
		}
		return text
	}
	frame, err := strconv.Atoi(cell(0))
	if err != nil || frame < 1 || frame > math.MaxInt32 {
		return fmt.Errorf("%s: frame %q is not a number from 1; number the frames upward", at, cell(0))
	}
	if len(t.Rows) == 0 {
		t.First = frame
	} else if want := t.First + len(t.Rows); frame != want {
		return fmt.Errorf("%s: frame %d follows frame %d; every frame needs its row, in order", at, frame, want-1)
	}
	if len(t.Rows) >= MaxRows || (len(t.Rows)+1)*len(t.Names) > MaxCells {
		return fmt.Errorf("%s: the table is longer than %d rows or %d cells; cut it into parts", at, MaxRows, MaxCells)
	}
	seconds, err := strconv.ParseFloat(cell(1), 64)
	if err != nil || math.IsNaN(seconds) || math.IsInf(seconds, 0) {
		return fmt.Errorf("%s: time %q is not a number of seconds; write %.6f", at, cell(1), t.Rate.Start(frame))
	}
	if math.Abs(seconds-t.Rate.Start(frame)) > 0.5/t.Rate.PerSecond() {
		return fmt.Errorf("%s: frame %d at %g s is not of %s frames a second, where it begins at %.6f s; set fps to the table's, or listen again",
			at, frame, seconds, t.Rate, t.Rate.Start(frame))
	}
	row := make([]Level, len(t.Names))
	for c, name := range t.Names {
		level, err := parseLevel(cell(2 + c))
		if err != nil {
			return fmt.Errorf("%s: column %q: %w", at, name, err)
		}
		if level > Level(top)*One {
			return fmt.Errorf("%s: column %q: %s is above the highest level %d; lower it", at, name, level, top)
		}
		row[c] = level
	}
	t.Rows = append(t.Rows, row)
	return nil
}

// parseLevel reads a level with at most three decimals, without a detour over binary fractions.
func parseLevel(text string) (Level, error) {
	whole, decimals, _ := strings.Cut(text, ".")
	number, err := strconv.Atoi(whole)
	part := 0
	if err == nil && decimals != "" {
		decimals = strings.TrimRight(decimals, "0")
		if len(decimals) > 3 {
			return 0, fmt.Errorf("%q has more than three decimals; round it", text)
		}
		part, err = strconv.Atoi((decimals + "000")[:3])
	}
	if err != nil || number < 0 || part < 0 || strings.ContainsAny(text, "+-") {
		return 0, fmt.Errorf("%q is not a level; write a number from 0 up", text)
	}
	if number > math.MaxInt32/int(One)-1 {
		return 0, fmt.Errorf("%q is above every photo set; lower it", text)
	}
	return Level(number)*One + Level(part), nil
}
