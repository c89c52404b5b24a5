package main

import (
	"bytes"
	"encoding/gob"
	"os"
	"path/filepath"
	"reflect"
	"testing"

	"colonnade/analyze/envelope"
	"colonnade/cmd/columnfile"
)

// remembering lets a test remember songs, in a folder of its own.
func remembering(t *testing.T) {
	t.Helper()
	t.Setenv("COLONNADE_CACHE", "")
	t.Setenv("XDG_CACHE_HOME", t.TempDir())
	t.Setenv("HOME", t.TempDir())
	t.Setenv("LocalAppData", t.TempDir())
}

func readFile(t *testing.T, path string, flags map[string]string) *columnfile.File {
	t.Helper()
	file, err := columnfile.Read(path, flags)
	if err != nil {
		t.Fatal(err)
	}
	return file
}

func TestSongIsMeasuredOnce(t *testing.T) {
	remembering(t)
	folder := t.TempDir()
	if err := makePiece(folder); err != nil {
		t.Fatal(err)
	}
	file := readFile(t, filepath.Join(folder, "columns.toml"), nil)
	first, err := measure(file)
	if err != nil {
		t.Fatal(err)
	}
	again, err := measure(file)
	if err != nil || !reflect.DeepEqual(again.Envelopes, first.Envelopes) || !reflect.DeepEqual(again.Info, first.Info) ||
		!reflect.DeepEqual(again.Waveform.Low, first.Waveform.Low) || !reflect.DeepEqual(again.Waveform.High, first.Waveform.High) {
		t.Errorf("remembered as %+v, %v", again, err)
	}

	// That it is remembered shows when something else is put in its place.
	var other bytes.Buffer
	first.Envelopes.Values[0][3] = 0.125
	if err := gob.NewEncoder(&other).Encode(first); err != nil {
		t.Fatal(err)
	}
	memory, key := remembered(file, partsOf(file))
	memory.Put(key, other.Bytes())
	if again, err = measure(file); err != nil || again.Envelopes.Values[0][3] != 0.125 {
		t.Errorf("the song was measured anew: %v", err)
	}
	memory.Put(key, []byte("no measures"))
	if again, err = measure(file); err != nil || again.Envelopes.Values[0][3] == 0.125 {
		t.Errorf("of a value that can not be read %v, %v was made", again, err)
	}
	t.Setenv("COLONNADE_CACHE", "off")
	if memory, key := remembered(file, partsOf(file)); key != "" || memory.Get(key) != nil {
		t.Errorf("switched off it has a key %q", key)
	}
}

func TestAllThatMeasuresDependOnIsInTheirKey(t *testing.T) {
	remembering(t)
	folder := t.TempDir()
	if err := makePiece(folder); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(folder, "columns.toml")
	keyOf := func(file *columnfile.File) string {
		_, key := remembered(file, partsOf(file))
		return key
	}
	plain := keyOf(readFile(t, path, nil))
	copied := filepath.Join(folder, "copy.wav")
	data, err := os.ReadFile(filepath.Join(folder, "song.wav"))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(copied, data, 0o600); err != nil {
		t.Fatal(err)
	}
	if got := keyOf(readFile(t, path, map[string]string{"song": copied, "feather": "3", "motion": "dissolve"})); got != plain || plain == "" {
		t.Errorf("the same song under another name has the key %q, not %q", got, plain)
	}
	faster := readFile(t, path, map[string]string{"fps": "12"})
	wider := readFile(t, path, nil)
	wider.Columns[1].Band.HighHz++
	onset, left := readFile(t, path, nil), readFile(t, path, nil)
	onset.Columns[0].Onset, left.Columns[1].Channel = true, envelope.Left
	data[len(data)-1] ^= 1
	if err := os.WriteFile(copied, data, 0o600); err != nil {
		t.Fatal(err)
	}
	changed := readFile(t, path, map[string]string{"song": copied})
	for name, file := range map[string]*columnfile.File{"another rate": faster, "another band": wider, "onsets": onset, "the left channel": left,
		"a changed sample": changed} {
		if keyOf(file) == plain {
			t.Errorf("%s has the same key", name)
		}
	}
	if got := keyOf(&columnfile.File{Song: filepath.Join(folder, "none.wav")}); got != "" {
		t.Errorf("a song that is not there has the key %q", got)
	}
}
