package plan

import (
	"fmt"
	"math"
)

// Band is a part of the hearing range with a name for the column that follows it.
type Band struct {
	Name          string
	LowHz, HighHz float64
}

// usual are the bands by which mix engineers speak, low to high (common practice, no source).
var usual = []Band{
	{"rumble", 16, 60},
	{"bass", 60, 250},
	{"low mids", 250, 500},
	{"mids", 500, 2000},
	{"upper mids", 2000, 4000},
	{"presence", 4000, 6000},
	{"brilliance", 6000, 16000},
}

// fewer are the usual bands joined where there are fewer columns than bands, by number of columns.
var fewer = [...][]Band{
	1: {{"all", 16, 16000}},
	2: {{"lows", 16, 500}, {"highs", 500, 16000}},
	3: {{"bass", 16, 250}, {"mids", 250, 4000}, {"treble", 4000, 16000}},
	4: {{"bass", 16, 250}, {"mids", 250, 2000}, {"presence", 2000, 6000}, {"brilliance", 6000, 16000}},
	5: {{"rumble", 16, 60}, {"bass", 60, 250}, {"mids", 250, 2000}, {"presence", 2000, 6000}, {"brilliance", 6000, 16000}},
	6: {{"rumble", 16, 60}, {"bass", 60, 250}, {"low mids", 250, 500}, {"mids", 500, 2000}, {"presence", 2000, 6000}, {"brilliance", 6000, 16000}},
}

// The third-octave bands of IEC 61260-1 that music fills: exact mid-band frequencies 10^(i/10) Hz. The one above,
// 20 kHz, would reach beyond half the rate of a song with 44100 samples a second.
const (
	lowestThird  = 14 // 25 Hz
	highestThird = 42 // 16 kHz
)

// Bands suggests bands for columns from left to right: they follow one another without a gap, low to high, and their
// names differ. Up to seven columns take the usual bands of a mix. Beyond that a band is made of whole fractions of an
// octave of IEC 61260-1, thirds up to 29 columns: base-10 ratio G = 10^(3/10), edges at 1000·G^(x/b ± 1/2b) Hz. Where
// they can not all be equally wide the lowest are wider, since a narrow low band is slow to hear.
//
// Ten columns get the octave bands from 31.5 Hz to 8 kHz and the rest above. Fewer than one column gets none.
func Bands(columns int) []Band {
	switch {
	case columns < 1:
		return nil
	case columns < len(fewer):
		return append([]Band(nil), fewer[columns]...)
	case columns == len(usual):
		return append([]Band(nil), usual...)
	}
	const thirds = highestThird - lowestThird + 1
	split := (columns + thirds - 1) / thirds // parts of a third
	parts := thirds * split
	narrow, wider := parts/columns, parts%columns
	bands := make([]Band, columns)
	at := 0
	for i := range bands {
		low := edge(at, split)
		at += narrow
		if i < wider {
			at++
		}
		bands[i] = Band{LowHz: low, HighHz: edge(at, split)}
		bands[i].Name = fmt.Sprintf("%.3g-%.3g Hz", low, bands[i].HighHz)
		if bands[i].HighHz >= 1000 {
			bands[i].Name = fmt.Sprintf("%.3g-%.3g kHz", low/1000, bands[i].HighHz/1000)
		}
	}
	return bands
}

// edge is the edge that lies k parts of 1/split third octave above the lowest, in Hz with five digits: the same on
// every processor, and no longer than a person would write.
func edge(k, split int) float64 {
	exact := math.Pow(10, (float64(lowestThird)-0.5+float64(k)/float64(split))/10)
	unit := math.Pow(10, math.Floor(math.Log10(exact))-4)
	return math.Round(math.Round(exact/unit)*unit*1e4) / 1e4
}
