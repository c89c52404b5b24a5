package columnfile

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// reader turns values into numbers and words. It keeps the first mistake it meets, and gives zeros after it.
type reader struct{ err error }

func (r *reader) fail(where, what, remedy string) {
	if r.err == nil {
		r.err = mistake(where, what, remedy)
	}
}

// wrong says that the value of a key is not what it must be: fault reads on from "KEY is VALUE," or, for the
// value of a flag, which the message names already, from "VALUE is".
func (r *reader) wrong(n *node, key, fault, remedy string) {
	if n.source.flag == key {
		r.fail(n.where(), n.shown()+" is "+fault, remedy)
		return
	}
	r.fail(n.where(), key+" is "+n.shown()+", "+fault, remedy)
}

// shown is the value as a message names it.
func (n *node) shown() string {
	switch n.kind {
	case textKind:
		if n.source.flag == "" {
			return "the text " + quote(n.text)
		}
		return quote(n.text)
	case dateKind:
		return "the date " + printable(n.text)
	case listKind:
		return "a list"
	case tableKind:
		return "a table"
	}
	if len(n.text) > longestQuote {
		return n.text[:longestQuote] + "…"
	}
	return n.text
}

// written is a text as it is to be written where the value came from: in quotes in a file, bare in a flag.
func (n *node) written(text string) string {
	if n.source.flag != "" {
		return text
	}
	return strconv.Quote(text)
}

// A span is what a number may be.
type span struct {
	low, high float64
	below     bool // high itself is not allowed
	whole     bool
	unit      string
	example   string
}

// farthestPixel bounds coordinates: well beyond any photo, and small enough for exact products.
const farthestPixel = 100000

// highestLevel is more photos than anyone shoots.
const highestLevel = 100000

var (
	featherSpan    = span{low: 0, high: 1000, unit: "pixels", example: "12.0"}
	offsetSpan     = span{low: -3_600_000, high: 3_600_000, unit: "ms", example: "0.0"}
	baseSpan       = span{low: 0, high: highestLevel, whole: true, example: "0"}
	coordinateSpan = span{low: -farthestPixel, high: farthestPixel, unit: "pixels", example: "412"}
	originSpan     = span{low: 0, high: farthestPixel, unit: "pixels", example: "0"}
	extentSpan     = span{low: 0, high: 2 * farthestPixel, unit: "pixels", example: "120"}
	edgeSpan       = span{low: 0, high: 1e6, unit: "Hz", example: "60"}
	clipSpan       = span{low: 0, high: 0.5, unit: "of the frames", example: "0.01"}
	floorSpan      = span{low: -120, high: 0, below: true, unit: "dB", example: "-30.0"}
	curveSpan      = span{low: 0.1, high: 10, example: "1.0"}
	gainSpan       = span{low: -60, high: 60, unit: "dB", example: "0.0"}
	timeSpan       = span{low: 0, high: 10000, unit: "ms", example: "120.0"}
	holdSpan       = span{low: 0, high: 1000, whole: true, unit: "frames", example: "2"}
	levelSpan      = span{low: 0, high: highestLevel, whole: true, example: "5"}
)

func (s span) String() string {
	text := strconv.FormatFloat(s.low, 'f', -1, 64) + " to "
	if s.below {
		text += "below "
	}
	return strings.TrimRight(text+strconv.FormatFloat(s.high, 'f', -1, 64)+" "+s.unit, " ")
}

// number reads a number in a span. Whole numbers are taken where any number is wanted.
func (r *reader) number(n *node, key string, s span) float64 {
	wanted := "a number"
	if s.whole {
		wanted = "a whole number"
	}
	remedy := "write it as " + s.example
	if n.kind != integerKind && (n.kind != floatKind || s.whole) {
		r.wrong(n, key, "not "+wanted, remedy)
		return 0
	}
	v := n.value()
	if math.IsNaN(v) || math.IsInf(v, 0) {
		r.wrong(n, key, "not a finite number", remedy)
		return 0
	}
	if v < s.low || v > s.high || v == s.high && s.below {
		r.wrong(n, key, "outside "+s.String(), remedy)
		return 0
	}
	if v == 0 {
		return 0 // never -0, which would be another value to whoever digests the settings
	}
	return v
}

// value is a number's value, infinite where it is too large.
func (n *node) value() float64 {
	digits := strings.ReplaceAll(n.text, "_", "")
	if n.kind == integerKind {
		if v, err := strconv.ParseInt(digits, 0, 64); err == nil {
			return float64(v)
		}
	}
	v, err := strconv.ParseFloat(digits, 64)
	if err != nil && !math.IsInf(v, 0) {
		return math.NaN()
	}
	return v
}

// numbers reads a list of exactly as many numbers as there are names, each called by its name of the key.
func (r *reader) numbers(n *node, key, example string, names []string, spans ...span) []float64 {
	if n.kind != listKind {
		r.wrong(n, key, fmt.Sprintf("not a list of %d numbers", len(names)), "write it as "+example)
		return make([]float64, len(names))
	}
	if len(n.items) != len(names) {
		what := fmt.Sprintf("%s has %s, not %d", key, counted(len(n.items), "number"), len(names))
		if n.source.flag != "" {
			what = fmt.Sprintf("%s, not %d", counted(len(n.items), "number"), len(names))
		}
		r.fail(n.where(), what, "write it as "+example)
		return make([]float64, len(names))
	}
	values := make([]float64, len(names))
	for i, item := range n.items {
		values[i] = r.number(item, names[i]+" of "+key, spans[min(i, len(spans)-1)])
	}
	return values
}

// text reads a text that is not empty.
func (r *reader) text(n *node, key, example string) string {
	if n.kind != textKind {
		r.wrong(n, key, "not a text in quotes", "write it as "+n.written(example))
		return ""
	}
	if strings.TrimSpace(n.text) == "" {
		what := key + " is empty"
		if n.source.flag != "" {
			what = "the value is empty"
		}
		r.fail(n.where(), what, "write it as "+n.written(example))
		return ""
	}
	return n.text
}

// word reads one of a few words.
func (r *reader) word(n *node, key string, words ...string) string {
	options := make([]string, len(words))
	for i, word := range words {
		options[i] = n.written(word)
	}
	remedy := "write " + strings.Join(options, " or ")
	if n.kind != textKind {
		r.wrong(n, key, "not a text in quotes", remedy)
		return ""
	}
	if slices.Contains(words, n.text) {
		return n.text
	}
	if near := Nearest(n.text, words); near != "" {
		remedy = "did you mean " + n.written(near) + "?"
	}
	what := key + " can not be " + quote(n.text)
	if n.source.flag != "" {
		what = quote(n.text) + " is not one of its words"
	}
	r.fail(n.where(), what, remedy)
	return ""
}

// counted is "1 number" or "3 numbers".
func counted(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
