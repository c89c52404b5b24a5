package main

import (
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/pflag"

	"colonnade/analyze/chart"
	"colonnade/analyze/levels"
	"colonnade/analyze/response"
	"colonnade/cmd/columnfile"
	"colonnade/compose/photos"
)

func listenCommand() command {
	return command{
		name: "listen", args: "FILE",
		short:   "song to levels: the level table, the envelopes, a summary",
		example: "colonnade listen -o levels.csv columns.toml",
		setup: func(flags *pflag.FlagSet, out streams) func([]string) error {
			f := new(listenFlags)
			flags.StringVarP(&f.table, "output", "o", "", "`FILE`: write the level table here (- for standard output)")
			flags.StringVar(&f.values, "envelopes", "", "`FILE`: write the envelopes here, RMS amplitude (- for standard output)")
			flags.StringVar(&f.chart, "chart", "", "`FILE`: draw envelopes and levels here, as .svg or .png")
			flags.StringVar(&f.levels, "levels", "", "`FILE`: take the levels from this table, edited by hand, to draw and to measure them")
			f.register(flags)
			return func(args []string) error { return listen(f, args, out) }
		},
	}
}

// listenFlags are the flags of listen beside those it shares: paths of files.
type listenFlags struct {
	inputs
	table, values, chart, levels string
}

func listen(f *listenFlags, args []string, out streams) error {
	file, err := f.read(args)
	if err != nil {
		return err
	}
	if err := keepInputs([]string{f.table, f.values, f.chart}, inputsOf(file, f.levels)); err != nil {
		return err
	}
	top, err := setTop(file)
	if err != nil {
		return err
	}
	h, err := hear(file, top)
	if err != nil {
		return err
	}
	if f.levels != "" {
		if err := h.takeLevels(f.levels, file, top); err != nil {
			return err
		}
	}
	part, err := f.span(file.Rate, span{h.table.First, h.table.First + len(h.table.Rows) - 1})
	if err != nil {
		return err
	}
	if f.chart != "" && chartKind(f.chart) == "" {
		return inputf("--chart: %s ends neither in .svg nor in .png; name it so", photos.Quote(f.chart))
	}
	if f.table == "-" && f.values == "-" {
		return inputf("listen: the level table and the envelopes can not both go to standard output; give one a file")
	}
	tell(out.stderr, file.Notes)
	if f.table != "" {
		cut := *h.table
		cut.First, cut.Rows = part.first, h.rows(part)
		if err := writeWhole(f.table, out.stdout, cut.Write); err != nil {
			return err
		}
	}
	if f.values != "" {
		rows := make([][]float64, 0, part.last-part.first+1)
		for n := part.first; n <= part.last; n++ {
			row := make([]float64, len(file.Columns))
			for c := range row {
				row[c] = h.envelopes.Values[c][n-1]
			}
			rows = append(rows, row)
		}
		write := func(w io.Writer) error { return levels.WriteValues(w, file.Rate, part.first, h.table.Names, rows) }
		if err := writeWhole(f.values, out.stdout, write); err != nil {
			return err
		}
	}
	if f.chart != "" {
		c := newChart(file, h, part)
		write := c.SVG
		if chartKind(f.chart) == ".png" {
			write = c.PNG
		}
		if err := writeWhole(f.chart, out.stdout, write); err != nil {
			return err
		}
	}
	words := out.stdout
	if f.table == "-" || f.values == "-" {
		words = out.stderr
	}
	summarise(words, file, h)
	tell(out.stderr, listenFlashing(file, h.table, part))
	return nil
}

// takeLevels puts the levels of a table in the place of those that the song gave.
func (h *heard) takeLevels(path string, file *columnfile.File, top int) error {
	table, err := readTable(path, file, top)
	if err != nil {
		return err
	}
	if frames := len(h.table.Rows); table.First+len(table.Rows)-1 > frames { // the song's length was not known before
		return beyondSong(path, table, file, frames)
	}
	h.table, h.levels = table, path
	h.summaries = response.Summarise(h.envelopes.Values, table.First, table.Rows, h.settings, file.Rate)
	return nil
}

// rows are the levels of some of the table's frames.
func (h *heard) rows(part span) [][]levels.Level {
	return h.table.Rows[part.first-h.table.First : part.last+1-h.table.First]
}

// chartKind is ".svg" or ".png", or "" for a name that ends in neither.
func chartKind(path string) string {
	if kind := strings.ToLower(filepath.Ext(path)); kind == ".svg" || kind == ".png" {
		return kind
	}
	return ""
}

// newChart draws a part of the song.
func newChart(file *columnfile.File, h *heard, part span) *chart.Chart {
	c := &chart.Chart{Title: orElse(h.info.Title, filepath.Base(file.Song)), Rate: file.Rate, First: part.first, Frames: part.last - part.first + 1, Waveform: h.waveform}
	for i, column := range file.Columns {
		set, s := h.settings[i], h.summaries[i]
		row := chart.Column{
			Name: column.Name, Follows: column.Part(),
			Envelope: h.envelopes.Values[i][part.first-1 : part.last], Lowest: set.Bottom, Highest: set.Top,
		}
		row.Rest, row.Top = set.Range(s.Reference)
		for _, levels := range h.rows(part) {
			row.Levels = append(row.Levels, levels[i])
		}
		c.Columns = append(c.Columns, row)
	}
	return c
}

// setTop is the highest level of the photo set. Without photos at hand it is the highest that the columns
// name, so that a song can be tuned before the shoot.
func setTop(file *columnfile.File) (int, error) {
	files, err := photos.Find(file.Photos)
	if err == nil {
		return len(files) - 1, nil
	}
	top := 0
	for _, column := range file.Columns {
		if column.Response.Top < 0 {
			return 0, input(err)
		}
		top = max(top, column.Response.Top)
	}
	return top, nil
}
