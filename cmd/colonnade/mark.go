package main

import (
	"errors"
	"fmt"
	"image/png"
	"io"
	"os"
	"path/filepath"
	"strings"
	"unicode/utf8"

	"github.com/spf13/pflag"

	"colonnade/analyze/mark"
	"colonnade/compose/photos"
	"colonnade/compose/picture"
)

func markCommand() command {
	return command{
		name: "mark", args: "PHOTOS, or a column file with --page",
		short:   "finds the columns in a photo set and writes a column file",
		example: "colonnade mark --picture marks.png photos",
		setup: func(flags *pflag.FlagSet, out streams) func([]string) error {
			output := flags.StringP("output", "o", "columns.toml", "`FILE`: write the column file here (- for standard output)")
			picture := flags.String("picture", "", "`FILE`: write a picture of the regions here, a PNG with rulers in pixels of the photo")
			page := flags.String("page", "", "`FILE`: write a page here on which the regions are set by hand in a browser; with a column file for PHOTOS, of its regions")
			columns := flags.Int("columns", 0, "`N`: how many columns there are, where it counts wrong")
			force := flags.Bool("force", false, "write over files that are there")
			return func(args []string) error {
				if len(args) != 1 {
					return inputf("mark: one photo set is needed, %d given; name its folder, or a glob in quotes", len(args))
				}
				if *page != "" && strings.EqualFold(filepath.Ext(args[0]), ".toml") {
					if *picture != "" || flags.Changed("output") || flags.Changed("columns") {
						return inputf("mark: %s has its regions already; give --page alone with it, or name the photos", photos.Quote(args[0]))
					}
					return writeRegions(*page, args[0], out)
				}
				m := &marking{photos: args[0], output: *output, picture: *picture, page: *page, columns: *columns, force: *force}
				if !flags.Changed("columns") {
					m.columns = 0
				} else if m.columns < 1 || m.columns > mostColumns {
					return inputf("--columns: %d is outside 1 to %d; leave it out to have them counted", m.columns, mostColumns)
				}
				return m.run(out)
			}
		},
	}
}

// mostColumns is the most that --columns takes.
const mostColumns = 100

// marking is one run of the command.
type marking struct {
	photos, output, picture, page string
	columns                       int
	force                         bool
}

func (m *marking) run(out streams) error {
	set, err := photos.OpenSet(m.photos)
	if err != nil {
		return input(err)
	}
	if set.Top() < 1 {
		return inputf("photos: %s holds one photo; a set needs the empty stage and at least one level", photos.Quote(m.photos))
	}
	if err := namedPNG("--picture", m.picture); err != nil {
		return err
	}
	if m.output == "-" && m.picture == "-" {
		return inputf("mark: the column file and the picture can not both go to standard output; give one a file")
	}
	if m.page != "" && m.output == "-" {
		return inputf("mark: a page needs a column file to begin from; give the column file a name")
	}
	for _, path := range []string{m.output, m.picture, m.page} {
		if err := m.free(path, set); err != nil {
			return err
		}
	}
	if err := keepInputs([]string{m.output, m.picture, m.page}, nil); err != nil {
		return err
	}
	key, err := m.key()
	if err != nil {
		return err
	}
	found, err := mark.Find(mark.Photos{
		Size: set.Size, Count: len(set.Photos),
		Load: func(level int) (*picture.Picture, error) { return set.Photos[level].Pixels() },
	}, mark.Options{Columns: m.columns})
	if errors.Is(err, mark.ErrNothing) {
		return inputf("photos: %s: %w; the first photo must show the empty stage, and each further one more objects", photos.Quote(m.photos), err)
	}
	if err != nil {
		return input(err)
	}
	tell(out.stderr, found.Doubts)
	if err := writeWhole(m.output, out.stdout, func(w io.Writer) error { return found.Write(w, key) }); err != nil {
		return err
	}
	if m.picture != "" {
		img, err := found.Picture()
		if err != nil {
			return err
		}
		if err := writeWhole(m.picture, out.stdout, func(w io.Writer) error { return png.Encode(w, img) }); err != nil {
			return err
		}
	}
	if m.output != "-" && m.picture != "-" {
		m.report(out.stdout, len(found.Columns))
	}
	if m.page != "" {
		return writeRegions(m.page, m.output, out)
	}
	return nil
}

// report says what there is now, and what comes next.
func (m *marking) report(w io.Writer, columns int) {
	look := "give --picture marks.png to see where"
	if m.picture != "" {
		look = "see " + photos.Quote(m.picture)
	}
	noun := "columns"
	if columns == 1 {
		noun = "column"
	}
	fmt.Fprintf(w, "%s: %d %s; %s, then name your song in the file\n", photos.Quote(m.output), columns, noun, look)
}

// free refuses a file in no folder, one that is there, and a photo in any case.
func (m *marking) free(path string, set *photos.Set) error {
	if path == "" || path == "-" {
		return nil
	}
	if _, err := os.Stat(filepath.Dir(path)); err != nil {
		return inputf("%s: can not be written (%w); check the folder", photos.Quote(path), photos.Cause(err))
	}
	there, err := os.Stat(path)
	if err != nil {
		return nil // nothing is there
	}
	for _, photo := range set.Photos {
		if info, err := os.Stat(photo.Path); err == nil && os.SameFile(there, info) {
			return inputf("%s: is a photo of the set; choose another name", photos.Quote(path))
		}
	}
	if there.IsDir() {
		return inputf("%s: is a folder; name a file in it", photos.Quote(path))
	}
	if !m.force {
		return inputf("%s: is there already; choose another name, or give --force to write over it", photos.Quote(path))
	}
	return nil
}

// key is where the photos are as seen from the column file.
func (m *marking) key() (string, error) {
	key := m.photos
	if m.output != "-" && !filepath.IsAbs(m.photos) {
		folder, err1 := filepath.Abs(filepath.Dir(m.output))
		set, err2 := filepath.Abs(m.photos)
		relative, err3 := filepath.Rel(folder, set)
		if err := errors.Join(err1, err2); err != nil {
			return "", err
		}
		key = set // from another drive there is no relative way
		if err3 == nil {
			key = relative
		}
	}
	if !utf8.ValidString(key) {
		return "", inputf("photos: %q is no UTF-8 text, which a column file is; rename the folder", m.photos)
	}
	return filepath.ToSlash(key), nil
}
