package columnfile

import (
	"fmt"
	"slices"
	"sort"
	"strings"
)

// The keys of each table, in the order in which a list of them reads best.
var (
	topKeys      = []string{"photos", "song", "offset", "fps", "base", "feather", "light", "motion", "size", "crop", "steady", "response", "column"}
	responseKeys = []string{"scale", "clip", "floor", "curve", "gain", "attack", "release", "hold", "top", "bottom"}
	columnKeys   = slices.Concat([]string{"name", "band", "follow", "channel", "region", "box", "feather"}, responseKeys)
)

// A place is where a key may stand, and how a message says so.
type place struct {
	name string
	keys []string
}

var places = []place{{"at the top of the file", topKeys}, {"in [response]", responseKeys}, {"in [[column]]", columnKeys}}

const (
	topPlace = iota
	responsePlace
	columnPlace
)

// unknownKeys finds every key that is not known where it stands. The message is about the first in the file
// and says how many more there are.
func unknownKeys(s *source, root *table, columns []*table) error {
	type found struct {
		*entry
		place int
	}
	var all []found
	look := func(t *table, place int) {
		if t == nil {
			return
		}
		for _, e := range t.entries {
			if !slices.Contains(places[place].keys, e.key) {
				all = append(all, found{e, place})
			}
		}
	}
	look(root, topPlace)
	if response := root.value("response"); response != nil {
		look(response.table, responsePlace)
	}
	for _, column := range columns {
		look(column, columnPlace)
	}
	if len(all) == 0 {
		return nil
	}
	sort.Slice(all, func(i, j int) bool { return all[i].at < all[j].at })
	first := all[0]
	what := "unknown key " + quote(first.key)
	switch more := len(all) - 1; {
	case more == 1:
		what += " and 1 more"
	case more > 1:
		what += fmt.Sprintf(" and %d more", more)
	}
	return mistake(s.where(first.at), what, keyRemedy(first.key, first.place))
}

// keyRemedy says what was probably meant by a key that is not known at a place.
func keyRemedy(key string, at int) string {
	if at == columnPlace && key == "response" {
		return "write its keys in [[column]] itself"
	}
	lower := strings.ToLower(key)
	if slices.Contains(places[at].keys, lower) {
		return "write it as " + inItsBrackets(lower)
	}
	var homes []string
	for i, p := range places {
		// A response key in [response] holds for all columns, so that is the home to name.
		if i != at && slices.Contains(p.keys, lower) && !(i == columnPlace && slices.Contains(responseKeys, lower)) {
			homes = append(homes, p.name)
		}
	}
	if len(homes) > 0 {
		return fmt.Sprintf("%s belongs %s", inItsBrackets(lower), strings.Join(homes, " or "))
	}
	if near := Nearest(key, places[at].keys); near != "" {
		return "did you mean " + inItsBrackets(near) + "?"
	}
	for i, p := range places {
		if near := Nearest(key, p.keys); near != "" && i != at {
			return fmt.Sprintf("did you mean %s %s?", inItsBrackets(near), p.name)
		}
	}
	return fmt.Sprintf("the keys %s are %s", places[at].name, strings.Join(places[at].keys, ", "))
}

// inItsBrackets is a key as one writes it, in quotes or as the header of its table.
func inItsBrackets(key string) string {
	switch key {
	case "response":
		return "[response]"
	case "column":
		return "[[column]]"
	}
	return `"` + key + `"`
}

// farthest is the most slips of the finger that a suggestion bridges.
const farthest = 2

// Nearest is the word closest to what was written, "" when none is close: at most farthest slips away and
// less than half rewritten.
func Nearest(written string, words []string) string {
	best, closest := "", farthest+1
	for _, word := range words {
		if d := distance(strings.ToLower(written), word); d < closest && 2*d < max(len(written), len(word)) {
			best, closest = word, d
		}
	}
	return best
}

// distance is the number of slips between two words: letters inserted, left out, replaced, or swapped with
// their neighbour (optimal string alignment distance).
func distance(a, b string) int {
	from, to := []rune(a), []rune(b)
	if len(from) > len(to)+farthest || len(to) > len(from)+farthest {
		return farthest + 1
	}
	rows := make([][]int, len(from)+1)
	for i := range rows {
		rows[i] = make([]int, len(to)+1)
		rows[i][0] = i
	}
	for j := range rows[0] {
		rows[0][j] = j
	}
	for i := 1; i <= len(from); i++ {
		for j := 1; j <= len(to); j++ {
			cost := 1
			if from[i-1] == to[j-1] {
				cost = 0
			}
			rows[i][j] = min(rows[i-1][j]+1, rows[i][j-1]+1, rows[i-1][j-1]+cost)
			if i > 1 && j > 1 && from[i-1] == to[j-2] && from[i-2] == to[j-1] {
				rows[i][j] = min(rows[i][j], rows[i-2][j-2]+1)
			}
		}
	}
	return rows[len(from)][len(to)]
}
