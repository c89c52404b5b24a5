package main

import (
	"bytes"
	"fmt"
	"image"
	"io"
	"math"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/pflag"

	"colonnade/analyze/envelope"
	"colonnade/analyze/flash"
	"colonnade/analyze/shoot"
	"colonnade/cmd/columnfile"
	"colonnade/compose/photos"
	"colonnade/compose/proof"
	"colonnade/compose/proof/sound"
)

// Limits of the page's picture, in pixels.
const narrowest, widest = 16, 4096

// proofFlags are the flags of proof beside those it shares.
type proofFlags struct {
	inputs
	output, levels string
	width          int
}

func proofCommand() command {
	return command{
		name: "proof", args: "FILE",
		short:   "one HTML page that plays the piece with sound, and tunes it",
		example: "colonnade proof -o proof.html columns.toml",
		setup: func(flags *pflag.FlagSet, out streams) func([]string) error {
			f := new(proofFlags)
			flags.StringVarP(&f.output, "output", "o", "proof.html", "`FILE`: write the page here (- for standard output)")
			flags.IntVar(&f.width, "width", 960, "`PIXELS`: width of the page's picture")
			flags.StringVar(&f.levels, "levels", "", "`FILE`: take the levels from this table; there is nothing to tune then")
			f.register(flags)
			return func(args []string) error { return makeProof(f, args, out) }
		},
	}
}

func makeProof(f *proofFlags, args []string, out streams) error {
	if f.width < narrowest || f.width > widest {
		return inputf("--width: %d is outside %d to %d pixels; 960 is a good width", f.width, narrowest, widest)
	}
	if f.output == "" {
		return inputf("--output: an empty name; name a file")
	}
	file, err := f.read(args)
	if err != nil {
		return err
	}
	if err := keepInputs([]string{f.output}, inputsOf(file, f.levels)); err != nil {
		return err
	}
	if err := fitPicture(file, f.width); err != nil {
		return err
	}
	page := &proof.Page{Dissolve: file.Dissolve, FileName: filepath.Base(file.Path), FileText: file.Text()}
	var noticed remarks
	if page.Scene, err = openScene(file, &noticed); err != nil {
		return err
	}
	// Photos are decoded while the song is heard. What is wrong with one is met again when the page is written.
	go func() {
		for level := range page.Scene.Set.Photos {
			page.Scene.Photo(level)
		}
	}()
	top := page.Scene.Set.Top()
	if f.levels != "" {
		if page.Table, err = readTable(f.levels, file, top); err != nil {
			return err
		}
		if page.Columns, err = proofColumns(file, top); err != nil {
			return err
		}
	} else {
		h, err := hear(file, top)
		if err != nil {
			return err
		}
		page.Table, page.Envelopes = h.table, h.envelopes.Values
		if page.Columns, err = proofColumns(file, top); err != nil {
			return err
		}
		page.Warnings = silentColumns(file, h)
	}
	part, err := f.span(file.Rate, span{page.Table.First, page.Table.First + len(page.Table.Rows) - 1})
	if err != nil {
		return err
	}
	page.First, page.Last = part.first, part.last
	warnings, err := flashWarnings(page.Scene, page.Table, part)
	if err != nil {
		return err
	}
	for _, w := range warnings {
		page.Warnings = append(page.Warnings, proof.Warning{First: w.First, Last: w.Last, Text: "Flashing: " + w.What() + "; " + w.Remedy, Flash: true})
	}
	if len(warnings) > 0 {
		page.Warnings = append(page.Warnings, proof.Warning{Text: flash.Caution})
	}
	// What check would call a fault stands on the page too. What keeps it from looking ends the page below.
	if found, err := newChecked(file, page.Scene).look(); err == nil {
		for _, fault := range shoot.Judge(found).Faults {
			page.Warnings = append(page.Warnings, proof.Warning{Text: fmt.Sprintf("%s: %s; %s", fault.Where, fault.What, fault.Remedy)})
		}
	}
	title := file.Path
	if file.Song != "" {
		title = file.Song
		if err := recordSong(page, file, f.levels == ""); err != nil {
			return err
		}
	}
	if page.Title == "" {
		page.Title = filepath.Base(title)
	}
	page.Facts = fmt.Sprintf("%s to %s, frames %d to %d at %s a second, %d columns, levels 0 to %d", flash.Clock(file.Rate.Start(part.first)),
		flash.Clock(file.Rate.Start(part.last+1)), part.first, part.last, file.Rate, len(file.Columns), top)
	var whole bytes.Buffer
	if err := page.Write(&whole); err != nil {
		return input(err)
	}
	if whole.Len() > proof.Budget {
		file.Notes = append(file.Notes, fmt.Sprintf("proof: the page has %s, more than %s; give a smaller --width, or a part by --from and --to", formatBytes(int64(whole.Len())), formatBytes(proof.Budget)))
	}
	tell(out.stderr, file.Notes)
	noticed.flow(func(lines []string) { tell(out.stderr, lines) })
	write := func(w io.Writer) error {
		_, err := w.Write(whole.Bytes())
		return err
	}
	if err := writeWhole(f.output, out.stdout, write); err != nil {
		return err
	}
	if f.output != "-" {
		fmt.Fprintf(out.stdout, "%s: %s, %s; open it in a browser\n", photos.Quote(f.output), formatBytes(int64(whole.Len())), count(part.last-part.first+1, "frame"))
	}
	return nil
}

// fitPicture makes the frame as wide as the page's picture, and no larger than it is.
func fitPicture(file *columnfile.File, width int) error {
	size := file.Size
	shape := [2]float64{float64(size.X), float64(size.Y)}
	switch {
	case size != (image.Point{}):
	case file.Crop != nil:
		shape = [2]float64{file.Crop[2], file.Crop[3]}
	default:
		files, err := photos.Find(file.Photos)
		if err != nil {
			return input(err)
		}
		photo, err := photos.Open(files[0])
		if err != nil {
			return input(err)
		}
		shape = [2]float64{float64(photo.Size.X), float64(photo.Size.Y)}
	}
	file.Size = proof.PictureSize(shape[0], shape[1], width)
	return nil
}

// proofColumns are the columns as the page needs them.
func proofColumns(file *columnfile.File, top int) ([]proof.Column, error) {
	settings, err := responses(file, top)
	if err != nil {
		return nil, err
	}
	var columns []proof.Column
	for i, column := range file.Columns {
		s := settings[i]
		low, high := column.Band.LowHz, column.Band.HighHz
		if !hasEdges(column.Band) {
			low, high = 0, 0
		}
		tunable := hasEdges(column.Band) && column.Channel == envelope.Both && !column.Onset
		out := proof.Column{Name: column.Name, BandTunable: tunable, Line: lineOf(file.Where(i, "")), Keys: map[string]int{},
			Response: proof.Response{Shared: s.Shared, Clip: s.Clip, Floor: s.Floor, Curve: s.Curve, Gain: s.Gain, Attack: s.Attack, Release: s.Release,
				Hold: s.Hold, Top: s.Top, Bottom: s.Bottom, Low: low, High: high}}
		for _, key := range []string{"name", "band", "gain", "floor", "curve", "attack", "release", "hold", "top"} {
			// Where gives the place of what the column inherits, too, and of its header.
			if place := file.Where(i, key); place != file.Where(-1, key) && lineOf(place) != out.Line {
				out.Keys[key] = lineOf(place)
			}
		}
		columns = append(columns, out)
	}
	return columns, nil
}

// hasEdges is whether a band has a lower and an upper edge, and so is not all of the song.
func hasEdges(band envelope.Band) bool { return band.LowHz > 0 && !math.IsInf(band.HighHz, 1) }

// lineOf is the line of a place, "columns.toml:31:1", 0 for a place that has none.
func lineOf(place string) int {
	parts := strings.Split(place, ":")
	if len(parts) < 3 {
		return 0
	}
	line, err := strconv.Atoi(parts[len(parts)-2])
	if err != nil {
		return 0
	}
	return line
}

// silentColumns warns of columns that never move.
func silentColumns(file *columnfile.File, h *heard) []proof.Warning {
	var out []proof.Warning
	for i, column := range file.Columns {
		if h.summaries[i].Silent {
			out = append(out, proof.Warning{Text: fmt.Sprintf("%s stays at its bottom level: its band holds no sound.", column.Name)})
		}
	}
	return out
}

// recordSong hears the song for the page: the part that is played, and what its bands can be read from.
func recordSong(page *proof.Page, file *columnfile.File, tunable bool) error {
	source, err := openSong(file)
	if err != nil {
		return err
	}
	defer source.Close()
	info := source.Info()
	page.Title = info.Title
	sample := func(frame int) int64 { return int64(file.Rate.Start(frame)*float64(info.Rate) + 0.5) }
	end := sample(page.Last + 1)
	if info.Frames > 0 {
		end = min(end, info.Frames)
	}
	recorder := sound.Record(source, info.Rate, info.Channels, sample(page.First), end, proof.TrackBudget)
	if tunable {
		var bands []envelope.Band
		for _, column := range file.Columns {
			if hasEdges(column.Band) {
				bands = append(bands, column.Band)
			}
		}
		page.Bank, err = sound.Measure(recorder, info.Rate, info.Channels, sound.Edges(info.Rate, bands), file.Rate)
	} else {
		err = sound.Drain(recorder, info.Channels)
	}
	if err != nil {
		return input(err)
	}
	if page.Track, err = recorder.Track(proof.TrackBudget); err != nil {
		return input(err)
	}
	return nil
}
