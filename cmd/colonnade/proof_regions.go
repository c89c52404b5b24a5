package main

import (
	"bytes"
	"fmt"
	"io"
	"path/filepath"

	"colonnade/cmd/columnfile"
	"colonnade/compose/photos"
	"colonnade/compose/proof"
)

// writeRegions writes the page on which the regions of a column file are set by hand over its photos. The page saves the file
// under its own name.
func writeRegions(path, columnFile string, out streams) error {
	file, err := columnfile.Read(columnFile, nil)
	if err != nil {
		return input(err)
	}
	set, err := photos.OpenSet(file.Photos)
	if err != nil {
		return input(err)
	}
	name := filepath.Base(columnFile)
	page := &proof.RegionsPage{Title: name, Set: set, Feather: file.Feather, FileName: name, FileText: file.Text()}
	for i, column := range file.Columns {
		region := proof.Region{Name: column.Name, Corners: column.Region, Feather: column.Feather, Line: lineOf(file.Where(i, "")), Keys: map[string]int{}}
		// A box is found as the region too, and is written as one.
		for _, key := range []string{"name", "region"} {
			region.Keys[key] = lineOf(file.Where(i, key))
		}
		page.Regions = append(page.Regions, region)
	}
	var whole bytes.Buffer
	if err := page.Write(&whole); err != nil {
		return input(err)
	}
	if err := writeWhole(path, out.stdout, func(w io.Writer) error { _, err := w.Write(whole.Bytes()); return err }); err != nil {
		return err
	}
	if path != "-" {
		fmt.Fprintf(out.stdout, "%s: %s; open it in a browser, and save the column file from there\n", photos.Quote(path), formatBytes(int64(whole.Len())))
	}
	return nil
}
