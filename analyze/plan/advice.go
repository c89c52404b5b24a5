package plan

import (
	"fmt"
	"strconv"
	"strings"
)

// Shot is one photo of the list.
type Shot struct {
	Level    int
	File     string // a name that sorts and numbers well
	Do       string // what is done before it is taken
	Standing int    // objects on the stage in it
	Growing  []int  // columns, from 1, that got an object
}

// Shots is the shot list: the empty stage first, then one row of objects a photo, the bottom row first.
func (s *Shoot) Shots() []Shot {
	digits := max(2, len(strconv.Itoa(s.Top())))
	shots := make([]Shot, 0, s.Photos())
	standing := 0
	for level := range s.Photos() {
		shot := Shot{Level: level, File: fmt.Sprintf("shot-%0*d.jpg", digits, level), Do: "the empty stage"}
		if level > 0 {
			shot.Growing = s.growing(level)
			shot.Do = s.row(level, shot.Growing)
			standing += len(shot.Growing)
		}
		shot.Standing = standing
		shots = append(shots, shot)
	}
	return shots
}

// row says which row of objects is added.
func (s *Shoot) row(level int, growing []int) string {
	where := "on every stack"
	if s.Columns() == 1 {
		where = "on the stack"
	} else if len(growing) < s.Columns() {
		where = "on " + countedList("stack", growing) + " only"
	}
	if level == 1 {
		return "row 1, the bottom: one object " + where
	}
	if level == s.Top() {
		return fmt.Sprintf("row %d, the top: one object %s", level, where)
	}
	return fmt.Sprintf("row %d: one object %s", level, where)
}

// countedList is "stack 2", "stacks 1 and 3" or "stacks 1, 3 and 4".
func countedList(noun string, numbers []int) string {
	words := make([]string, len(numbers))
	for i, n := range numbers {
		words[i] = strconv.Itoa(n)
	}
	if len(words) == 1 {
		return noun + " " + words[0]
	}
	last := len(words) - 1
	return noun + "s " + strings.Join(words[:last], ", ") + " and " + words[last]
}

// settings are what to lock on the camera, in the order in which one does it.
func settings() []string {
	return []string{
		"Tripod: weighted, its feet marked with tape; image stabilisation off; remote release or self-timer.",
		"Exposure: manual. Shutter, aperture and ISO as in the first photo; automatic ISO off.",
		"Lamps that flicker: a shutter of 1/50 s or a multiple where mains run at 50 Hz, 1/60 s where at 60 Hz.",
		"White balance: a fixed value, not automatic; picture style fixed; automatic contrast, brightness and HDR off.",
		"Focus: manual, set on the middle of the stacks, the ring taped; zoom ring taped; no change of lens corrections.",
		"Depth: an aperture that keeps front and back of the stacks sharp in one photo, since focus does not move.",
		"Files: one size, one orientation, numbered in order; automatic rotation off; raw files all developed alike.",
		"Power and card: mains or a full battery, room for all photos, no sleep that resets the lens.",
		"Framing: gaps between stacks as wide as half a stack, room above the tallest, shadows falling between stacks, all of it within the video's shape.",
	}
}

// cautions are what can go wrong for people and for the set.
func cautions() []string {
	return []string{
		"Local codes and qualified people (electricians, riggers, fire and safety officers) come before anything written here.",
		"Stacks fall: build low, on a firm and level surface, nothing heavy above a person, a child or an animal. Wear shoes.",
		"Glass and whatever breaks: eye protection and gloves while building and clearing; sweep before anyone walks there.",
		"Lamps: well away from curtains, paper and filters; never left alone; let them cool before they are moved.",
		"Cables: taped down, off the walkway, away from water; a residual-current device; dry hands.",
		"Listening: loud sound harms hearing for good. Turn it down and take breaks.",
		"Flashing: columns that jump many times a second over much of the picture can cause seizures. Watch it small first.",
		"Do not touch what stands already. After a bump or a fall, shoot again from the empty stage.",
	}
}
