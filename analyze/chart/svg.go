package chart

import (
	"bufio"
	"encoding/xml"
	"fmt"
	"io"
	"strings"
)

// SVG writes the chart as an SVG document. It carries its content in words too, for those who have it read to them.
func (c *Chart) SVG(w io.Writer) error {
	out := bufio.NewWriter(w)
	fmt.Fprintf(out, `<svg xmlns="http://www.w3.org/2000/svg" width="%.0f" height="%.0f" viewBox="0 0 %.0f %.0f" role="img" aria-labelledby="chart-title chart-words" font-family="sans-serif">`+"\n",
		width(), c.height(), width(), c.height())
	fmt.Fprintf(out, "<title id=\"chart-title\">%s</title>\n<desc id=\"chart-words\">%s</desc>\n", escape(c.Title), escape(c.description()))
	c.draw(svgCanvas{out})
	fmt.Fprintln(out, "</svg>")
	return out.Flush()
}

type svgCanvas struct{ w *bufio.Writer }

func escape(text string) string {
	var b strings.Builder
	xml.EscapeText(&b, []byte(text)) // a strings.Builder takes all
	return b.String()
}

func (s svgCanvas) points(points []point) {
	for i, p := range points {
		if i > 0 {
			s.w.WriteByte(' ')
		}
		fmt.Fprintf(s.w, "%s,%s", short(p.x), short(p.y))
	}
}

// short is a number with at most one decimal.
func short(v float64) string { return strings.TrimSuffix(fmt.Sprintf("%.1f", v), ".0") }

func (s svgCanvas) fill(points []point, colour string) {
	s.w.WriteString(`<polygon points="`)
	s.points(points)
	fmt.Fprintf(s.w, "\" fill=\"%s\"/>\n", colour)
}

func (s svgCanvas) stroke(points []point, colour string, width float64, dashed bool) {
	s.w.WriteString(`<polyline points="`)
	s.points(points)
	dashes := ""
	if dashed {
		dashes = ` stroke-dasharray="5 4"`
	}
	fmt.Fprintf(s.w, "\" fill=\"none\" stroke=\"%s\" stroke-width=\"%s\"%s/>\n", colour, short(width), dashes)
}

func (s svgCanvas) text(at point, anchor, colour string, size float64, text string) {
	fmt.Fprintf(s.w, "<text x=\"%s\" y=\"%s\" text-anchor=\"%s\" fill=\"%s\" font-size=\"%s\">%s</text>\n", short(at.x), short(at.y), anchor, colour, short(size), escape(text))
}
