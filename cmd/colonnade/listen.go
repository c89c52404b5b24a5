package main

import (
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/pflag"

	"colonnade/analyze/chart"
	"colonnade/analyze/levels"
	"colonnade/cmd/columnfile"
	"colonnade/compose/photos"
)

func listenCommand() command {
	return command{
		name: "listen", args: "FILE",
		short:   "song to levels: the level table, the envelopes, a summary",
		example: "colonnade listen -o levels.csv columns.toml",
		setup: func(flags *pflag.FlagSet, out streams) func([]string) error {
			in := new(inputs)
			table := flags.StringP("output", "o", "", "`FILE`: write the level table here (- for standard output)")
			values := flags.String("envelopes", "", "`FILE`: write the envelopes here, RMS amplitude (- for standard output)")
			drawing := flags.String("chart", "", "`FILE`: draw envelopes and levels here, as .svg or .png")
			in.register(flags)
			return func(args []string) error { return listen(in, args, *table, *values, *drawing, out) }
		},
	}
}

func listen(in *inputs, args []string, tablePath, valuesPath, chartPath string, out streams) error {
	file, err := in.read(args)
	if err != nil {
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
	part, err := in.span(file.Rate, span{1, len(h.table.Rows)})
	if err != nil {
		return err
	}
	if chartPath != "" && chartKind(chartPath) == "" {
		return inputf("--chart: %s ends neither in .svg nor in .png; name it so", photos.Quote(chartPath))
	}
	if tablePath == "-" && valuesPath == "-" {
		return inputf("listen: the level table and the envelopes can not both go to standard output; give one a file")
	}
	tell(out.stderr, file.Notes)
	if tablePath != "" {
		cut := *h.table
		cut.First, cut.Rows = part.first, h.table.Rows[part.first-1:part.last]
		if err := writeWhole(tablePath, out.stdout, cut.Write); err != nil {
			return err
		}
	}
	if valuesPath != "" {
		rows := make([][]float64, 0, part.last-part.first+1)
		for n := part.first; n <= part.last; n++ {
			row := make([]float64, len(file.Columns))
			for c := range row {
				row[c] = h.envelopes.Values[c][n-1]
			}
			rows = append(rows, row)
		}
		write := func(w io.Writer) error { return levels.WriteValues(w, file.Rate, part.first, h.table.Names, rows) }
		if err := writeWhole(valuesPath, out.stdout, write); err != nil {
			return err
		}
	}
	if chartPath != "" {
		c := newChart(file, h, part)
		write := c.SVG
		if chartKind(chartPath) == ".png" {
			write = c.PNG
		}
		if err := writeWhole(chartPath, out.stdout, write); err != nil {
			return err
		}
	}
	words := out.stdout
	if tablePath == "-" || valuesPath == "-" {
		words = out.stderr
	}
	summarise(words, file, h)
	return nil
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
	c := &chart.Chart{Title: filepath.Base(file.Song), Rate: file.Rate, First: part.first, Frames: part.last - part.first + 1, Waveform: h.waveform}
	for i, column := range file.Columns {
		set, s := h.settings[i], h.summaries[i]
		row := chart.Column{
			Name: column.Name, Follows: column.Part(),
			Envelope: h.envelopes.Values[i][part.first-1 : part.last], Lowest: set.Bottom, Highest: set.Top,
		}
		row.Rest, row.Top = set.Range(s.Reference)
		for n := part.first; n <= part.last; n++ {
			row.Levels = append(row.Levels, h.table.Rows[n-1][i])
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
