package columnfile

import (
	"fmt"
	"image"
	"maps"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"colonnade/analyze/timing"
)

// flagKeys are the keys that a flag of the same name overrides.
var flagKeys = []string{"photos", "song", "offset", "fps", "base", "feather", "light", "motion", "size", "crop", "steady"}

const (
	defaultPhotos  = "photos"
	defaultFeather = 12.0 // photo pixels
	defaultRate    = 25   // frames a second
	widestFrame    = 65535
)

// settings reads the keys above the tables, then the flags over them. What the file says is checked even
// where a flag wins: the next run may be without it.
func (r *reader) settings(f *File) {
	f.Photos = filepath.Join(filepath.Dir(f.Path), defaultPhotos)
	f.Rate = timing.Rate{Num: defaultRate, Den: 1}
	f.Feather = defaultFeather
	for _, e := range f.root.entries {
		if slices.Contains(flagKeys, e.key) {
			r.setting(f, e.key, e.value)
		}
	}
	for _, key := range slices.Sorted(maps.Keys(f.overrides)) {
		if !slices.Contains(flagKeys, key) {
			r.fail("--"+printable(key), "no flag of this name stands for a key of the column file", "the flags are "+strings.Join(flagKeys, ", "))
			return
		}
		r.setting(f, key, flagNode(key, f.overrides[key]))
	}
}

// flagNode is a flag's text as the value it would be in the file.
func flagNode(key, text string) *node {
	s := &source{flag: key}
	bare := func(text string) *node { return &node{source: s, kind: textKind, text: text} }
	number := func(text string) *node {
		text = strings.TrimSpace(text)
		n := bare(text)
		if text == "" || strings.Trim(text, "0123456789.eE+-") != "" {
			return n
		}
		if digits := strings.TrimLeft(text, "+-"); len(text)-len(digits) <= 1 && strings.Trim(digits, "0123456789") == "" && digits != "" {
			// Without its leading zeros, or 010 would be read as eight.
			n.kind, n.text = integerKind, strings.TrimSuffix(text, digits)+strings.TrimLeft(digits[:len(digits)-1], "0")+digits[len(digits)-1:]
		} else if _, err := strconv.ParseFloat(text, 64); err == nil || strings.Contains(err.Error(), "range") {
			n.kind = floatKind
		}
		return n
	}
	list := func(each func(string) *node) *node {
		n := &node{source: s, kind: listKind}
		for _, part := range strings.Split(text, ",") {
			n.items = append(n.items, each(strings.TrimSpace(part)))
		}
		return n
	}
	switch {
	case key == "feather" || key == "offset":
		return number(text)
	case key == "base" && text != "" && strings.Trim(text, "0123456789") == "":
		return number(text)
	case key == "crop" && text != "none":
		return list(number)
	case key == "steady" && text != "none":
		return list(bare)
	}
	return bare(text)
}

// Words are the words that a key above the tables takes where it takes no others, in their one order; nil for any other
// key. Those of steady stand in a list.
func Words(key string) []string {
	switch key {
	case "light":
		return []string{"linear", "encoded"}
	case "motion":
		return []string{"step", "dissolve"}
	case "steady":
		return []string{"light", "shift"}
	}
	return nil
}

// setting reads one key above the tables.
func (r *reader) setting(f *File, key string, n *node) {
	none := n.source.flag != "" && n.text == "none"
	switch key {
	case "photos":
		f.Photos = r.path(f, n, key, "photos")
	case "song":
		f.Song = ""
		if !none {
			f.Song = r.path(f, n, key, "song.wav")
		}
	case "offset":
		f.Offset = r.number(n, key, offsetSpan)
	case "fps":
		f.Rate = r.rate(n)
	case "base":
		f.BaseLevel, f.BasePath = r.base(f, n)
	case "feather":
		f.Feather = r.number(n, key, featherSpan)
	case "light":
		f.Encoded = r.word(n, key, Words(key)...) == "encoded"
	case "motion":
		f.Dissolve = r.word(n, key, Words(key)...) == "dissolve"
	case "size":
		f.Size = image.Point{}
		if !none {
			f.Size = r.size(n)
		}
	case "crop":
		f.Crop = nil
		if !none {
			f.Crop = r.crop(n)
		}
	case "steady":
		f.Steady = nil
		if !none {
			f.Steady = r.steady(n)
		}
	}
}

// path reads a path and gives it as the working folder sees it.
func (r *reader) path(f *File, n *node, key, example string) string {
	path := r.text(n, key, example)
	if r.err != nil || n.source.flag != "" {
		return path
	}
	if i := strings.IndexFunc(path, unicode.IsControl); i >= 0 {
		// "C:\take" and "C:\new" are good TOML, and not what was meant.
		r.fail(n.where(), fmt.Sprintf("%s holds the control character %U", key, []rune(path[i:])[0]), "write paths with / or in 'single quotes'")
		return ""
	}
	if filepath.IsAbs(path) {
		return path
	}
	folder := filepath.Dir(f.Path)
	if strings.ContainsAny(path, "*?[") && runtime.GOOS != "windows" {
		// The pattern is the user's, the folder's name is not part of it.
		folder = strings.NewReplacer(`\`, `\\`, "*", `\*`, "?", `\?`, "[", `\[`).Replace(folder)
	}
	return filepath.Join(folder, path)
}

func (r *reader) rate(n *node) timing.Rate {
	text := n.text
	switch n.kind {
	case integerKind, floatKind:
		text = strings.TrimPrefix(strings.ReplaceAll(text, "_", ""), "+")
	case textKind:
	default:
		r.wrong(n, "fps", "not a number or a ratio", `write it as 25, 23.976 or "24000/1001"`)
		return timing.Rate{}
	}
	// 29.970 is 29.97, which stands for a ratio over 1001.
	if strings.Contains(text, ".") && !strings.ContainsAny(text, "eE/") {
		text = strings.TrimSuffix(strings.TrimRight(text, "0"), ".")
	}
	rate, err := timing.ParseRate(text)
	if err != nil && r.err == nil {
		r.err = fmt.Errorf("%s: %w", n.where(), err)
	}
	return rate
}

func (r *reader) base(f *File, n *node) (level int, path string) {
	const remedy = `write a level as 0, or the name of a photo's file`
	switch {
	case n.kind == integerKind || n.kind == floatKind:
		return int(r.number(n, "base", baseSpan)), ""
	case n.kind != textKind:
		r.wrong(n, "base", "neither a level nor a file", remedy)
	case n.text != "" && strings.Trim(n.text, "0123456789") == "":
		r.wrong(n, "base", "not a level, which has no quotes", "write it as "+strings.TrimLeft(n.text[:len(n.text)-1], "0")+n.text[len(n.text)-1:])
	default:
		return 0, r.path(f, n, "base", "empty.jpg")
	}
	return 0, ""
}

func (r *reader) size(n *node) image.Point {
	remedy := "write it as " + n.written("1920x1080")
	if n.kind != textKind {
		r.wrong(n, "size", "not WIDTHxHEIGHT in quotes", remedy)
		return image.Point{}
	}
	plain := strings.NewReplacer("X", "x", "×", "x").Replace(n.text)
	width, height, ok := strings.Cut(plain, "x")
	w, wok := pixels(width)
	h, hok := pixels(height)
	if !ok || !wok || !hok {
		r.fail(n.where(), quote(n.text)+" is not WIDTHxHEIGHT", remedy)
		return image.Point{}
	}
	if w < 1 || h < 1 || w > widestFrame || h > widestFrame {
		r.fail(n.where(), fmt.Sprintf("size %s is outside 1 to %d pixels a side", quote(n.text), widestFrame), remedy)
		return image.Point{}
	}
	return image.Pt(w, h)
}

// pixels reads a whole number of digits alone; one too long to read is beyond any span.
func pixels(text string) (int, bool) {
	text = strings.TrimSpace(text)
	if text == "" || strings.Trim(text, "0123456789") != "" {
		return 0, false
	}
	v, err := strconv.Atoi(text)
	if err != nil {
		return widestFrame + 1, true
	}
	return v, true
}

func (r *reader) crop(n *node) []float64 {
	example := "[0, 96, 6000, 3375]"
	if n.source.flag != "" {
		example = "0,96,6000,3375"
	}
	v := r.numbers(n, "crop", example, []string{"x", "y", "width", "height"}, originSpan, originSpan, extentSpan, extentSpan)
	for i, name := range []string{"width", "height"} {
		if v[2+i] == 0 && r.err == nil {
			r.fail(n.items[2+i].where(), "the "+name+" of crop is 0", "write it as "+example)
		}
	}
	return v
}

func (r *reader) steady(n *node) []string {
	if n.kind != listKind {
		r.wrong(n, "steady", "not a list", `write it as ["light", "shift"]`)
		return nil
	}
	said := map[string]bool{}
	for _, item := range n.items {
		word := r.word(item, "steady", Words("steady")...)
		if said[word] && r.err == nil {
			r.fail(item.where(), "steady has "+quote(word)+" twice", "name it once")
		}
		said[word] = true
	}
	var steady []string // always in one order, or the same corrections would seem to differ
	for _, word := range Words("steady") {
		if said[word] {
			steady = append(steady, word)
		}
	}
	return steady
}
