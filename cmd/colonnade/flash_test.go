package main

import (
	"os"
	"path/filepath"
	"slices"
	"testing"

	"colonnade/analyze/flash"
	"colonnade/analyze/levels"
	"colonnade/cmd/columnfile"
)

// The piece of the scripts, whose stacks are 8 pixels wide and a field 21 x 16: a jump of three blocks is more than a
// quarter of one, but not of the screen.
func TestJumpingColumnsAreWarnedOfInTheFramesThatAreWanted(t *testing.T) {
	folder := t.TempDir()
	if err := makePiece(folder); err != nil {
		t.Fatal(err)
	}
	file, err := columnfile.Read(filepath.Join(folder, "columns.toml"), map[string]string{"feather": "0"})
	if err != nil {
		t.Fatal(err)
	}
	s, err := openScene(file, nil)
	if err != nil {
		t.Fatal(err)
	}
	table := &levels.Table{Rate: file.Rate, First: 11, Names: columnNames(file)}
	for n := range 30 {
		high := levels.Level(0)
		if n >= 10 {
			high = levels.Level(n%2) * 3 * levels.One
		}
		table.Rows = append(table.Rows, []levels.Level{0, high})
	}
	got, err := flashWarnings(s, table, span{11, 40})
	if err != nil {
		t.Fatal(err)
	}
	if len(got) != 1 || got[0].Standard != flash.WCAG || got[0].First != 22 || got[0].Last != 40 || !slices.Equal(got[0].Columns, []string{"high"}) {
		t.Errorf("all frames: %+v", got)
	}
	for _, calm := range []span{{11, 22}, {20, 27}, {40, 40}} {
		if got, err := flashWarnings(s, table, calm); err != nil || got != nil {
			t.Errorf("frames %v: %v, %v", calm, got, err)
		}
	}
	// So few frames that nothing is decoded.
	s.Drop()
	if err := os.WriteFile(s.Base.Path, []byte("no photo"), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := flashWarnings(s, table, span{34, 40}); err != nil {
		t.Errorf("seven frames: %v", err)
	}
	if _, err := flashWarnings(s, table, span{33, 40}); err == nil {
		t.Error("eight frames of a photo that has changed: no error")
	}
}
