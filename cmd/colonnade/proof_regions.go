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

// writeRegions writes the page on which the regions of a column file are set by hand; text is the file's. name is what the
// page saves it as.
func writeRegions(path, name string, file *columnfile.File, text []byte, set *photos.Set, out streams) error {
	page := &proof.RegionsPage{Title: filepath.Base(name), Set: set, Feather: file.Feather, FileName: filepath.Base(name), FileText: string(text)}
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
