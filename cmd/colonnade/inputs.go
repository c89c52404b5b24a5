package main

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"github.com/spf13/pflag"

	"colonnade/analyze/flash"
	"colonnade/analyze/timing"
	"colonnade/cmd/columnfile"
	"colonnade/compose/sequence"
)

// overridable are the keys of the column file that have a flag of the same name.
var overridable = []struct{ key, value, usage string }{
	{"photos", "FOLDER", "the photo set: a folder, or a glob in quotes"},
	{"song", "FILE", "the song"},
	{"offset", "MS", "how far into its file the song really begins; below 0, silence before it"},
	{"fps", "RATE", "frames a second: 25, 23.976 or 24000/1001"},
	{"base", "LEVEL", "the level whose photo is the base plate, or a file"},
	{"size", "WxH", "the frame's size: 1920x1080"},
	{"crop", "X,Y,W,H", "the part of the photo that fills the frame"},
	{"feather", "PIXELS", "softness of the regions' edges, in pixels of the photo"},
	{"light", "KIND", "mix in linear light (linear) or in the photos' encoding (encoded)"},
	{"motion", "KIND", "show one photo a column (step) or mix the two nearest (dissolve)"},
	{"steady", "LIST", "corrections to each photo before use: light,shift or none"},
}

// inputs are the flags that several commands share: the column file's keys and the part of the song.
type inputs struct {
	flags    *pflag.FlagSet
	from, to string
}

func (in *inputs) register(flags *pflag.FlagSet) {
	in.flags = flags
	for _, key := range overridable {
		flags.String(key.key, "", "`"+key.value+"`: "+key.usage)
	}
	flags.StringVar(&in.from, "from", "", "`TIME`: begin at this time of the song: 1:02.5 or seconds")
	flags.StringVar(&in.to, "to", "", "`TIME`: end at this time of the song")
}

// read reads the column file, with the flags given winning over its keys.
func (in *inputs) read(args []string) (*columnfile.File, error) {
	if len(args) != 1 {
		return nil, inputf("%s: one column file is needed, %d given; write colonnade %[1]s columns.toml", in.flags.Name(), len(args))
	}
	overrides := make(map[string]string)
	for _, key := range overridable {
		if in.flags.Changed(key.key) {
			overrides[key.key] = in.flags.Lookup(key.key).Value.String()
		}
	}
	file, err := columnfile.Read(args[0], overrides)
	if err != nil {
		return nil, input(err)
	}
	return file, nil
}

// tell prints what was noticed on the way and is no error. It is called once all inputs are known to be right, so
// that an error stands alone.
func tell(w io.Writer, notes []string) {
	for _, note := range notes {
		fmt.Fprintln(w, "colonnade: "+oneLine(note))
	}
}

// span is a run of frames, both ends in it.
type span struct{ first, last int }

// all is the frames, one by one.
func (s span) all() []int {
	var all []int
	for n := s.first; n <= s.last; n++ {
		all = append(all, n)
	}
	return all
}

// span is the frames that --from and --to ask for, of a piece that runs over whole.
func (in *inputs) span(rate timing.Rate, whole span) (span, error) {
	asked := whole
	if in.from != "" {
		t, err := timing.ParseTime(in.from)
		if err != nil {
			return span{}, inputf("--from: %w", err)
		}
		asked.first = max(rate.FrameAt(t), whole.first)
	}
	if in.to != "" {
		t, err := timing.ParseTime(in.to)
		if err != nil {
			return span{}, inputf("--to: %w", err)
		}
		asked.last = min(rate.LastBefore(t), whole.last)
	}
	if asked.first > asked.last {
		return span{}, inputf("--from %s --to %s: no frame lies there; give times in their order, between %s and %s", orElse(in.from, "the beginning"), orElse(in.to, "the end"),
			flash.Clock(rate.Start(whole.first)), flash.Clock(rate.Start(whole.last+1)))
	}
	return asked, nil
}

// parseFrames reads "A-B", or "A" for one frame.
func parseFrames(text string, whole span) (span, error) {
	a, b, isRange := strings.Cut(text, "-")
	if !isRange {
		b = a
	}
	first, err1 := strconv.Atoi(a)
	last, err2 := strconv.Atoi(b)
	if err1 != nil || err2 != nil {
		return span{}, inputf("--frames: %q is not a range; write it as 1-250", text)
	}
	if first > last {
		return span{}, inputf("--frames: %d-%d ends before it begins; write the lower number first", first, last)
	}
	if first < whole.first || last > whole.last {
		return span{}, inputf("--frames: %d-%d is not within the piece's frames %d-%d; choose a range there", first, last, whole.first, whole.last)
	}
	return span{first, last}, nil
}

// parseShard reads "K/N" and gives the K-th of N equal contiguous parts of whole, and how whole is parted. A part may be
// empty when there are fewer frames than parts.
func parseShard(text string, whole span) (span, *sequence.Shards, error) {
	a, b, _ := strings.Cut(text, "/")
	k, err1 := strconv.Atoi(a)
	n, err2 := strconv.Atoi(b)
	if err1 != nil || err2 != nil || n < 1 || k < 1 || k > n || n > 1_000_000 {
		return span{}, nil, inputf("--shard: %q is not K/N with K from 1 to N; write the second of seven as 2/7", text)
	}
	shards := &sequence.Shards{Count: n, First: whole.first, Last: whole.last}
	first, last := shards.Span(k)
	return span{first, last}, shards, nil
}

func orElse(text, other string) string {
	if text == "" {
		return other
	}
	return text
}

// byteUnits are what --memory takes, the longest first.
var byteUnits = []struct {
	name string
	size float64
}{
	{"KiB", 1 << 10}, {"MiB", 1 << 20}, {"GiB", 1 << 30}, {"TiB", 1 << 40},
	{"kB", 1e3}, {"MB", 1e6}, {"GB", 1e9}, {"TB", 1e12}, {"B", 1}, {"", 1},
}

// parseBytes reads "2GiB", "500MB" or a plain number of bytes.
func parseBytes(flag, text string) (int64, error) {
	for _, unit := range byteUnits {
		digits, ok := strings.CutSuffix(text, unit.name)
		if !ok {
			continue
		}
		v, err := strconv.ParseFloat(strings.TrimSpace(digits), 64)
		if err != nil || !(v >= 0) || v*unit.size > 1<<50 {
			break
		}
		return int64(v * unit.size), nil
	}
	return 0, inputf("%s: %q is not a size; write it as 2GiB or 500MB", flag, text)
}

// formatBytes is a size for people, in units of 1000 as disks are sold.
func formatBytes(n int64) string {
	v := float64(n)
	for _, unit := range []string{"B", "kB", "MB", "GB"} {
		if v < 1000 {
			if unit == "B" || v >= 100 {
				return fmt.Sprintf("%.0f %s", v, unit)
			}
			return fmt.Sprintf("%.1f %s", v, unit)
		}
		v /= 1000
	}
	return fmt.Sprintf("%.1f TB", v)
}
