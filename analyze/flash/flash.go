// Package flash warns, before a frame is made, of flashing that may harm: the general and the red flash of WCAG 2.2,
// success criterion 2.3.1, and the figures of Recommendation ITU-R BT.1702-3. It takes the photos, the columns' masks
// and a level table, and finds what an analysis of the rendered frames would find. It warns; it certifies nothing.
//
// # What counts
//
// A change is a step of a place's relative luminance between adjacent peaks and valleys of its course over time, so that
// a fade of many frames is one change: at least 0.1 of full luminance, the darker end below 0.8. It is dated when that
// much is reached. Two opposing changes are a flash. BT.1702 says the same in 20 and 160 of 200 cd/m2.
//
// A red change is one to or from a saturated red, R/(R+G+B) at least 0.8 in light, by more than 0.2 in the CIE 1976
// u'v' diagram. Black has no place there: below a hundredth of white's light, R+G+B together, a colour counts as
// black and black stands at the white point. (Without that bound a code or two of noise in the darks would be red.)
//
// More than three flashes, that is seven changes, within any second are too many where they take more than a quarter
// of the area that can be seen sharply together: for WCAG of a field of 10 degrees, 341 x 256 pixels of a picture 1024
// wide, wherever it lies; for BT.1702 of the whole screen. There are two ways to that, and either is enough:
//
//   - places that make seven changes each within the same second, taken together, cover more than the quarter;
//   - seven changes, each other than the one before in direction and each of more than the quarter in one frame, fall
//     within a second, be it in one place or in several that take turns.
//
// The second is closed: changes exactly a second apart count, one step earlier than the half-open second that
// "within any one-second period" may also mean. A warning says when it rests on that (AtLimit).
//
// # What is exact and what errs on the side of caution
//
// A place is a pixel of the frame, composed by the reference compositor: its changes are those of the rendered frame.
// Where looking at each pixel would take long, at large frames and under dissolves, one pixel of each square of
// Step x Step stands for all, and the area is an estimate. The picture is taken to fill the screen's width. A field is
// laid at every 32nd of its size and reaches one step further, so that no field between is missed: it may hold up to 6 %
// more than its own area (fields of up to 32 pixels lie at every pixel and hold no more). Area need not hang together,
// and fine balanced patterns, which WCAG exempts, are not exempt here.
//
// Not looked at: regular stripes, which BT.1702 bounds also when they do not flash, and flashing that stays below these
// figures but lasts; parts of the table that are not given, such as another round of a loop.
package flash

import (
	"image"

	"colonnade/analyze/levels"
	"colonnade/compose/light"
	"colonnade/compose/picture"
	"colonnade/masks"
)

// The standards' names, as warnings give them.
const (
	WCAG   = "WCAG 2.2 SC 2.3.1"
	BT1702 = "ITU-R BT.1702-3"
)

// Kind is what flashes.
type Kind string

// Kinds of flashes.
const (
	General Kind = "general" // of luminance
	Red     Kind = "red"     // to or from a saturated red
)

// Warning is a passage that flashes more than a standard takes for harmless.
type Warning struct {
	Standard string   `json:"standard"` // WCAG or BT1702
	Kind     Kind     `json:"kind"`
	From     float64  `json:"from"` // song time in seconds at which the first change begins to be shown
	To       float64  `json:"to"`   // and the last has been shown for a frame
	First    int      `json:"first_frame"`
	Last     int      `json:"last_frame"`
	Columns  []string `json:"columns"` // that make up a tenth or more of it, in the table's order
	Changes  int      `json:"changes"` // the most within one second
	Flashes  float64  `json:"flashes"` // pairs of them
	Share    float64  `json:"share"`   // of the area looked at, 0 to 1, at the worst moment
	Of       string   `json:"of"`      // the area looked at: "a 10-degree field" or "the screen"
	Field    Field    `json:"field"`   // where that lies at the worst moment, in pixels of the frame
	AtLimit  bool     `json:"at_limit"`
	Hold     int      `json:"hold"`   // frames: columns that hold each level so long do not flash by themselves
	Remedy   string   `json:"remedy"` // what would calm it, in words
}

// Field is a rectangle of the frame, in pixels.
type Field struct {
	X      int `json:"x"`
	Y      int `json:"y"`
	Width  int `json:"width"`
	Height int `json:"height"`
}

// mostChanges is how many changes within a second are harmless: three flashes.
const mostChanges = 6

// Fewest is the fewest frames that may flash too much: fewer hold mostChanges changes at most, at any frame rate.
const Fewest = mostChanges + 2

// effort bounds the looks at a pixel in one of its states, for each four minutes of 25 frames a second; where there would
// be more, samples of the pixels are looked at.
const (
	effort       = 8 << 20
	effortFrames = 6000
)

// widest is the frame's width in pixels from which only every second one, third one ... is looked at.
const widest = 2048

// Scene is all that a frame's pixels are made from. Photos have the base plate's size, and the masks lie inside it.
type Scene struct {
	Base   picture.Reader
	Photos []picture.Reader // by level
	Masks  []*masks.Mask    // by column, in the order in which columns are laid over each other
	Curve  *light.Curve
}

// Warnings looks through all frames of a table. The scene's photos may be nil where the table does not show them (see
// levels.Shown); each row of the table has a level for each of the scene's masks. Warnings come by standard, kind and
// time; there are none when nothing flashes too much.
func Warnings(scene *Scene, colour *Colour, table *levels.Table) []Warning {
	return newAnalysis(scene, colour, table).warnings(effort * max(1, len(table.Rows)/effortFrames))
}

// analysis is one look through a table.
type analysis struct {
	scene  *Scene
	size   image.Point // of the frame
	colour *Colour
	table  *levels.Table
	used   [][]int // photos that each column shows
	grids  []grid
	closed int // frames from the first to the last that lie within a closed second
	open   int // and within a half-open one
}

func newAnalysis(scene *Scene, colour *Colour, table *levels.Table) *analysis {
	a := &analysis{scene: scene, colour: colour, table: table, used: photosOfColumns(table, len(scene.Masks))}
	a.size = image.Pt(scene.Base.Size())
	a.grids = []grid{fieldGrid(a.size), screenGrid(a.size)}
	// Frames a and b begin (b-a)·Den/Num seconds apart.
	a.closed = int(table.Rate.Num / table.Rate.Den)
	a.open = int((table.Rate.Num+table.Rate.Den-1)/table.Rate.Den) - 1
	return a
}

func photosOfColumns(table *levels.Table, columns int) [][]int {
	used := make([][]int, columns)
	for c := range used {
		seen := make(map[int]bool)
		for _, row := range table.Rows {
			low := int(row[c] / levels.One)
			for photo := low; photo <= low+1; photo++ {
				if (photo == low || !row[c].Whole()) && !seen[photo] {
					seen[photo] = true
					used[c] = append(used[c], photo)
				}
			}
		}
	}
	return used
}

// warnings looks at pixels as finely as so much effort allows.
func (a *analysis) warnings(effort int) []Warning {
	if len(a.table.Rows) < 2 { // one frame does not change
		return nil
	}
	found := a.look(effort)
	var out []Warning
	general, red := a.newCounter(General, found.bright, found.step), a.newCounter(Red, found.red, found.step)
	for which := range a.grids {
		out = append(out, general.warnings(which)...)
		out = append(out, red.warnings(which)...)
	}
	return out
}
