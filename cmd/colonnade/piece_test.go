package main

import (
	"bytes"
	"path/filepath"
	"testing"
)

// What no column covers is the photo of the level, or the file, that the key base names.
func TestTheBasePlateIsThePhotoThatIsNamed(t *testing.T) {
	folder := t.TempDir()
	if err := makePiece(folder); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(folder, "columns.toml")
	for _, level := range []string{"0", "1", "2"} {
		s, err := openScene(readFile(t, path, map[string]string{"base": level}), nil)
		if err != nil {
			t.Fatal(err)
		}
		plate, err := s.BasePlate()
		if err != nil {
			t.Fatal(err)
		}
		same := ""
		for other := range s.Set.Photos {
			photo, err := s.Photo(other)
			if err != nil {
				t.Fatal(err)
			}
			if bytes.Equal(photo.Pix, plate.Pix) {
				same += string(rune('0' + other))
			}
		}
		if same != level {
			t.Errorf("base %s shows the photo of level %q", level, same)
		}
		named, err := openScene(readFile(t, path, map[string]string{"base": s.Base.Path}), nil)
		if err != nil {
			t.Fatal(err)
		}
		if named.Digest() != s.Digest() {
			t.Errorf("base %s is not the base plate of level %s", s.Base.Path, level)
		}
	}
}
