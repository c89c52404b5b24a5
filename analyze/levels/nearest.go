package levels

import "strings"

// nearest is the candidate that a name was probably meant to be, or "" where none is near: at most a third of its
// letters, and at least two, are wrong. Capitals do not count.
func nearest(name string, candidates []string) string {
	best, nearest := "", max(2, len([]rune(name))/3)+1
	if len(name) > 100 { // no name is, and comparing takes the square of the length
		return ""
	}
	for _, candidate := range candidates {
		if d := editDistance([]rune(strings.ToLower(name)), []rune(strings.ToLower(candidate))); d < nearest {
			best, nearest = candidate, d
		}
	}
	return best
}

// editDistance is the number of letters to be put in, taken out or changed between two words (Levenshtein 1966).
func editDistance(a, b []rune) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i, x := range a {
		diagonal := row[0]
		row[0] = i + 1
		for j, y := range b {
			changed := diagonal
			if x != y {
				changed++
			}
			diagonal = row[j+1]
			row[j+1] = min(changed, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}
