package sequence

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"hash/adler32"
	"os"
	"path/filepath"
	"testing"

	"colonnade/analyze/levels"
	"colonnade/compose/pngfile"
)

// tinyCoder makes real little PNG files whose one row of pixels follows from the tuple.
type tinyCoder struct{ scene string }

const tinyWidth, tinyHeight = 7, 3

func (c tinyCoder) Key(tuple []levels.Level) string {
	return fmt.Sprintf("%x", sha256.Sum256(fmt.Append(nil, c.scene, tuple)))
}

func (c tinyCoder) Append(dst []byte, tuple []levels.Level) ([]byte, error) {
	key := c.Key(tuple)
	dst = pngfile.AppendHead(dst, tinyWidth, tinyHeight, pngfile.NewColour(nil), key)
	rows := make([]byte, (3*tinyWidth+1)*tinyHeight)
	for i := range rows {
		if i%(3*tinyWidth+1) > 0 {
			rows[i] = key[i%len(key)]
		}
	}
	// A zlib stream of one stored block (RFC 1950, RFC 1951 section 3.2.4).
	data := []byte{0x78, 0x01, 1}
	data = binary.LittleEndian.AppendUint16(data, uint16(len(rows)))
	data = binary.LittleEndian.AppendUint16(data, ^uint16(len(rows)))
	data = append(data, rows...)
	data = binary.BigEndian.AppendUint32(data, adler32.Checksum(rows))
	dst = pngfile.AppendChunk(dst, "IDAT", data)
	return pngfile.AppendEnd(dst), nil
}

// waves is a tuple for each frame; every fifth frame is the empty stage.
func waves(n int) []levels.Level {
	if n%5 == 0 {
		return []levels.Level{0, 0}
	}
	return []levels.Level{levels.Level(n) * levels.One, levels.Level(n*7%3) * levels.One}
}

// tiny are options for a piece of count tiny frames.
func tiny(folder string, count int) Options {
	return Options{
		Folder: folder, First: 1, Last: count, Count: count, Tuple: waves, Coder: tinyCoder{"ledge"}, Jobs: 2,
		Describe: Description{Rate: "25/1", Width: tinyWidth, Height: tinyHeight, Song: "tide.wav", SongSeconds: 1, Scene: "ledge",
			Columns: []string{"granite", "slate"}, Photos: []string{"stones-0.jpg", "stones-1.jpg"}, Version: "test"},
		batch: 4,
	}
}

func mustWrite(t *testing.T, o Options) Summary {
	t.Helper()
	s, err := Write(context.Background(), o)
	if err != nil {
		t.Fatalf("Write: %v", err)
	}
	return s
}

// contents are the files of a folder by name.
func contents(t *testing.T, folder string) map[string]string {
	t.Helper()
	all := make(map[string]string)
	entries, err := os.ReadDir(folder)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		text, err := os.ReadFile(filepath.Join(folder, e.Name()))
		if err != nil {
			t.Fatal(err)
		}
		all[e.Name()] = string(text)
	}
	return all
}

// same compares two folders byte for byte.
func same(t *testing.T, got, wanted map[string]string) {
	t.Helper()
	for name, text := range wanted {
		if other, ok := got[name]; !ok {
			t.Errorf("%s is missing", name)
		} else if other != text {
			t.Errorf("%s differs: %d bytes, %d wanted", name, len(other), len(text))
		}
	}
	for name := range got {
		if _, ok := wanted[name]; !ok {
			t.Errorf("%s is there and should not be", name)
		}
	}
}

// sound fails the test when Verify finds a fault.
func sound(t *testing.T, folder string) {
	t.Helper()
	report, err := Verify(2, folder)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range report.Faults {
		t.Errorf("%s: %s; %s", f.Where, f.What, f.Remedy)
	}
}
