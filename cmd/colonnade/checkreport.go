package main

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"
	"time"

	"colonnade/analyze/shoot"
	"colonnade/compose/photos"
)

// writeCheckTable prints what has been found for people.
func writeCheckTable(w io.Writer, c *checked, found shoot.Set, report *shoot.Report) {
	fmt.Fprintf(w, "%s: %d photos of %s against %s", photos.Quote(c.name), len(report.Photos), c.size(), found.BaseName)
	if len(c.steady) > 0 {
		fmt.Fprintf(w, ", after steady (%s)", strings.Join(c.steady, ", "))
	}
	fmt.Fprintln(w)
	fmt.Fprintln(w)
	table := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprint(table, "level\tlight\tred\tgreen\tblue\tright\tdown\tmatch\tsharp\tnoise\tburnt\t")
	if found.Before != nil {
		fmt.Fprint(table, "light was\tshift was\t")
	}
	fmt.Fprintln(table)
	fmt.Fprint(table, "\tstops\tstops\tstops\tstops\tpixels\tpixels\t0..1\t%\t8-bit steps\t%\t")
	if found.Before != nil {
		fmt.Fprint(table, "stops\tpixels\t")
	}
	fmt.Fprintln(table)
	for level, p := range report.Photos {
		m := p.Measure
		fmt.Fprintf(table, "%d\t%s\t%s\t%s\t%s\t%s\t%s\t%.1f\t%.1f\t", level,
			shoot.Signed(m.Light, 3), shoot.Signed(m.Channels[0], 3), shoot.Signed(m.Channels[1], 3), shoot.Signed(m.Channels[2], 3),
			shiftCells(m), sharpCell(m), m.Noise, 100*m.Burnt)
		if p.Before != nil {
			fmt.Fprintf(table, "%s\t%s %s\t", shoot.Signed(p.Before.Light, 3), shoot.Signed(p.Before.Shift[0], 2), shoot.Signed(p.Before.Shift[1], 2))
		} else if found.Before != nil {
			fmt.Fprint(table, "\t\t")
		}
		fmt.Fprintf(table, "  %s\n", found.Names[level])
	}
	table.Flush()
	if len(report.Columns) > 0 {
		writeColumnTable(w, report)
	}
	writeFindings(w, "faults, which would show in the video", report.Faults)
	writeFindings(w, "notes", report.Notes)
	if len(report.Faults) == 0 {
		fmt.Fprintln(w, "\nno fault that would show")
	}
}

// shiftCells are a photo's shift and match; what could not be told is a dash.
func shiftCells(m *shoot.Measure) string {
	if m.Dull {
		return "-\t-\t-"
	}
	return fmt.Sprintf("%s\t%s\t%.2f", shoot.Signed(m.Shift[0], 2), shoot.Signed(m.Shift[1], 2), m.Confidence)
}

func sharpCell(m *shoot.Measure) string {
	if m.Sharpness == 0 {
		return "-"
	}
	return fmt.Sprintf("%.0f", 100*m.Sharpness)
}

// writeColumnTable prints how visible each column's edge is at each level, and a mark where a level has a fault.
func writeColumnTable(w io.Writer, report *shoot.Report) {
	fmt.Fprint(w, "\nedge of each column against the base plate, in 8-bit steps, by level (! a fault)\n")
	table := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	for _, column := range report.Columns {
		for _, level := range column.Levels {
			mark := " "
			if level.Fault {
				mark = "!"
			}
			fmt.Fprintf(table, "%.1f%s\t", level.Seam, mark)
		}
		fmt.Fprintf(table, "  %s\n", photos.Quote(column.Name))
	}
	table.Flush()
}

func writeFindings(w io.Writer, title string, list []shoot.Finding) {
	if len(list) == 0 {
		return
	}
	fmt.Fprintf(w, "\n%s:\n", title)
	for _, finding := range list {
		fmt.Fprintln(w, "  "+oneLine(finding.String()))
	}
}

// The JSON object of check. Fields may be added; the ones here keep their meaning.
type (
	checkJSON struct {
		Base    string            `json:"base"`
		Size    [2]int            `json:"size"`
		Steady  []string          `json:"steady"`
		Photos  []checkPhotoJSON  `json:"photos"` // by level
		Columns []checkColumnJSON `json:"columns"`
		Order   []int             `json:"order,omitempty"` // the order that fits better: the levels of the photos as numbered
		Notes   []shoot.Finding   `json:"notes"`
		Faults  []shoot.Finding   `json:"faults"`
	}
	checkPhotoJSON struct {
		File string `json:"file"`
		checkMeasureJSON
		Before *checkMeasureJSON `json:"before,omitempty"` // steady
		Camera *checkCameraJSON  `json:"camera,omitempty"`
	}
	checkMeasureJSON struct {
		Light        float64    `json:"light"` // stops against the base plate
		LightTrusted bool       `json:"light_trusted"`
		Channels     [3]float64 `json:"channels"` // stops: red, green, blue
		Uneven       float64    `json:"uneven"`   // stops
		Shift        [2]float64 `json:"shift"`    // pixels right, down
		ShiftTrusted bool       `json:"shift_trusted"`
		Confidence   float64    `json:"confidence"`
		Rotation     float64    `json:"rotation"`  // degrees clockwise
		Zoom         float64    `json:"zoom"`      // percent
		Sharpness    float64    `json:"sharpness"` // share of the base plate's fine detail
		Noise        float64    `json:"noise"`     // 8-bit steps
		Burnt        float64    `json:"burnt"`     // share of the still area
		Black        float64    `json:"black"`
	}
	checkCameraJSON struct {
		Seconds      float64    `json:"exposure_seconds,omitempty"`
		Aperture     float64    `json:"aperture,omitempty"`
		ISO          int        `json:"iso,omitempty"`
		FocalLength  float64    `json:"focal_length,omitempty"`
		WhiteBalance string     `json:"white_balance,omitempty"`
		Taken        *time.Time `json:"taken,omitempty"`
	}
	checkColumnJSON struct {
		Name    string           `json:"name"`
		Overlap float64          `json:"overlap"` // the largest share it takes of a neighbour's pixels
		Levels  []checkLevelJSON `json:"levels"`
	}
	checkLevelJSON struct {
		Level  int     `json:"level"`
		Grows  bool    `json:"grows"`
		Still  bool    `json:"still"`
		Seam   float64 `json:"seam"`       // 8-bit steps along the edge, at the base plate's light and in its place
		AsIs   float64 `json:"seam_as_is"` // the same of the photo as it is
		SeamAt [2]int  `json:"seam_at"`    // photo pixels
		Fault  bool    `json:"fault"`
	}
)

func writeCheckJSON(w io.Writer, c *checked, found shoot.Set, report *shoot.Report) error {
	object := checkJSON{Base: c.base.Path, Size: [2]int{c.set.Size.X, c.set.Size.Y}, Steady: c.steady, Order: report.Order,
		Photos: []checkPhotoJSON{}, Columns: []checkColumnJSON{}, Notes: report.Notes, Faults: report.Faults}
	for level, p := range report.Photos {
		photo := checkPhotoJSON{File: c.set.Photos[level].Path, checkMeasureJSON: measureJSON(p.Measure), Camera: cameraJSON(p.Exposure)}
		if p.Before != nil {
			before := measureJSON(p.Before)
			photo.Before = &before
		}
		object.Photos = append(object.Photos, photo)
	}
	for _, column := range report.Columns {
		out := checkColumnJSON{Name: column.Name, Overlap: column.Overlap}
		for k, level := range column.Levels {
			out.Levels = append(out.Levels, checkLevelJSON{k, level.Grows, level.Still, level.Seam, level.SeamAsIs, level.SeamAt, level.Fault})
		}
		object.Columns = append(object.Columns, out)
	}
	// Programs read lists more easily than nothing.
	if object.Steady == nil {
		object.Steady = []string{}
	}
	if object.Notes == nil {
		object.Notes = []shoot.Finding{}
	}
	if object.Faults == nil {
		object.Faults = []shoot.Finding{}
	}
	text, err := encodeJSON(object, "  ")
	if err == nil {
		_, err = w.Write(text)
	}
	return err
}

func measureJSON(m *shoot.Measure) checkMeasureJSON {
	return checkMeasureJSON{m.Light, m.LightTrusted, m.Channels, m.Uneven, m.Shift, m.ShiftTrusted, m.Confidence, m.Rotation, m.Zoom, m.Sharpness, m.Noise, m.Burnt, m.Black}
}

func cameraJSON(e shoot.Exposure) *checkCameraJSON {
	if !e.Known() {
		return nil
	}
	out := &checkCameraJSON{Seconds: e.Seconds, Aperture: e.Aperture, ISO: e.ISO, FocalLength: e.FocalLength, WhiteBalance: e.WhiteBalance}
	if !e.Taken.IsZero() {
		out.Taken = &e.Taken
	}
	return out
}
