package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/gob"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"slices"

	"colonnade/analyze/chart"
	"colonnade/analyze/envelope"
	"colonnade/analyze/levels"
	"colonnade/analyze/response"
	"colonnade/analyze/song"
	"colonnade/cmd/cache"
	"colonnade/cmd/columnfile"
	"colonnade/compose/photos"
)

// heard is what listening to a song gives.
type heard struct {
	info      song.Info
	envelopes *envelope.Envelopes
	summaries []response.Summary
	table     *levels.Table // of the whole song, or what levels holds
	levels    string        // file that the levels were taken from in place of the song, or ""
	settings  []response.Settings
	waveform  *chart.Waveform
}

// hear turns the file's song into levels. top is the highest level of the photo set. What is odd about the song is
// added to the file's notes.
func hear(file *columnfile.File, top int) (*heard, error) {
	if file.Song == "" {
		return nil, inputf("%s: no song is named; add song = \"song.wav\" or give --song", file.Path)
	}
	settings, err := responses(file, top)
	if err != nil {
		return nil, err
	}
	m, err := measure(file)
	if err != nil {
		return nil, err
	}
	h := &heard{info: m.Info, envelopes: m.Envelopes, waveform: m.Waveform, settings: settings}
	for _, note := range h.info.Notes {
		file.Notes = append(file.Notes, fmt.Sprintf("song: %s: %s", photos.Quote(file.Song), note))
	}
	for i, column := range file.Columns {
		if column.Channel != envelope.Both && h.info.Channels == 1 {
			file.Notes = append(file.Notes, fmt.Sprintf("%s: %q wants one channel of a song that has no other; take the key out", file.Where(i, "channel"), column.Name))
		}
	}
	var rows [][]levels.Level
	rows, h.summaries = response.Levels(h.envelopes.Values, settings, file.Rate, file.Dissolve)
	if !slices.ContainsFunc(h.summaries, func(s response.Summary) bool { return !s.Silent }) {
		file.Notes = append(file.Notes, fmt.Sprintf("song: %s: no column's band holds any sound, so that the picture never changes; listen to the file, and look at the bands", photos.Quote(file.Song)))
	}
	h.table = &levels.Table{Rate: file.Rate, First: 1, Names: columnNames(file), Rows: rows}
	return h, nil
}

// measured is what a song holds for the columns, whatever their responses are.
type measured struct {
	Info      song.Info // with the notes that came up while reading
	Envelopes *envelope.Envelopes
	Waveform  *chart.Waveform
}

// openSong opens the file's song where it really begins.
func openSong(file *columnfile.File) (*song.Song, error) {
	source, err := song.Open(file.Song)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, settingError(file, "song", err)
	}
	if err != nil {
		return nil, input(err)
	}
	if file.Offset != 0 {
		if err := source.Offset(file.Offset); err != nil {
			source.Close()
			return nil, input(err)
		}
	}
	return source, nil
}

// measure measures the file's song, or remembers what was measured before.
func measure(file *columnfile.File) (*measured, error) {
	source, err := openSong(file)
	if err != nil {
		return nil, err
	}
	defer source.Close()
	info := source.Info()
	for i, column := range file.Columns {
		if half := float64(info.Rate) / 2; column.Band.HighHz > half && !column.Band.IsEverything() {
			return nil, inputf("%s: band of %q reaches to %g Hz, but a song with %d samples a second ends at %g Hz; lower the edge",
				file.Where(i, "band"), column.Name, column.Band.HighHz, info.Rate, half)
		}
	}
	parts := partsOf(file)
	memory, key := remembered(file, parts)
	if m := recall(memory.Get(key)); m != nil {
		return m, nil
	}
	m := &measured{Waveform: chart.Watch(source, info.Rate)}
	if m.Envelopes, err = envelope.MeasureParts(m.Waveform, info.Rate, info.Channels, parts, file.Rate); err != nil {
		return nil, input(err)
	}
	m.Info = source.Info()
	var value bytes.Buffer
	if gob.NewEncoder(&value).Encode(m) == nil {
		memory.Put(key, value.Bytes())
	}
	return m, nil
}

// partsOf is what each column follows.
func partsOf(file *columnfile.File) []envelope.Part {
	parts := make([]envelope.Part, len(file.Columns))
	for i, column := range file.Columns {
		parts[i] = column.Part()
	}
	return parts
}

// rememberedBytes is what all songs remembered may take: one of four minutes takes about half a megabyte.
const rememberedBytes = 100 << 20

// remembered is where songs are remembered, and the key of this one: all that the measures depend on, which is the song's
// content, the parts, the rate, and the program, of which another version or build may hear otherwise.
// COLONNADE_CACHE=off makes every song be heard anew.
func remembered(file *columnfile.File, parts []envelope.Part) (memory cache.Store, key string) {
	if os.Getenv("COLONNADE_CACHE") == "off" {
		return cache.Store{}, ""
	}
	reader, err := os.Open(file.Song)
	if err != nil {
		return cache.Store{}, ""
	}
	defer reader.Close()
	digest := sha256.New()
	if _, err := io.Copy(digest, reader); err != nil {
		return cache.Store{}, ""
	}
	build := ""
	if path, err := os.Executable(); err == nil {
		if info, err := os.Stat(path); err == nil {
			build = fmt.Sprint(info.Size(), info.ModTime().UnixNano())
		}
	}
	return cache.User("colonnade", rememberedBytes), fmt.Sprintf("song %s %s %x %g %s %v", Version, build, digest.Sum(nil), file.Offset, file.Rate, parts)
}

// recall is what a value of the memory holds, nil where that is nothing.
func recall(value []byte) *measured {
	m := new(measured)
	if value == nil || gob.NewDecoder(bytes.NewReader(value)).Decode(m) != nil || m.Envelopes == nil || m.Waveform == nil {
		return nil
	}
	return m
}

// responses are the columns' settings with the top level filled in.
func responses(file *columnfile.File, top int) ([]response.Settings, error) {
	out := make([]response.Settings, len(file.Columns))
	for i, column := range file.Columns {
		out[i] = column.Response
		if out[i].Top == response.TopOfSet {
			out[i].Top = top
		}
		if out[i].Top > top {
			return nil, inputf("%s: top of %q is %d, but the highest level of the photo set is %d; lower it", file.Where(i, "top"), column.Name, out[i].Top, top)
		}
		if out[i].Bottom >= out[i].Top {
			return nil, inputf("%s: bottom of %q is %d, not below its top %d; lower it", file.Where(i, "bottom"), column.Name, out[i].Bottom, out[i].Top)
		}
	}
	return out, nil
}

func columnNames(file *columnfile.File) []string {
	names := make([]string, len(file.Columns))
	for i, column := range file.Columns {
		names[i] = column.Name
	}
	return names
}
