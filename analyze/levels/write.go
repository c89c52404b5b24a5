package levels

import (
	"bufio"
	"fmt"
	"io"
	"strconv"
	"strings"

	"colonnade/analyze/timing"
)

// The columns that a table has beside those of its names.
const (
	frameColumn = "frame"
	timeColumn  = "time"
)

// Write writes the table as CSV: the header frame,time,NAME..., then a row a frame with its number, the second at which it
// begins to six decimals, and the levels, whole or to three decimals. Names that could be mistaken are quoted.
//
// It refuses names that Read could not tell apart, before anything is written, and a row that is not as long as the names.
// Any other error is that of w.
func (t *Table) Write(w io.Writer) error {
	return writeRows(w, t.Rate, t.First, t.Names, t.Rows, appendLevel)
}

// WriteValues writes RMS amplitudes like a table: rows[i] holds frame first+i, one value for each name, to seven
// decimals, which tells apart what the envelopes do. Its errors are those of Table.Write.
func WriteValues(w io.Writer, rate timing.Rate, first int, names []string, rows [][]float64) error {
	return writeRows(w, rate, first, names, rows, func(line []byte, v float64) []byte {
		return strconv.AppendFloat(line, v, 'f', 7, 64)
	})
}

func writeRows[V any](w io.Writer, rate timing.Rate, first int, names []string, rows [][]V, appendValue func([]byte, V) []byte) error {
	if err := checkNames(names); err != nil {
		return err
	}
	buffered := bufio.NewWriter(w)
	line := []byte(frameColumn + "," + timeColumn)
	for _, name := range names {
		line = append(append(line, ','), quoted(name)...)
	}
	for i, row := range rows {
		if len(row) != len(names) {
			return fmt.Errorf("level table: frame %d has %d values for %d columns; give one for each", first+i, len(row), len(names))
		}
		if _, err := buffered.Write(append(line, '\n')); err != nil {
			return err
		}
		line = strconv.AppendInt(line[:0], int64(first)+int64(i), 10)
		line = append(line, ',')
		line = strconv.AppendFloat(line, rate.Start(first+i), 'f', 6, 64)
		for _, v := range row {
			line = appendValue(append(line, ','), v)
		}
	}
	if _, err := buffered.Write(append(line, '\n')); err != nil {
		return err
	}
	return buffered.Flush()
}

func appendLevel(line []byte, l Level) []byte { return append(line, l.String()...) }

// quoted is the name as it stands in a header.
func quoted(name string) string {
	if name != strings.TrimSpace(name) || strings.ContainsAny(name, ",;\t\"") {
		return `"` + strings.ReplaceAll(name, `"`, `""`) + `"`
	}
	return name
}

// checkNames refuses what cannot be a header.
func checkNames(names []string) error {
	if len(names) > maxColumns {
		return fmt.Errorf("level table: %d columns; at most %d are taken", len(names), maxColumns)
	}
	seen := map[string]bool{}
	for _, name := range names {
		key := strings.TrimSpace(name)
		switch {
		case key == "":
			return fmt.Errorf("level table: a column has no name; give it one")
		case key == frameColumn || key == timeColumn:
			return fmt.Errorf("level table: column %q is called like one that every table has; give it another name", name)
		case strings.ContainsAny(name, "\r\n"):
			return fmt.Errorf("level table: column %q has a line break in its name; take it out", name)
		case seen[key]:
			return fmt.Errorf("level table: column %q is there twice; give each a name of its own", name)
		}
		seen[key] = true
	}
	return nil
}
