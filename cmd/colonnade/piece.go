package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"syscall"

	"colonnade/analyze/levels"
	"colonnade/cmd/columnfile"
	"colonnade/compose/photos"
	"colonnade/compose/scene"
)

// readTable takes the levels from a table instead of a song.
func readTable(path string, file *columnfile.File, top int) (*levels.Table, error) {
	reader, err := columnfile.OpenText(path)
	if err != nil {
		return nil, inputf("%s: can not be opened (%w); check its name and permissions", photos.Quote(path), photos.Cause(err))
	}
	defer reader.Close()
	table, err := levels.Read(path, reader, file.Rate, columnNames(file), top)
	if err != nil {
		return nil, input(err)
	}
	if !file.Dissolve {
		for i, row := range table.Rows {
			for c, level := range row {
				if !level.Whole() {
					return nil, inputf("%s:%d: column %q has a level between two photos in frame %d; write whole levels, or give --motion dissolve",
						photos.Quote(path), i+2, table.Names[c], table.First+i) // the header is line 1, and no line between rows is empty
				}
			}
		}
	}
	if err := fitSong(path, table, file); err != nil {
		return nil, err
	}
	return table, nil
}

// fitSong holds a table against the song, where there is one. It needs no song, so one that can not be opened is no
// fault of the table's. A table may hold a part of the song.
func fitSong(path string, table *levels.Table, file *columnfile.File) error {
	if file.Song == "" {
		return nil
	}
	source, err := openSong(file)
	if err != nil {
		return nil
	}
	defer source.Close()
	info := source.Info()
	if info.Frames == 0 { // not known before it is heard
		return nil
	}
	frames, last := file.Rate.FrameCount(info.Frames, info.Rate), table.First+len(table.Rows)-1
	if last > frames {
		return beyondSong(path, table, file, frames)
	}
	if table.First == 1 && last < frames {
		file.Notes = append(file.Notes, fmt.Sprintf("%s: the last row is frame %d, %s goes on to frame %d; what follows is left out", photos.Quote(path), last, photos.Quote(file.Song), frames))
	}
	return nil
}

func beyondSong(path string, table *levels.Table, file *columnfile.File, frames int) error {
	return inputf("%s: the last row is frame %d, but %s ends with frame %d at %s frames a second; give the song and the fps that the table is for, or make it anew with colonnade listen",
		photos.Quote(path), table.First+len(table.Rows)-1, photos.Quote(file.Song), frames, file.Rate)
}

// openScene opens the photo set and joins it with the columns. A column that the frame does not show is added to the
// file's notes; what is noticed later goes to noticed, nil to have it dropped.
func openScene(file *columnfile.File, noticed *remarks) (*scene.Scene, error) {
	if _, err := photos.Find(file.Photos); err != nil {
		return nil, settingError(file, "photos", err)
	}
	set, err := photos.OpenSet(file.Photos)
	if err != nil {
		return nil, input(err)
	}
	if set.Top() < 1 {
		return nil, inputf("photos: %s holds one photo; a set needs the empty stage and at least one level", photos.Quote(file.Photos))
	}
	view, err := photos.NewView(set.Size, file.Size, file.Crop)
	if err != nil {
		return nil, settingError(file, "crop", err)
	}
	base, err := basePhoto(file, set)
	if err != nil {
		return nil, settingError(file, "base", err)
	}
	columns := make([]scene.Column, len(file.Columns))
	for i, column := range file.Columns {
		columns[i] = scene.Column{Region: column.Region, Feather: column.Feather}
	}
	s, err := scene.New(set, view, columns, base, file.Encoded)
	if err != nil {
		return nil, input(err)
	}
	if note := s.Profile().Note; note != "" {
		file.Notes = append(file.Notes, note)
	}
	if note := s.Profile().InVideo(); note != "" {
		file.Notes = append(file.Notes, note)
	}
	var cut []string
	deepest := 0.0
	for i := range columns {
		switch size := set.Size; s.Sees(i) {
		case scene.OutsidePhoto:
			return nil, inputf("%s: region of %q lies outside the photos, which are %d x %d; move it, its corners are pixels of the photo",
				file.Where(i, "region"), file.Columns[i].Name, size.X, size.Y)
		case scene.OutsideFrame:
			file.Notes = append(file.Notes, fmt.Sprintf("%s: region of %q lies outside the part of the photos that is shown, %g x %g at (%g, %g); move the crop to see it",
				file.Where(i, "region"), file.Columns[i].Name, view.Width, view.Height, view.X, view.Y))
		case scene.Seen:
			if off := s.CutOff(i); off >= 1 {
				cut, deepest = append(cut, fmt.Sprintf("%q", file.Columns[i].Name)), max(deepest, off)
			}
		}
	}
	if scale := view.Scale(); scale >= 1.05 {
		file.Notes = append(file.Notes, fmt.Sprintf("%s: the frame, %d x %d, enlarges the part of the photos that it shows, %.0f x %.0f, %.2g times; a smaller size shows as much",
			photos.Quote(file.Path), view.Size.X, view.Size.Y, view.Width, view.Height, scale))
	}
	if len(cut) > 0 {
		file.Notes = append(file.Notes, fmt.Sprintf("%s: the frame shows %.0f x %.0f of the photos at (%.0f, %.0f) and cuts off up to %.0f pixels of the regions of %s; set crop or size so that no object is cut",
			photos.Quote(file.Path), view.Width, view.Height, view.X, view.Y, deepest, strings.Join(cut, ", ")))
	}
	makeSteady(file, s, noticed)
	return s, nil
}

// settingError is what is wrong with what a key above the tables or its flag names, with the key's place.
func settingError(file *columnfile.File, key string, err error) error {
	where := file.Where(-1, key)
	return inputf("%s: %s", where, strings.TrimPrefix(err.Error(), strings.TrimPrefix(where, "--")+": "))
}

func basePhoto(file *columnfile.File, set *photos.Set) (*photos.Photo, error) {
	if file.BasePath != "" {
		return photos.Open(file.BasePath)
	}
	if file.BaseLevel > set.Top() {
		return nil, fmt.Errorf("base: level %d is above the highest level of the photo set, %d; choose one of its levels", file.BaseLevel, set.Top())
	}
	return set.Photos[file.BaseLevel], nil
}

// namedPNG refuses a name that promises another kind of picture than the PNG it would hold. A name without an ending may be a
// device or a pipe.
func namedPNG(flag, path string) error {
	if end := filepath.Ext(path); end != "" && !strings.EqualFold(end, ".png") {
		return inputf("%s: %s does not end in .png, which is what it would hold; name it so", flag, photos.Quote(path))
	}
	return nil
}

// writeWhole writes a file so that it is complete under its name or not there at all. "-" is standard output; a link stays
// one, and so does a device or a pipe, which is written into.
func writeWhole(path string, stdout io.Writer, write func(io.Writer) error) error {
	if path == "-" {
		return write(stdout)
	}
	target := path
	if linked, err := filepath.EvalSymlinks(path); err == nil {
		target = linked
	}
	if info, err := os.Stat(target); err == nil && info.IsDir() {
		return inputf("%s: is a folder; name a file in it", photos.Quote(path))
	} else if err == nil && !info.Mode().IsRegular() {
		return writeInto(path, write)
	}
	temporary, err := os.CreateTemp(filepath.Dir(target), ".colonnade-*.tmp")
	if err != nil {
		return inputf("%s: can not be written (%w); check the folder", photos.Quote(path), photos.Cause(err))
	}
	defer os.Remove(temporary.Name()) // nothing is there any more once it has its name
	if err = write(temporary); err == nil {
		if err = temporary.Chmod(0o644); err == nil {
			err = temporary.Sync()
		}
	}
	if closeError := temporary.Close(); err == nil {
		err = closeError
	}
	if err != nil {
		return fmt.Errorf("%s: can not be written (%w); make room and run it again", photos.Quote(path), photos.Cause(err))
	}
	if err := os.Rename(temporary.Name(), target); err != nil {
		return fmt.Errorf("%s: can not be replaced (%w); close it where another program has it open, or choose another name", photos.Quote(path), errors.Unwrap(err))
	}
	return nil
}

// writeInto writes into a device or a pipe. A pipe that nobody reads is an error rather than waited for.
func writeInto(path string, write func(io.Writer) error) error {
	file, err := os.OpenFile(path, os.O_WRONLY|syscall.O_NONBLOCK, 0)
	if err != nil {
		return inputf("%s: can not be written (%w); name a file", photos.Quote(path), photos.Cause(err))
	}
	err = write(file)
	if closeError := file.Close(); err == nil {
		err = closeError
	}
	if err != nil {
		return fmt.Errorf("%s: can not be written (%w); run it again", photos.Quote(path), photos.Cause(err))
	}
	return nil
}
