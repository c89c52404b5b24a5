// Package levels holds the level table: which level each column shows in each frame. It is where sound and
// pictures meet, a plain CSV that a person can edit; it knows neither.
package levels

import (
	"strconv"
	"strings"

	"colonnade/analyze/timing"
)

// Level is a height in a stack of photos, in thousandths, from 0: 2000 is level 2, 2125 an eighth of the way from
// level 2 to level 3.
type Level int32

// One is the distance between two photos.
const One Level = 1000

// Whole reports whether the level is a photo's own.
func (l Level) Whole() bool { return l%One == 0 }

// Shown is the numbers of the photos that rows of levels show, rising: of a level between two photos both.
func Shown(rows ...[]Level) []int {
	var shown []bool
	for _, row := range rows {
		for _, level := range row {
			low, high := int(level/One), int((level+One-1)/One)
			for len(shown) <= high {
				shown = append(shown, false)
			}
			shown[low], shown[high] = true, true
		}
	}
	var photos []int
	for photo, is := range shown {
		if is {
			photos = append(photos, photo)
		}
	}
	return photos
}

// String writes a whole level without, any other with up to three decimals.
func (l Level) String() string {
	text := strconv.Itoa(int(l / One))
	if l.Whole() {
		return text
	}
	decimals := strconv.Itoa(int(One + l%One))[1:]
	return text + "." + strings.TrimRight(decimals, "0")
}

// Table is a run of frames: the levels that each column shows in them.
type Table struct {
	Rate  timing.Rate // frames a second
	First int         // number of the first frame, from 1
	Names []string    // of the columns, each unlike the others
	Rows  [][]Level   // Rows[i][c] is what column Names[c] shows in frame First+i
}
