package plan

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
)

//go:embed sheet.html
var sheetText string

// sheet is what the page's template sees.
type sheet struct {
	Title    string
	Lines    []line
	Columns  []sheetColumn
	Rows     []sheetRow
	Settings []string
	Cautions []string
	// Points is the size of the text in points, so that the plan fits one page of A4 or US letter.
	Points float64
}

type sheetColumn struct {
	Number    int
	Low, High string // edges of its band, Hz
}

type sheetRow struct {
	Shot
	Row   string
	Boxes []bool // by column: whether it gets an object
}

// WriteHTML writes the plan as one page for printing, with boxes to tick. It needs no network and no script.
func (s *Shoot) WriteHTML(w io.Writer) error {
	page := sheet{
		Title:    fmt.Sprintf("Shoot: %s, %s", counted(s.Columns(), "stack"), counted(s.Photos(), "photo")),
		Lines:    s.lines(),
		Settings: settings(),
		Cautions: cautions(),
	}
	// A page holds about this many rows and columns of the table at the usual size.
	const roomyRows, roomyColumns = 14, 14
	rows, columns := max(s.Photos(), roomyRows), max(s.Columns(), roomyColumns)
	page.Points = max(4.5, 9-0.14*float64(rows-roomyRows)-0.22*float64(columns-roomyColumns))
	for i, band := range Bands(s.Columns()) {
		page.Columns = append(page.Columns, sheetColumn{i + 1, hertz(band.LowHz), hertz(band.HighHz)})
	}
	for _, shot := range s.Shots() {
		row := sheetRow{Shot: shot, Row: fmt.Sprintf("row %d", shot.Level), Boxes: make([]bool, s.Columns())}
		switch shot.Level {
		case 0:
			row.Row = "empty stage"
		case 1:
			row.Row = "row 1, the bottom"
		case s.Top():
			row.Row += ", the top"
		}
		for _, column := range shot.Growing {
			row.Boxes[column-1] = true
		}
		page.Rows = append(page.Rows, row)
	}
	parsed, err := template.New("sheet").Parse(sheetText)
	if err != nil {
		return err
	}
	return parsed.Execute(w, page)
}

// hertz is a frequency in as few characters as a narrow column needs.
func hertz(v float64) string {
	if v >= 1000 {
		return fmt.Sprintf("%.3gk", v/1000)
	}
	return fmt.Sprintf("%.3g", v)
}

func counted(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}
