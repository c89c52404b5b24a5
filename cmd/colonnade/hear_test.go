package main

import (
	"bytes"
	"encoding/gob"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"testing"

	"colonnade/analyze/envelope"
	"colonnade/analyze/levels"
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

// TestSongThatBeginsAndEndsInSilenceBeginsAndEndsOnTheEmptyStage: a second of silence at either end, with the hiss of a good
// recording, 70 dB below full scale, and a song that swells and fades between.
func TestSongThatBeginsAndEndsInSilenceBeginsAndEndsOnTheEmptyStage(t *testing.T) {
	folder := t.TempDir()
	if err := makePiece(folder); err != nil {
		t.Fatal(err)
	}
	const seconds = 6
	samples := make([]float64, seconds*songRate)
	random := rand.New(rand.NewPCG(1, 2))
	for i := range samples {
		now := float64(i) / songRate
		loud := math.Max(0, math.Sin(math.Pi*(now-1)/(seconds-2)))
		if now < 1 || now > seconds-1 {
			loud = 0
		}
		beat := math.Exp(-6 * math.Mod(now, 0.4))
		for _, hertz := range []float64{110, 200, 1300, 2500} {
			samples[i] += 0.15 * loud * beat * math.Sin(2*math.Pi*hertz*now)
		}
		samples[i] += 0.0003 * (2*random.Float64() - 1) * math.Sqrt(3)
	}
	if err := os.WriteFile(filepath.Join(folder, "song.wav"), wavOf(samples), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, flags := range []map[string]string{{"fps": "25"}, {"fps": "59.94"}, {"fps": "25", "motion": "dissolve"}} {
		file := readFile(t, filepath.Join(folder, "columns.toml"), flags)
		file.Columns = append(file.Columns, file.Columns[0], file.Columns[0])
		file.Columns[2].Band, file.Columns[3].Onset = envelope.Everything(), true
		h, err := hear(file, 5)
		if err != nil {
			t.Fatal(err)
		}
		rows := h.table.Rows
		for c := range file.Columns {
			highest := levels.Level(0)
			for _, row := range rows {
				highest = max(highest, row[c])
			}
			if rows[0][c] != 0 || rows[len(rows)-1][c] != 0 || highest != 5*levels.One {
				t.Errorf("%v: column %d begins at %v, ends at %v and reaches %v", flags, c, rows[0][c], rows[len(rows)-1][c], highest)
			}
		}
	}
}

// TestClickShowsInTheFrameInWhichItSounds: frame floor(t*fps), counted from 0, by the definition of a frame. There the level is
// above all of the frames before, and at no frame behind it is higher, however long a level is held.
func TestClickShowsInTheFrameInWhichItSounds(t *testing.T) {
	folder := t.TempDir()
	if err := makePiece(folder); err != nil {
		t.Fatal(err)
	}
	const seconds, clicks = 20, 20
	samples := make([]float64, seconds*songRate)
	var at []int64
	for k := range int64(clicks) {
		// Wherever in a frame, but not so near to its ends that the next would do as well.
		sample := (5*songRate+k*(9*songRate+k))/10 + 37*k%101
		at = append(at, sample)
		samples[sample] = 0.9
	}
	if err := os.WriteFile(filepath.Join(folder, "song.wav"), wavOf(samples), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, rate := range []string{"10", "11.988", "12.5", "23.976", "24", "25", "29.97", "30", "48", "50", "59.94", "60", "119.88"} {
		for _, motion := range []string{"step", "dissolve"} {
			file := readFile(t, filepath.Join(folder, "columns.toml"), map[string]string{"fps": rate, "motion": motion})
			file.Columns = file.Columns[1:] // 1000 to 3000 Hz
			for hold := range 5 {
				held := file.Columns[0]
				held.Response.Hold = hold
				file.Columns = append(file.Columns, held)
			}
			onset := file.Columns[0]
			onset.Onset = true
			file.Columns = append(file.Columns, onset)
			h, err := hear(file, 5)
			if err != nil {
				t.Fatal(err)
			}
			for c, column := range file.Columns {
				for _, sample := range at {
					want := int(sample * file.Rate.Num / (file.Rate.Den * songRate))
					off := float64(sample)*file.Rate.PerSecond()/songRate - float64(want)
					if off < 0.08 || off > 0.92 {
						continue
					}
					level := h.table.Rows[want][c]
					for n := max(0, want-5); n <= want+5; n++ {
						other := h.table.Rows[n][c]
						if n < want && other >= level && other > 0 || other > level {
							t.Errorf("%s frames a second, %s, hold %d, onset %v: the click at %.3f s shows in frame %d at level %v, in frame %d at %v", rate, motion,
								column.Response.Hold, column.Onset, float64(sample)/songRate, want+1, level, n+1, other)
						}
					}
				}
			}
		}
	}
}
