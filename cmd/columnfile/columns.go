package columnfile

import (
	"fmt"
	"math"
	"strings"
	"unicode"
	"unicode/utf8"

	"colonnade/analyze/envelope"
	"colonnade/analyze/response"
	"colonnade/masks"
)

// leastArea is the area in square pixels under which a region covers nothing.
const leastArea = 0.01

// Where no band is named, the columns share the ten octaves of music in equal parts of an octave. The limits
// are those of the usual split into sub, bass, ... brilliance (common practice, no source).
const lowestHz, highestHz = 16.0, 16000.0

var channels = map[string]envelope.Channel{"both": envelope.Both, "left": envelope.Left, "right": envelope.Right}

// columns reads every [[column]].
func (r *reader) columns(f *File, shared *table) {
	if len(f.tables) == 0 {
		r.fail(printable(f.Path), "the file has no columns", "add a [[column]] with a name and a region, or let the command mark write the file")
		return
	}
	settings := response.Default()
	r.response(&settings, shared, nil)
	names := map[string]*table{}
	for i, t := range f.tables {
		if r.err != nil {
			return
		}
		c := Column{Feather: f.Feather, Response: settings}
		c.Name = r.name(f, t, names)
		c.Band = r.band(t, i, len(f.tables))
		if n := t.value("follow"); n != nil {
			c.Onset = r.word(n, "follow", "level", "onset") == "onset"
		}
		if n := t.value("channel"); n != nil {
			c.Channel = channels[r.word(n, "channel", "both", "left", "right")]
		}
		c.Region = r.region(f, t, c.Name)
		if n := t.value("feather"); n != nil {
			c.Feather = r.number(n, "feather", featherSpan)
		}
		r.response(&c.Response, t, shared)
		f.Columns = append(f.Columns, c)
	}
}

func (r *reader) name(f *File, t *table, names map[string]*table) string {
	n := t.value("name")
	if n == nil {
		r.fail(f.source.where(t.at), "this [[column]] has no name", `add name = "rumble" or the like`)
		return ""
	}
	name := r.text(n, "name", "rumble")
	if r.err != nil {
		return ""
	}
	if fault, remedy := nameFault(name); fault != "" {
		r.fail(n.where(), fmt.Sprintf("name %s %s", quote(name), fault), remedy)
		return ""
	}
	if before := names[name]; before != nil {
		r.fail(n.where(), fmt.Sprintf("name %s is taken by the [[column]] on line %d", quote(name), f.source.line(before.at)),
			"give each column a name of its own")
		return ""
	}
	names[name] = t
	return name
}

// nameFault says why a name can not head a column of the level table, a CSV file that people edit.
func nameFault(name string) (fault, remedy string) {
	if length := utf8.RuneCountInString(name); length > maxName {
		return fmt.Sprintf("has %d characters, more than %d", length, maxName), "choose a shorter one"
	}
	for _, c := range name {
		switch {
		case c == ',':
			return "holds a comma, which parts the names in a level table", "leave it out"
		case c == '"':
			return "holds a quote, which has a meaning of its own in a level table", "leave it out"
		case invisible(c):
			return fmt.Sprintf("holds the invisible character %U", c), "leave it out"
		}
	}
	if strings.TrimSpace(name) != name {
		return "begins or ends with a space", "leave the space out"
	}
	if strings.EqualFold(name, "frame") || strings.EqualFold(name, "time") {
		return "is a heading of the level table", "choose another"
	}
	return "", ""
}

// invisible is whether a character is a line break, a control or a formatting character. The two joiners are
// letters to several scripts.
func invisible(c rune) bool {
	const nonJoiner, joiner = '\u200c', '\u200d'
	return unicode.IsControl(c) || unicode.In(c, unicode.Cf, unicode.Zl, unicode.Zp) && c != nonJoiner && c != joiner
}

// band reads a column's band, or gives the i-th of count columns its share.
func (r *reader) band(t *table, i, count int) envelope.Band {
	n := t.value("band")
	if n == nil {
		return share(i, count)
	}
	if n.kind == textKind {
		if n.text != "all" {
			r.wrong(n, "band", "neither two edges nor all", `write it as [16, 60], or as "all" for the whole song`)
		}
		return envelope.Everything()
	}
	v := r.numbers(n, "band", "[16, 60]", []string{"lower edge", "upper edge"}, edgeSpan)
	if r.err != nil {
		return envelope.Band{}
	}
	switch {
	case v[0] == 0:
		r.fail(n.items[0].where(), "lower edge of band is 0 Hz", "write an edge above 0, as [16, 60]")
	case v[0] >= v[1]:
		r.fail(n.where(), fmt.Sprintf("band runs from %s to %s Hz", n.items[0].shown(), n.items[1].shown()),
			"write its lower edge first and its upper edge above it, as [16, 60]")
	}
	return envelope.Band{LowHz: v[0], HighHz: v[1]}
}

func share(i, count int) envelope.Band {
	edge := func(k int) float64 {
		exact := lowestHz * math.Pow(highestHz/lowestHz, float64(k)/float64(count))
		return math.Round(exact*100) / 100 // the same on every processor
	}
	return envelope.Band{LowHz: edge(i), HighHz: edge(i + 1)}
}

func (r *reader) region(f *File, t *table, name string) masks.Region {
	corners, box := t.entry("region"), t.entry("box")
	switch {
	case corners != nil && box != nil:
		later := corners
		if box.at > corners.at {
			later = box
		}
		r.fail(f.source.where(later.at), "the column has both a region and a box", "keep one of the two")
	case corners != nil:
		return r.polygon(corners.value)
	case box != nil:
		return r.box(box.value)
	default:
		r.fail(f.source.where(t.at), fmt.Sprintf("column %s has no region", quote(name)),
			"add region = [[x, y], [x, y], [x, y]] or box = [x, y, width, height]")
	}
	return nil
}

func (r *reader) box(n *node) masks.Region {
	const example = "[412, 130, 120, 850]"
	v := r.numbers(n, "box", example, []string{"x", "y", "width", "height"}, coordinateSpan, coordinateSpan, extentSpan, extentSpan)
	if r.err != nil {
		return nil
	}
	x, y, width, height := v[0], v[1], v[2], v[3]
	if x+width > farthestPixel || y+height > farthestPixel {
		r.fail(n.where(), fmt.Sprintf("box ends at %v, %v, beyond %d pixels", x+width, y+height, farthestPixel), "write it as "+example)
		return nil
	}
	region := masks.Region{{X: x, Y: y}, {X: x + width, Y: y}, {X: x + width, Y: y + height}, {X: x, Y: y + height}}
	if region.Area() < leastArea {
		r.fail(n.where(), fmt.Sprintf("box is %s wide and %s high", n.items[2].shown(), n.items[3].shown()),
			"write [x, y, width, height] with a width and a height above 0")
		return nil
	}
	return region
}

// polygon reads a region's corners. A corner equal to the one before it is dropped.
func (r *reader) polygon(n *node) masks.Region {
	const example = "write it as [[412, 130], [533, 130], [540, 980]]"
	if n.kind != listKind {
		r.wrong(n, "region", "not a list of corners", example)
		return nil
	}
	if len(n.items) > maxCorners {
		r.fail(n.where(), fmt.Sprintf("region has %d corners, more than %d", len(n.items), maxCorners), "leave corners out")
		return nil
	}
	var region masks.Region
	var number []int // of each corner kept, as one counts them in the file
	for i, item := range n.items {
		corner := fmt.Sprintf("corner %d", i+1)
		if item.kind != listKind {
			r.wrong(item, corner, "not [x, y]", example)
			return nil
		}
		v := r.numbers(item, corner, "[412, 130]", []string{"x", "y"}, coordinateSpan)
		if r.err != nil {
			return nil
		}
		p := masks.Point{X: v[0], Y: v[1]}
		if len(region) == 0 || p != region[len(region)-1] {
			region, number = append(region, p), append(number, i+1)
		}
	}
	for len(region) > 1 && region[0] == region[len(region)-1] {
		region, number = region[:len(region)-1], number[:len(number)-1]
	}
	if len(region) < 3 {
		what := fmt.Sprintf("region has %s, fewer than 3", counted(len(region), "corner"))
		if len(region) != len(n.items) {
			what = fmt.Sprintf("region has %s that differ from the one before, fewer than 3", counted(len(region), "corner"))
		}
		r.fail(n.where(), what, example)
		return nil
	}
	// Three corners cross only where they lie on one line, which the area tells more plainly.
	if i, j, crossing := region.Crossing(); crossing && len(region) > 3 {
		edge := func(k int) string {
			from, to := region[k], region[(k+1)%len(region)]
			return fmt.Sprintf("%d-%d (%v, %v to %v, %v)", number[k], number[(k+1)%len(region)], from.X, from.Y, to.X, to.Y)
		}
		r.fail(n.where(), fmt.Sprintf("edge %s of the region crosses or touches edge %s", edge(i), edge(j)),
			"list the corners in order around the column")
		return nil
	}
	if region.Area() < leastArea {
		r.fail(n.where(), "region has no area", "list corners around the column, not along a line")
		return nil
	}
	return region
}

// response reads the response keys of a table into settings. shared is the table whose keys are in them
// already, nil for the shared table itself.
func (r *reader) response(settings *response.Settings, t, shared *table) {
	number := func(key string, value *float64, s span) {
		if n := t.value(key); n != nil {
			*value = r.number(n, key, s)
		}
	}
	whole := func(key string, value *int, s span) {
		if n := t.value(key); n != nil {
			*value = int(r.number(n, key, s))
		}
	}
	if n := t.value("scale"); n != nil {
		settings.Shared = r.word(n, "scale", "each", "shared") == "shared"
	}
	number("clip", &settings.Clip, clipSpan)
	number("floor", &settings.Floor, floorSpan)
	number("curve", &settings.Curve, curveSpan)
	number("gain", &settings.Gain, gainSpan)
	number("attack", &settings.Attack, timeSpan)
	number("release", &settings.Release, timeSpan)
	whole("hold", &settings.Hold, holdSpan)
	whole("top", &settings.Top, levelSpan)
	whole("bottom", &settings.Bottom, levelSpan)
	if settings.Top == response.TopOfSet || settings.Bottom < settings.Top {
		return
	}
	for _, place := range []*node{t.value("bottom"), t.value("top"), shared.value("bottom"), shared.value("top")} {
		if place != nil {
			r.fail(place.where(), fmt.Sprintf("bottom is %d and top is %d", settings.Bottom, settings.Top), "make top higher than bottom")
			return
		}
	}
}
