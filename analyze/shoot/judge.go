package shoot

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Finding is a fault or a note.
type Finding struct {
	Where  string `json:"where"`
	What   string `json:"what"`
	Remedy string `json:"remedy"`
}

// String is the finding in one line, "WHERE: WHAT; WHAT TO DO".
func (f Finding) String() string { return f.Where + ": " + f.What + "; " + f.Remedy }

// Set is all that is known of a photo set.
type Set struct {
	Base     *Base
	BaseName string     // of the base plate's file
	Names    []string   // of the photos' files, by level
	Shots    []*Shot    // by level; after steady where that is switched on
	Before   []*Measure // by level, before steady; nil when it is off, and for the base plate
	Mends    []Mend     // by level, what steady was to do; nil when it is off
	Steady   []string   // the corrections that are switched on: "light", "shift"
	Exposure []Exposure // by level, what the camera wrote
	Places   []string   // of the columns in the column file, for messages
	Scale    float64    // frame pixels a photo pixel
}

// Report is what has been found out.
type Report struct {
	Photos  []PhotoReport
	Columns []ColumnReport
	Order   []int // the order that fits better, nil when the photos lie right
	Faults  []Finding
	Notes   []Finding
}

// PhotoReport is a photo's measures and whether they are faults, for tables and drawings.
type PhotoReport struct {
	Name     string
	Measure  *Measure
	Before   *Measure // before steady; nil when it is off
	Exposure Exposure
	Faulty   bool
}

// ColumnReport is what has been found of a column, by level.
type ColumnReport struct {
	Name    string
	Levels  []LevelReport
	Overlap float64 // the largest share that it takes of a neighbour's pixels
}

// LevelReport is a column at a level.
type LevelReport struct {
	Seam, SeamAsIs float64 // 8-bit steps along the edge, at the base plate's light and as the photo is
	SeamAt         [2]int  // photo pixels
	SeamSeen       bool
	Grows          bool // something new is there; true at level 0
	Still          bool // what stood below is still in its place; true at level 0
	Fault          bool
}

// Judge tells what of a set would show in the video.
func Judge(set Set) *Report {
	j := &judge{Set: set, report: &Report{}, strange: make([]bool, len(set.Shots)), spoilt: make([]bool, len(set.Shots))}
	j.still()
	order := j.arrange()
	j.photos()
	j.tellOrder(order)
	if len(set.Base.columns) > 0 {
		j.columns()
		j.outside()
	} else {
		j.wholePhotos()
	}
	j.exposures()
	return j.report
}

type judge struct {
	Set
	report  *Report
	line    []entry       // the photos in the order that fits
	strange []bool        // by level: the photo is of something else, and not compared further
	steps   [][]levelStep // by column, through the line; none where it is too short
	spoilt  []bool        // by level: edges can not be compared, for the photo is soft, turned or strange
}

// entry is a photo in its place.
type entry struct {
	*Shot
	level int // as it is numbered
	place int // as it should be
}

// steadied is whether a correction is switched on.
func (j *judge) steadied(what string) bool { return slices.Contains(j.Steady, what) }

func (j *judge) fault(where, what, remedy string) {
	j.report.Faults = append(j.report.Faults, Finding{where, what, remedy})
}

func (j *judge) note(where, what, remedy string) {
	j.report.Notes = append(j.report.Notes, Finding{where, what, remedy})
}

func (j *judge) still() {
	if share := j.Base.stillShare(); share < notedStill {
		j.note(j.BaseName, fmt.Sprintf("only %.1f %% of the picture lies outside the regions and their feather, %.0f %% are wanted to measure light and shift", 100*share, 100*notedStill),
			"make the regions tighter, or trust your eyes more than these figures")
	}
	if slices.ContainsFunc(j.Shots, func(s *Shot) bool { return s.Dull }) {
		j.note(j.BaseName, "where nothing should change there is too little detail to tell whether the camera has moved", "look at the photos one over the other")
	}
}

// photos judges each photo as a whole.
func (j *judge) photos() {
	var noise []float64
	for _, s := range j.Shots {
		noise = append(noise, s.Noise)
	}
	usualSharp, usualNoise := j.usualSharpness(), min(middling(noise), max(j.Base.noise, middling(noise)))
	if 1 < visibleSoftness*usualSharp {
		j.fault(j.BaseName, fmt.Sprintf("the base plate is softer than the photos: it has %.0f %% of their fine detail", 100/usualSharp), "take another level as base, or photograph it again in focus")
	}
	inColumns := j.columnDetail()
	for level, s := range j.Shots {
		before := len(j.report.Faults)
		if j.sameScene(level, s) {
			share := j.sharpness(level, s, usualSharp, inColumns[level])
			j.light(level, s, share)
			j.shift(level, s, share)
			j.noise(level, s, usualNoise)
			if share == 1 {
				j.unclear(level, s)
			}
		}
		j.doubts(level)
		p := PhotoReport{Name: j.Names[level], Measure: &s.Measure, Faulty: len(j.report.Faults) > before}
		if j.Before != nil {
			p.Before = j.Before[level]
		}
		if j.Exposure != nil {
			p.Exposure = j.Exposure[level]
		}
		j.report.Photos = append(j.report.Photos, p)
	}
}

// usualSharpness is the median of the photos', 1 where none is known.
func (j *judge) usualSharpness() float64 {
	var sharp []float64
	for _, s := range j.Shots {
		if s.Sharpness > 0 {
			sharp = append(sharp, s.Sharpness)
		}
	}
	if usual := middling(sharp); usual > 0 {
		return usual
	}
	return 1
}

// sameScene is whether a photo shows what the base plate does; what else is said of one that does not would only
// confuse.
func (j *judge) sameScene(level int, s *Shot) bool {
	if !j.strange[level] {
		return true
	}
	j.fault(j.Names[level], fmt.Sprintf("its still parts do not match the base plate: the match is %.2f, %.1f is wanted; the camera was moved far, or the photo shows something else or is badly blurred", s.Confidence, minConfidence),
		"photograph it again, or take it out and lower top")
	return false
}

// blurDoubt is how many times its limit the light or the place of a photo with the given share of detail must be off to be told,
// 1 for one that is not blurred: blur mixes what is bright with what is dark, and moves edges. A blurred photo has to be taken
// again in any case.
func blurDoubt(share float64) float64 {
	if share == 1 {
		return 1
	}
	return 4 / max(share, 0.1)
}

func (j *judge) light(level int, s *Shot, share float64) {
	if !s.LightTrusted {
		j.note(j.Names[level], "its light can not be compared: too little of the still area is neither dark nor burnt out", "look at it beside the base plate")
		return
	}
	remedy := `add "light" to steady in the column file, as steady = ["light"], or photograph it again in constant light`
	if j.steadied("light") {
		remedy = "photograph it again in constant light: steady can not mend this"
	}
	tint, channel := 0.0, 0
	for c, v := range s.Channels {
		if off := v - s.Light; math.Abs(off) > math.Abs(tint) {
			tint, channel = off, c
		}
	}
	doubt := blurDoubt(share)
	if s.Uneven >= visibleUneven*doubt {
		j.fault(j.Names[level], fmt.Sprintf("the light has changed unevenly: by %.2f stops more in one part of the picture than in another, %.2f are seen", s.Uneven, visibleUneven),
			"photograph it again in constant light, away from windows: steady can not mend this")
	} else if math.Abs(s.Light) >= VisibleLight*doubt {
		j.fault(j.Names[level], fmt.Sprintf("it is %.3f stops (%.1f %%) %s than the base plate, %.4f are seen", math.Abs(s.Light), percent(math.Abs(s.Light)), comparative(s.Light, "brighter", "darker"), VisibleLight), remedy)
	}
	if math.Abs(tint) >= visibleTint*doubt {
		name := [3]string{"red", "green", "blue"}[channel]
		j.fault(j.Names[level], fmt.Sprintf("its colour is off: %s is %.3f stops %s than the rest, %.2f are seen", name, math.Abs(tint), comparative(tint, "brighter", "darker"), visibleTint), remedy)
	}
	if s.Burnt > j.baseBurnt()+notedBurnt {
		j.note(j.Names[level], fmt.Sprintf("%.1f %% of the still area is burnt out, %.1f %% of the base plate's", 100*s.Burnt, 100*j.baseBurnt()), "expose less: what is burnt out can not be brought back")
	}
}

func (j *judge) baseBurnt() float64 {
	burnt, _ := j.Base.clipped(j.Base.reduced, j.Base.still)
	return burnt
}

func comparative(v float64, more, less string) string {
	if v < 0 {
		return less
	}
	return more
}

// percent is a number of stops as a percentage of the light.
func percent(stops float64) float64 { return 100 * (math.Exp2(stops) - 1) }

func (j *judge) shift(level int, s *Shot, share float64) {
	if !s.ShiftTrusted {
		return
	}
	doubt := blurDoubt(share)
	limit := VisibleShift / j.Scale
	if off := math.Hypot(s.Shift[0], s.Shift[1]); off >= limit*doubt {
		remedy := `add "shift" to steady in the column file, as steady = ["shift"], or photograph it again without touching the camera`
		if j.steadied("shift") {
			remedy = "photograph it again without touching the camera: steady can not mend this"
		}
		j.fault(j.Names[level], fmt.Sprintf("the camera has moved: the scene lies %s, %.2f pixels are seen", directions(s.Shift), limit), remedy)
	}
	if limit := visibleTurn / j.Scale; s.Corner >= limit*doubt {
		j.spoilt[level] = true
		var how []string
		if s.Rotation != 0 {
			how = append(how, fmt.Sprintf("turned by %.3f degrees", math.Abs(s.Rotation)))
		}
		if s.Zoom != 0 {
			how = append(how, fmt.Sprintf("%s by %.3f %%", comparative(s.Zoom, "grown", "shrunk"), math.Abs(s.Zoom)))
		}
		j.fault(j.Names[level], fmt.Sprintf("the scene has %s, which moves the corners by %.1f pixels, %.2f are seen", strings.Join(how, " and "), s.Corner, limit),
			"photograph it again with tripod, focus and zoom locked: steady can not mend this")
	}
}

// directions says a shift in words.
func directions(shift [2]float64) string {
	var parts []string
	for i, words := range [2][2]string{{"right", "left"}, {"down", "up"}} {
		if v := shift[i]; math.Abs(v) >= 0.05 {
			parts = append(parts, fmt.Sprintf("%.2f pixels %s", math.Abs(v), comparative(v, words[0], words[1])))
		}
	}
	return strings.Join(parts, " and ")
}

// sharpness tells whether a photo is blurred, by its still parts or by what stands in its columns, and gives the share of detail
// that it has then, 1 when it is not blurred.
func (j *judge) sharpness(level int, s *Shot, usual, inColumns float64) float64 {
	least, inReduced := visibleSoftness, softInColumns
	if j.Scale < reducedFrame {
		least, inReduced = softInReduced, softInReduced
	}
	const remedy = "photograph it again with the focus locked and a remote release"
	share := s.Sharpness / usual
	if s.Sharpness > 0 && share < least {
		j.fault(j.Names[level], fmt.Sprintf("it is blurred: it has %.0f %% of the others' fine detail, %.0f %% are wanted", 100*share, 100*least), remedy)
	} else if inColumns < inReduced {
		j.fault(j.Names[level], fmt.Sprintf("it is blurred: what stands in its columns has %.0f %% of the detail that the others show there, %.0f %% are wanted", 100*inColumns, 100*inReduced), remedy)
		share = inColumns
	} else {
		return 1
	}
	j.spoilt[level] = true
	return share
}

// blurredBeside is the share of a photo's detail below which one beside it is blurred far more.
const blurredBeside = 0.9

// columnDetail is, by level, how much detail the objects have in a photo against the others, 1 where it can not be told. What stood
// at a level stands at the next as well: from level to level its detail can be compared, whatever the stage behind it is like.
func (j *judge) columnDetail() []float64 {
	out, known := make([]float64, len(j.Shots)), []float64{}
	for level := range out {
		out[level] = 1
	}
	if len(j.steps) == 0 || len(j.line) < 3 {
		return out
	}
	ratios := make([]float64, len(j.line)) // of each place against the one before
	for c := range j.Base.columns {
		for k, s := range j.steps[c] {
			if s.Shrunk && len(j.Base.columns) == 1 {
				continue
			}
			at := &ratios[k+1]
			// The column that has changed least tells: one alone may have changed in itself.
			if s.detail > 0 && (*at == 0 || math.Abs(math.Log(s.detail)) < math.Abs(math.Log(*at))) {
				*at = s.detail
			}
		}
	}
	detail := 1.0
	for k := 1; k < len(j.line); k++ {
		if ratios[k] > 0 {
			detail *= ratios[k]
		}
		out[j.line[k].level] = detail
		known = append(known, detail)
	}
	usual := middling(known)
	for i, e := range j.line[1:] {
		// Beside a photo that is blurred far more little can be told.
		least := known[i]
		for _, beside := range []int{i - 1, i + 1} {
			if beside >= 0 && beside < len(known) && known[beside] < blurredBeside*known[i] {
				least = usual
			}
		}
		out[e.level] = rounded(least/usual, 1000)
	}
	return out
}

func (j *judge) noise(level int, s *Shot, usual float64) {
	what := fmt.Sprintf("its noise is %.1f 8-bit steps, the others' %.1f", s.Noise, usual)
	const remedy = "photograph it again with the ISO locked"
	if more := s.Noise - usual; more >= visibleNoise {
		j.fault(j.Names[level], what, remedy)
	} else if more >= notedNoise {
		j.note(j.Names[level], what, remedy)
	}
}

// unclear says that a photo may be blurred though its sharpness could not be measured: where another photo's shift is known, its
// own could not be told. On a soft stage blur takes away all that both are measured by.
func (j *judge) unclear(level int, s *Shot) {
	if s.ShiftTrusted || s.Dull || j.steadied("shift") && j.Mends != nil { // steady's own words say so
		return
	}
	for other, o := range j.Shots {
		if other != level && o.ShiftTrusted && o.Sharpness > 0 && j.Names[other] != j.BaseName {
			j.note(j.Names[level], unclear, "look at it in full size beside the others, and photograph it again if it is soft")
			return
		}
	}
}

// doubts says what steady has left alone.
func (j *judge) doubts(level int) {
	if j.Mends == nil {
		return
	}
	m := j.Mends[level]
	for _, d := range []struct{ kind, doubt string }{{"light", m.LightDoubt}, {"shift", m.ShiftDoubt}} {
		if d.doubt != "" && j.steadied(d.kind) {
			j.note(j.Names[level], d.doubt+": steady leaves the "+d.kind+" alone", "look at the photo, or take it again")
		}
	}
}

// arrange leaves strange photos out, asks whether the others would fit better in another order or direction, and sets the line in that
// one. It gives the order, nil for the one at hand.
func (j *judge) arrange() []int {
	for level, s := range j.Shots {
		// One that matches, on the whole, is no other scene, even if no part of it is clear enough for its shift to be known.
		j.strange[level] = !s.ShiftTrusted && !s.Dull && s.Confidence < minConfidence
		j.spoilt[level] = j.strange[level]
		if !j.strange[level] {
			j.line = append(j.line, entry{s, level, level})
		}
	}
	// A blurred photo is far from all others, so that the way through all is shortest where it begins or ends with it: it stays
	// where it is.
	var clear []int
	var shots []*Shot
	usual := j.usualSharpness()
	for i, e := range j.line {
		if i == 0 || e.Sharpness == 0 || e.Sharpness >= visibleSoftness*usual {
			clear, shots = append(clear, i), append(shots, e.Shot)
		}
	}
	order := j.Base.order(shots)
	given := slices.Clone(j.line)
	for i, from := range order {
		e := given[clear[from]]
		j.line[clear[i]] = entry{e.Shot, e.level, given[clear[i]].place}
	}
	if shots := j.shotsInLine(); len(shots) > 1 {
		for c := range j.Base.columns {
			j.steps = append(j.steps, j.Base.steps(c, shots))
		}
	}
	return order
}

func (j *judge) shotsInLine() []*Shot {
	shots := make([]*Shot, len(j.line))
	for i, e := range j.line {
		shots[i] = e.Shot
	}
	return shots
}

// tellOrder tells that photos are numbered in another order than they fit in.
func (j *judge) tellOrder(order []int) {
	if order == nil {
		return
	}
	var displaced, belongs []string
	for level := range j.Shots {
		j.report.Order = append(j.report.Order, level)
	}
	for _, e := range j.line {
		j.report.Order[e.place] = e.level
		if e.level != e.place {
			displaced = append(displaced, j.Names[e.place])
			belongs = append(belongs, j.Names[e.level])
			j.report.Photos[e.place].Faulty = true
		}
	}
	what := "the photos would fit better in another order"
	switch {
	case slices.IsSortedFunc(j.line, func(a, b entry) int { return b.level - a.level }):
		what = "the stacks get lower from photo to photo: they seem to be numbered backwards"
	case len(displaced) == 2:
		what = "these two seem to have changed places"
	}
	j.fault(strings.Join(displaced, ", "), what, "number them in this order: "+strings.Join(belongs, ", "))
}
