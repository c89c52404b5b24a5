package main

import (
	"os"
	"path/filepath"

	"colonnade/cmd/columnfile"
	"colonnade/compose/photos"
)

// keepInputs refuses to write over what the command reads, and two outputs under one name. Names that are empty or "-" are no
// files.
func keepInputs(outputs, inputs []string) error {
	for i, output := range outputs {
		if output == "" || output == "-" {
			continue
		}
		for _, other := range outputs[:i] {
			if sameFile(output, other) || filepath.Clean(output) == filepath.Clean(other) {
				return inputf("%s: two results would have this name; give each its own", photos.Quote(output))
			}
		}
		for _, input := range inputs {
			if input != "" && sameFile(output, input) {
				return inputf("%s: is read by this command and would be written over; choose another name", photos.Quote(output))
			}
		}
	}
	return nil
}

// sameFile tells whether two names are of one regular file or folder. Devices have no content to lose.
func sameFile(a, b string) bool {
	first, err := os.Stat(a)
	if err != nil || !first.Mode().IsRegular() && !first.IsDir() {
		return false
	}
	second, err := os.Stat(b)
	return err == nil && os.SameFile(first, second)
}

// inputsOf are the files that a piece is read from. Photos that can not be found are another error's matter.
func inputsOf(file *columnfile.File, levels string) []string {
	set, _ := photos.Find(file.Photos)
	return append(set, file.Path, file.Song, file.BasePath, levels)
}

// keepPhotos refuses a folder for frames that holds photos of the set: each frame would count as a photo the next time.
func keepPhotos(folder string, set *photos.Set) error {
	for _, photo := range set.Photos {
		if sameFile(folder, filepath.Dir(photo.Path)) {
			return inputf("%s: holds the photos of the set; give the frames a folder of their own", photos.Quote(folder))
		}
	}
	return nil
}
