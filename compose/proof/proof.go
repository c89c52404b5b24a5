// Package proof writes the proof page: one HTML file that plays a piece with sound in a browser, and lets its columns be
// tuned there. It takes the scene, the level table and what package sound keeps of the song, and gives a page that asks
// nothing of any network: its policy forbids it.
//
// The page composes as package picture does and answers as package response does; page/ holds it, one file a matter.
package proof

import (
	"bytes"
	"compress/zlib"
	"encoding/base64"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"sort"

	"colonnade/analyze/levels"
	"colonnade/compose/light"
	"colonnade/compose/proof/sound"
	"colonnade/compose/scene"
)

const (
	// Budget is how many bytes a page may have for it to be sent and opened with ease.
	Budget = 15_000_000
	// TrackBudget is what of it the song may take, before it is written as text.
	TrackBudget = Budget / 2
	// reserve is left for what is not yet known when the photos are coded: the page itself.
	reserve = 200_000
)

// Response says how a column answers, by the keys of the column file; see package response. Low and High are its band.
type Response struct {
	Shared  bool    `json:"shared"`
	Clip    float64 `json:"clip"`
	Floor   float64 `json:"floor"`
	Curve   float64 `json:"curve"`
	Gain    float64 `json:"gain"`
	Attack  float64 `json:"attack"`
	Release float64 `json:"release"`
	Hold    int     `json:"hold"`
	Top     int     `json:"top"`
	Bottom  int     `json:"bottom"`
	Low     float64 `json:"low"`
	High    float64 `json:"high"`
}

// Column is a column's name and response, and where the column file speaks of it.
type Column struct {
	Name        string         `json:"name"`
	Response    Response       `json:"was"`
	BandTunable bool           `json:"bandTunable"` // the band alone decides the envelope
	Line        int            `json:"line"`        // of its [[column]], from 1
	Keys        map[string]int `json:"keys"`        // lines of its own keys
}

// Warning is something to look at. First and Last are frames, 0 where it has no time. Flash says that the picture flashes.
type Warning struct {
	First int    `json:"first"`
	Last  int    `json:"last"`
	Text  string `json:"text"`
	Flash bool   `json:"flash"`
}

// Page is all that a proof page is made from.
type Page struct {
	Title       string
	Facts       string       // a line about the piece
	Scene       *scene.Scene // in the size of the page's picture
	Table       *levels.Table
	First, Last int // frames that the page plays, within the table
	Dissolve    bool
	Columns     []Column
	Envelopes   [][]float64  // of the whole song, by column and frame; nil: there is nothing to tune
	Bank        *sound.Bank  // nil: bands can not be moved
	Track       *sound.Track // begins with frame First; nil: no sound
	Warnings    []Warning
	FileName    string // of the column file
	FileText    string
}

// pageColumn is a column as the page knows it.
type pageColumn struct {
	Column
	Region [][2]float64 `json:"region"` // in pixels of the picture
	Mask   rectangle    `json:"mask"`
}

type rectangle struct {
	X      int `json:"x"`
	Y      int `json:"y"`
	Width  int `json:"width"`
	Height int `json:"height"`
}

// content is the page's data. What is called packed is DEFLATE in a zlib frame, as base64.
type content struct {
	Rate struct {
		Num int64 `json:"num"`
		Den int64 `json:"den"`
	} `json:"rate"`
	Facts      string       `json:"facts"`
	First      int          `json:"first"`
	Last       int          `json:"last"`
	Frames     int          `json:"frames"`
	Width      int          `json:"width"`
	Height     int          `json:"height"`
	Highest    int          `json:"highest"` // level of the set
	Linear     []uint32     `json:"linear"`  // light of each code
	Least      []uint32     `json:"least"`   // light that comes out as each code
	Dissolve   bool         `json:"dissolve"`
	Photos     []string     `json:"photos"` // JPEG, by level, then the base plate if it is none of them
	Base       int          `json:"base"`   // index in Photos
	Columns    []pageColumn `json:"columns"`
	Masks      string       `json:"masks"` // packed
	Table      string       `json:"table"` // packed: levels in thousandths, int32, column after column
	TableFirst int          `json:"tableFirst"`
	Envelopes  string       `json:"envelopes,omitempty"` // packed: float64, column after column
	Bank       *pageBank    `json:"bank,omitempty"`
	Track      *pageTrack   `json:"track,omitempty"`
	Warnings   []Warning    `json:"warnings"`
	File       pageFile     `json:"file"`
}

type pageBank struct {
	Edges    []float64     `json:"edges"`
	Step     float64       `json:"step"`
	Loudest  float64       `json:"loudest"`
	Frames   int           `json:"frames"`
	Readings []pageReading `json:"readings"`
	Codes    string        `json:"codes"` // packed: differences from frame to frame, reading by reading, cell by cell
}

type pageReading struct {
	Seconds float64 `json:"seconds"`
	First   int     `json:"first"`
	Cells   int     `json:"cells"`
}

type pageTrack struct {
	Rate int    `json:"rate"`
	FLAC string `json:"flac"`
}

type pageFile struct {
	Name string `json:"name"`
	Text string `json:"text"`
}

// Write decodes the photos and writes the page. The errors are those of the photos and of w. The page is larger than
// Budget only where the photos are too many to be coded more coarsely.
func (p *Page) Write(w io.Writer) error {
	if p.First < p.Table.First || p.Last < p.First || p.Last >= p.Table.First+len(p.Table.Rows) {
		return fmt.Errorf("frames %d to %d are not within the level table's %d to %d; choose a part of it", p.First, p.Last, p.Table.First, p.Table.First+len(p.Table.Rows)-1)
	}
	c := &content{Facts: p.Facts, First: p.First, Last: p.Last, Frames: p.Table.First + len(p.Table.Rows) - 1,
		Width: p.Scene.Size().X, Height: p.Scene.Size().Y, Highest: p.Scene.Set.Top(), Dissolve: p.Dissolve,
		TableFirst: p.Table.First, Warnings: append([]Warning{}, p.Warnings...), File: pageFile{p.FileName, p.FileText}}
	c.Rate.Num, c.Rate.Den = p.Table.Rate.Num, p.Table.Rate.Den
	curve := p.Scene.Curve()
	c.Linear = curve.Linear[:]
	for code := range 256 {
		c.Least = append(c.Least, uint32(sort.Search(light.One, func(l int) bool { return int(curve.Code(uint32(l))) >= code })))
	}
	c.columns(p)
	c.Table = pack(tableBytes(p.Table))
	if p.Envelopes != nil {
		c.Envelopes = pack(envelopeBytes(p.Envelopes))
	}
	if p.Bank != nil {
		c.Bank = newPageBank(p.Bank)
	}
	if p.Track != nil {
		c.Track = &pageTrack{p.Track.Rate, base64.StdEncoding.EncodeToString(p.Track.FLAC)}
	}
	room := Budget - reserve - len(c.Masks) - len(c.Table) - len(c.Envelopes)
	if c.Bank != nil {
		room -= len(c.Bank.Codes)
	}
	if c.Track != nil {
		room -= len(c.Track.FLAC)
	}
	if err := c.photos(p.Scene, room); err != nil {
		return err
	}
	return writePage(w, "page.html", p.Title, "page.css", scripts, c)
}

// columns fills in the columns with their regions and masks.
func (c *content) columns(p *Page) {
	made := p.Scene.Masks()
	var planes []byte
	for i, column := range p.Columns {
		m := made[i]
		out := pageColumn{Column: column, Mask: rectangle{m.Rect.Min.X, m.Rect.Min.Y, m.Rect.Dx(), m.Rect.Dy()}}
		for _, corner := range p.Scene.View.Region(p.Scene.Columns[i].Region) {
			tenth := func(v float64) float64 { return math.Round(v*10) / 10 }
			out.Region = append(out.Region, [2]float64{tenth(corner.X), tenth(corner.Y)})
		}
		c.Columns = append(c.Columns, out)
		planes = append(planes, maskBytes(m.Alpha, m.Rect.Dx())...)
	}
	c.Masks = pack(planes)
}

// maskBytes writes each value as its difference from the one on its left, all high bytes first: most are then 0.
func maskBytes(alpha []uint16, width int) []byte {
	out := make([]byte, 2*len(alpha))
	for i, v := range alpha {
		if i%width > 0 {
			v -= alpha[i-1]
		}
		out[i], out[len(alpha)+i] = byte(v>>8), byte(v)
	}
	return out
}

func tableBytes(table *levels.Table) []byte {
	var out []byte
	for c := range table.Names {
		for _, row := range table.Rows {
			out = binary.LittleEndian.AppendUint32(out, uint32(row[c]))
		}
	}
	return out
}

func envelopeBytes(envelopes [][]float64) []byte {
	var out []byte
	for _, values := range envelopes {
		for _, v := range values {
			out = binary.LittleEndian.AppendUint64(out, math.Float64bits(v))
		}
	}
	return out
}

func newPageBank(bank *sound.Bank) *pageBank {
	out := &pageBank{Edges: bank.Edges, Step: bank.Step, Loudest: bank.Loudest}
	var codes []byte
	for _, r := range bank.Readings {
		out.Readings = append(out.Readings, pageReading{r.Seconds, r.First, len(r.Codes)})
		for _, cell := range r.Codes {
			out.Frames = len(cell)
			last := uint8(0)
			for _, code := range cell {
				codes = append(codes, code-last)
				last = code
			}
		}
	}
	out.Codes = pack(codes)
	return out
}

// pack makes text of bytes.
func pack(data []byte) string {
	var out bytes.Buffer
	w := zlib.NewWriter(&out)
	w.Write(data) // a bytes.Buffer takes all
	w.Close()
	return base64.StdEncoding.EncodeToString(out.Bytes())
}
