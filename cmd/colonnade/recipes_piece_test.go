package main

import (
	"encoding/binary"
	"fmt"
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"colonnade/analyze/timing"
)

// The recipes are run on pieces whose picture and sound tell the time: clicks, and a column that shows only while one
// sounds, beside a chart of flat colours.
const (
	clickRate               = 48000
	chartWidth, chartHeight = 320, 192
	patchWidth, patchHeight = 40, 96
)

var (
	pal  = timing.Rate{Num: 25, Den: 1}
	film = timing.Rate{Num: 24000, Den: 1001}
	// clickColumn is where the column shows.
	clickColumn = image.Rect(256, 32, 304, 160)
	// flats are colours at the corners of RGB, of its greys, and two within.
	flats = []color.NRGBA{
		{255, 0, 0, 255}, {0, 255, 0, 255}, {0, 0, 255, 255}, {0, 255, 255, 255}, {255, 0, 255, 255}, {255, 255, 0, 255},
		{0, 0, 0, 255}, {255, 255, 255, 255}, {128, 128, 128, 255}, {200, 120, 60, 255}, {60, 90, 140, 255}, {20, 20, 24, 255},
	}
)

// patch is the middle of the chart's i-th colour, away from where chroma is shared with a neighbour.
func patch(i int) image.Rectangle {
	corner := image.Pt(i%6*patchWidth, i/6*patchHeight)
	return image.Rectangle{corner, corner.Add(image.Pt(patchWidth, patchHeight))}.Inset(12)
}

// clickPiece writes photos, columns.toml and the song, with a click in the middle third of each of some frames.
func clickPiece(t *testing.T, folder, song string, rate timing.Rate, seconds float64, frames []int) {
	t.Helper()
	if err := os.MkdirAll(filepath.Join(folder, "photos"), 0o755); err != nil {
		t.Fatal(err)
	}
	for level := range 2 {
		img := image.NewNRGBA(image.Rect(0, 0, chartWidth, chartHeight))
		for y := range chartHeight {
			for x := range chartWidth {
				c := color.NRGBA{40, 40, 40, 255}
				if x < 6*patchWidth {
					c = flats[x/patchWidth+y/patchHeight*6]
				} else if level == 1 && (image.Point{x, y}).In(clickColumn) {
					c = color.NRGBA{240, 200, 90, 255}
				}
				img.SetNRGBA(x, y, c)
			}
		}
		if err := writePNG(filepath.Join(folder, "photos", fmt.Sprintf("shot-%d.png", level)), img); err != nil {
			t.Fatal(err)
		}
	}
	samples := make([]float64, int(seconds*clickRate))
	noise := rand.New(rand.NewPCG(1, 2))
	for i := range samples {
		samples[i] = 1e-4 * noise.NormFloat64()
	}
	for i, n := range frames {
		// Sudden, as an onset is, and short.
		at := (float64(n) - 0.6 + 0.1*float64(i%3)) * float64(rate.Den) / float64(rate.Num)
		for k, begin := 0, int(at*clickRate); k < clickRate/100 && begin+k < len(samples); k++ {
			seconds := float64(k) / clickRate
			samples[begin+k] += 0.9 * math.Exp(-seconds/0.002) * math.Cos(2*math.Pi*3000*seconds)
		}
	}
	if err := os.WriteFile(filepath.Join(folder, song), stereo(samples), 0o644); err != nil {
		t.Fatal(err)
	}
	// No click's neighbouring frame is to rise: a window reaches into it, 10 dB and more below.
	text := fmt.Sprintf("photos = \"photos\"\nsong = %q\nfps = \"%d/%d\"\nfeather = 0\n[response]\nfloor = -8\nrelease = 0\nhold = 1\nclip = 0\n"+
		"[[column]]\nname = \"click\"\nband = [2000, 4000]\nbox = [%d, %d, %d, %d]\n", song, rate.Num, rate.Den,
		clickColumn.Min.X-8, clickColumn.Min.Y-8, clickColumn.Dx()+16, clickColumn.Dy()+16)
	if err := os.WriteFile(filepath.Join(folder, "columns.toml"), []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

// stereo is a 16-bit WAV of two equal channels.
func stereo(samples []float64) []byte {
	data := []byte("RIFF\x00\x00\x00\x00WAVEfmt ")
	data = binary.LittleEndian.AppendUint32(data, 16)
	for _, v := range []uint16{1, 2} {
		data = binary.LittleEndian.AppendUint16(data, v)
	}
	data = binary.LittleEndian.AppendUint32(data, clickRate)
	data = binary.LittleEndian.AppendUint32(data, clickRate*4)
	for _, v := range []uint16{4, 16} {
		data = binary.LittleEndian.AppendUint16(data, v)
	}
	data = append(data, "data"...)
	data = binary.LittleEndian.AppendUint32(data, uint32(4*len(samples)))
	for _, v := range samples {
		code := uint16(int16(math.Round(v * 32767)))
		data = binary.LittleEndian.AppendUint16(data, code)
		data = binary.LittleEndian.AppendUint16(data, code)
	}
	binary.LittleEndian.PutUint32(data[4:], uint32(len(data)-8))
	return data
}

// block is a fenced block of the README.
type block struct{ heading, language, text string }

// blocksOf is the fenced blocks of a section of the README, each with the nearest heading above it.
func blocksOf(t *testing.T, section string) []block {
	t.Helper()
	text, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	_, rest, found := strings.Cut(string(text), "\n## "+section+"\n")
	if !found {
		t.Fatalf("README.md has no section %q", section)
	}
	rest, _, _ = strings.Cut(rest, "\n## ")
	var blocks []block
	heading, inside := section, false
	for line := range strings.Lines(rest) {
		switch {
		case strings.HasPrefix(line, "```") && !inside:
			blocks, inside = append(blocks, block{heading: heading, language: strings.TrimSpace(line[3:])}), true
		case strings.HasPrefix(line, "```"):
			inside = false
		case inside:
			blocks[len(blocks)-1].text += line
		case strings.HasPrefix(line, "### "):
			heading = strings.TrimSpace(line[4:])
		}
	}
	return blocks
}
