package levels

import (
	"bufio"
	"encoding/csv"
	"io"
	"strconv"

	"colonnade/analyze/timing"
)

// Write writes the table as CSV: the header frame,time,NAME…, then a row a frame. time is the second at which the
// frame begins to be shown.
func (t *Table) Write(w io.Writer) error {
	return writeRows(w, t.Rate, t.First, t.Names, len(t.Rows), func(i, c int) string { return t.Rows[i][c].String() })
}

// WriteValues writes envelopes under the same header: RMS amplitudes with seven decimals. rows[i] holds frame
// first+i, one value for each name.
func WriteValues(w io.Writer, rate timing.Rate, first int, names []string, rows [][]float64) error {
	return writeRows(w, rate, first, names, len(rows), func(i, c int) string { return strconv.FormatFloat(rows[i][c], 'f', 7, 64) })
}

func writeRows(w io.Writer, rate timing.Rate, first int, names []string, count int, cell func(i, c int) string) error {
	buffered := bufio.NewWriter(w)
	out := csv.NewWriter(buffered)
	record := append([]string{frameName, timeName}, names...)
	if err := out.Write(record); err != nil {
		return err
	}
	for i := range count {
		n := first + i
		record[0], record[1] = strconv.Itoa(n), strconv.FormatFloat(rate.Start(n), 'f', 6, 64)
		for c := range names {
			record[2+c] = cell(i, c)
		}
		if err := out.Write(record); err != nil {
			return err
		}
	}
	out.Flush()
	if err := out.Error(); err != nil {
		return err
	}
	return buffered.Flush()
}
