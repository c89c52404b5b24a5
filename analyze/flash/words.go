package flash

import (
	"fmt"
	"strconv"
	"strings"
)

// Caution belongs under every list of warnings, and where there are none.
const Caution = "flashing: this is a warning and no test: silence certifies nothing; the broadcaster's own rules and qualified testing decide"

// Where is the passage in words.
func (w Warning) Where() string {
	return fmt.Sprintf("%s to %s (frames %d-%d)", Clock(w.From), Clock(w.To), w.First, w.Last)
}

// What is what was found, in words.
func (w Warning) What() string {
	how, limit := "flash", ""
	if w.Kind == Red {
		how = "flash to or from saturated red"
	}
	if len(w.Columns) == 1 {
		how = strings.Replace(how, "flash", "flashes", 1)
	}
	if w.AtLimit {
		limit = ", with both ends of the second counted"
	}
	return fmt.Sprintf("%s %s %s times within a second%s, over %.0f %% of %s; more than 3 times over 25 %% is too much by %s (%s flash)",
		list(w.Columns), how, strconv.FormatFloat(w.Flashes, 'f', -1, 64), limit, 100*w.Share, w.Of, w.Standard, w.Kind)
}

// remedy says what would calm a passage in which columns jump, or one in which they dissolve, where hold does not count.
func (w Warning) remedy(dissolve bool) string {
	them := "them"
	if len(w.Columns) == 1 {
		them = "it"
	}
	text := fmt.Sprintf(`set hold = %d or more for %s, a longer release, or fewer levels (a lower top), or motion = "dissolve" with a longer attack and release`, w.Hold, them)
	if dissolve {
		text = fmt.Sprintf(`set a longer attack and release for %s, or fewer levels (a lower top), or motion = "step" with hold = %d or more`, them, w.Hold)
	}
	if w.Kind == Red {
		text += ", or choose objects less red"
	}
	return text
}

// String is the whole warning in one line, "WHERE: WHAT; WHAT TO DO".
func (w Warning) String() string { return w.Where() + ": " + w.What() + "; " + w.Remedy }

// Notes are lines for a person: of each standard and kind the worst passage and the number of the others, and Caution.
// There are none when there are no warnings.
func Notes(warnings []Warning) []string {
	type heading struct {
		standard string
		kind     Kind
	}
	worst, counts := make(map[heading]Warning), make(map[heading]int)
	var order []heading
	for _, w := range warnings {
		h := heading{w.Standard, w.Kind}
		if counts[h]++; counts[h] == 1 {
			order = append(order, h)
			worst[h] = w
		} else if w.Flashes*w.Share > worst[h].Flashes*worst[h].Share {
			worst[h] = w
		}
	}
	var lines []string
	for _, h := range order {
		more := ""
		if n := counts[h] - 1; n == 1 {
			more = ", and in another passage"
		} else if n > 1 {
			more = fmt.Sprintf(", and in %d other passages", n)
		}
		w := worst[h]
		lines = append(lines, fmt.Sprintf("flashing: %s%s: %s; %s", w.Where(), more, w.What(), w.Remedy))
	}
	if len(lines) > 0 {
		lines = append(lines, Caution)
	}
	return lines
}

// list is names in a sentence: "a", "b" and "c".
func list(names []string) string {
	var b strings.Builder
	for i, name := range names {
		switch {
		case i > 0 && i == len(names)-1:
			b.WriteString(" and ")
		case i > 0:
			b.WriteString(", ")
		}
		b.WriteString(strconv.Quote(name))
	}
	return b.String()
}

// Clock is a time in minutes and seconds, as render's --from takes it.
func Clock(seconds float64) string {
	hundredths := int64(seconds*100 + 0.5)
	return fmt.Sprintf("%d:%02d.%02d", hundredths/6000, hundredths/100%60, hundredths%100)
}
