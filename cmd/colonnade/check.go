package main

import (
	"errors"
	"fmt"
	"image/png"
	"io"
	"io/fs"
	"os"
	"strings"

	"github.com/spf13/pflag"

	"colonnade/analyze/flash"
	"colonnade/analyze/shoot"
	"colonnade/analyze/shoot/sheet"
	"colonnade/cmd/columnfile"
	"colonnade/compose/light"
	"colonnade/compose/photos"
	"colonnade/compose/profile"
	"colonnade/compose/scene"
)

func checkCommand() command {
	return command{
		name: "check", args: "FILE, or PHOTOS: a folder, or a glob in quotes",
		short:   "tells every fault of the photo set and the regions that would show in the video",
		example: "colonnade check --sheet sheet.png columns.toml",
		setup: func(flags *pflag.FlagSet, out streams) func([]string) error {
			in := new(inputs)
			asJSON := flags.Bool("json", false, "write one JSON object")
			picture := flags.String("sheet", "", "`PNG`: draw the photos with their regions and faults, and curves of light and shift")
			in.register(flags)
			return func(args []string) error { return check(in, args, *asJSON, *picture, out) }
		},
	}
}

// checked is a photo set to be checked.
type checked struct {
	name    string // of the column file or the folder
	set     *photos.Set
	base    *photos.Photo
	curve   *light.Curve
	columns []shoot.Column
	places  []string // of the columns in the column file
	steady  []string
	scale   float64 // frame pixels a photo pixel
	notes   []string

	file  *columnfile.File // nil for a folder of photos
	scene *scene.Scene     // nil for a folder of photos
}

func check(in *inputs, args []string, asJSON bool, picture string, out streams) error {
	if err := namedPNG("--sheet", picture); err != nil {
		return err
	}
	if picture == "-" && asJSON {
		return inputf("check: the sheet and the JSON object can not both go to standard output; give the sheet a file")
	}
	c, err := in.checked(args)
	if err != nil {
		return err
	}
	read := []string{c.base.Path}
	if c.file != nil {
		read = inputsOf(c.file, "")
	}
	for _, photo := range c.set.Photos {
		read = append(read, photo.Path)
	}
	if err := keepInputs([]string{picture}, read); err != nil {
		return err
	}
	found, err := c.look()
	if err != nil {
		return input(err)
	}
	report := shoot.Judge(found)
	warnings, err := c.flashing(in)
	if err != nil {
		return err
	}
	for _, w := range warnings {
		report.Faults = append(report.Faults, shoot.Finding{Where: "flashing, " + w.Where(), What: w.What(), Remedy: w.Remedy})
	}
	if len(warnings) > 0 {
		c.notes = append(c.notes, flash.Caution)
	}
	tell(out.stderr, c.notes)
	if picture != "" {
		drawn, err := sheet.Draw(c.name, found, report)
		if err != nil {
			return err
		}
		if err := writeWhole(picture, out.stdout, func(w io.Writer) error { return png.Encode(w, drawn) }); err != nil {
			return err
		}
	}
	words := out.stdout
	if picture == "-" {
		words = out.stderr
	}
	if asJSON {
		err = writeCheckJSON(words, c, found, report)
	} else {
		writeCheckTable(words, c, found, report)
	}
	if err == nil && len(report.Faults) > 0 {
		return statusError{status: statusFault}
	}
	return err
}

// checked reads a column file, or opens photos that have none yet: a folder, or a glob.
func (in *inputs) checked(args []string) (*checked, error) {
	if len(args) > 1 {
		return nil, inputf("check: one column file is needed, %d given; write colonnade check columns.toml, or name photos by their folder or a glob in quotes", len(args))
	}
	if len(args) == 1 {
		info, err := os.Stat(args[0])
		if err == nil && info.IsDir() || errors.Is(err, fs.ErrNotExist) && strings.ContainsAny(args[0], "*?[") {
			return in.folder(args[0])
		}
	}
	file, err := in.read(args)
	if err != nil {
		return nil, err
	}
	s, err := openScene(file, nil)
	if err != nil {
		return nil, err
	}
	if _, err := responses(file, s.Set.Top()); err != nil {
		return nil, err
	}
	return newChecked(file, s), nil
}

// newChecked is what a piece's photo set and regions are checked as.
func newChecked(file *columnfile.File, s *scene.Scene) *checked {
	c := &checked{name: file.Path, set: s.Set, base: s.Base, curve: s.Profile().Curve, columns: shootColumns(file, s.Set.Top()),
		steady: file.Steady, scale: s.View.Scale(), notes: file.Notes, file: file, scene: s}
	for i := range file.Columns {
		c.places = append(c.places, file.Where(i, "region"))
	}
	return c
}

// flashing looks for flashing where there is a song to play the columns.
func (c *checked) flashing(in *inputs) ([]flash.Warning, error) {
	if c.file == nil || c.file.Song == "" {
		return nil, nil
	}
	if _, err := os.Stat(c.file.Song); err != nil {
		c.notes = append(c.notes, fmt.Sprintf("song: %s is not there (%v), so flashing was not looked for; name the song, or give --song", photos.Quote(c.file.Song), photos.Cause(err)))
		return nil, nil
	}
	h, err := hear(c.file, c.set.Top())
	if err != nil {
		return nil, err
	}
	c.notes = c.file.Notes
	part, err := in.span(c.file.Rate, span{1, len(h.table.Rows)})
	if err != nil {
		return nil, err
	}
	defer c.scene.Drop()
	return flashWarnings(c.scene, h.table, part)
}

// folder opens a folder of photos. The flags are read as a column file's would be.
func (in *inputs) folder(path string) (*checked, error) {
	values := map[string]string{"photos": path}
	for _, key := range overridable {
		if !in.flags.Changed(key.key) {
			continue
		}
		if key.key != "base" && key.key != "steady" {
			return nil, inputf("check: --%s is of no use with a folder of photos; give it a column file, or leave it out", key.key)
		}
		values[key.key] = in.flags.Lookup(key.key).Value.String()
	}
	file, err := columnfile.Parse(path, []byte("[[column]]\nname = \"any\"\nband = [100, 200]\nbox = [0, 0, 1, 1]\n"), values)
	if err != nil {
		return nil, input(err)
	}
	set, err := photos.OpenSet(file.Photos)
	if err != nil {
		return nil, input(err)
	}
	if set.Top() < 1 {
		return nil, inputf("photos: %s holds one photo; a set needs the empty stage and at least one level", photos.Quote(path))
	}
	base, err := basePhoto(file, set)
	if err == nil {
		err = set.Agrees(base)
	}
	if err != nil {
		return nil, input(err)
	}
	return &checked{name: path, set: set, base: base, curve: profile.Read(set.Profile()).Curve, steady: file.Steady, scale: 1}, nil
}

// size is the photos' size in words.
func (c *checked) size() string { return fmt.Sprintf("%d x %d", c.set.Size.X, c.set.Size.Y) }
