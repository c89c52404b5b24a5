package columnfile

import (
	"fmt"
	"image"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"colonnade/analyze/envelope"
	"colonnade/analyze/response"
	"colonnade/analyze/timing"
	"colonnade/masks"
)

// wholeFile names every key there is, each with a value and a comment.
const wholeFile = `photos  = "photos"          # a folder, or a glob
song    = "song.wav"
fps     = 25                # 25, 23.976 or "24000/1001"; 23.976, 29.97, 59.94 mean the exact 1001 ratios
base    = 0                 # the level whose photo is the base plate, or a file
feather = 12.0              # pixels of the photo
light   = "linear"          # mix in linear light, or "encoded": in the photos' own encoding
motion  = "step"            # a column shows one photo; "dissolve": it mixes the two nearest levels
size    = "1920x1080"       # the frame; default: the photo's own size
crop    = [0, 96, 6000, 3375]   # x, y, width, height of the photo that fills the frame
steady  = ["light", "shift"]    # corrections made to each photo before use; default: none

[response]                  # for all columns; a column's own key wins
scale   = "each"            # each column's own loudest part reaches its top level
clip    = 0.01              # share of the frames that may pass the top and are held there
floor   = -30.0             # dB below the top at which a column is at level 0
curve   = 1.0               # exponent on the 0..1 height
gain    = 0.0               # dB
attack  = 0.0               # ms
release = 120.0             # ms
hold    = 2                 # frames for which a level is shown at the least
top     = 5                 # highest level used; default: the highest in the set
bottom  = 0                 # lowest level used

[[column]]
name   = "rumble"
band   = [16, 60]           # Hz, or "all"
follow = "level"            # or "onset": what sets in
channel = "both"            # or "left", "right"
region = [[412, 130], [533, 130], [540, 980], [405, 980]]   # or box = [x, y, width, height]
feather = 8.0               # any of feather and the [response] keys
`

// public is a File without what Where needs.
func public(f *File) File {
	g := *f
	g.source, g.root, g.tables, g.overrides = nil, nil, nil, nil
	return g
}

func mustParse(t *testing.T, text string, overrides map[string]string) *File {
	t.Helper()
	f, err := Parse("shoot/columns.toml", []byte(text), overrides)
	if err != nil {
		t.Fatalf("%s\n%v", text, err)
	}
	return f
}

func TestWholeFileReads(t *testing.T) {
	all := response.Settings{Clip: 0.01, Floor: -30, Curve: 1, Release: 120, Hold: 2, Top: 5}
	want := File{
		Path: "shoot/columns.toml", Photos: filepath.Join("shoot", "photos"), Song: filepath.Join("shoot", "song.wav"),
		Rate: timing.Rate{Num: 25, Den: 1}, Feather: 12, Size: image.Pt(1920, 1080),
		Crop: []float64{0, 96, 6000, 3375}, Steady: []string{"light", "shift"},
		Columns: []Column{{
			Name: "rumble", Band: envelope.Band{LowHz: 16, HighHz: 60}, Feather: 8, Response: all,
			Region: masks.Region{{X: 412, Y: 130}, {X: 533, Y: 130}, {X: 540, Y: 980}, {X: 405, Y: 980}},
		}},
	}
	if got := public(mustParse(t, wholeFile, nil)); !reflect.DeepEqual(got, want) {
		t.Errorf("got  %+v\nwant %+v", got, want)
	}
}

func TestColumnFollowsWhatItsKeysSay(t *testing.T) {
	const box = "box = [0, 0, 100, 100]\n"
	for text, want := range map[string]envelope.Part{
		"band = [16, 60]": {Band: envelope.Band{LowHz: 16, HighHz: 60}},
		"band = [16, 60]\nfollow = \"level\"\nchannel = \"both\"": {Band: envelope.Band{LowHz: 16, HighHz: 60}},
		"band = \"all\"":                           {Band: envelope.Everything()},
		"band = 'all'\nfollow = \"onset\"":         {Band: envelope.Everything(), Onset: true},
		"channel = \"right\"\nband = [2000, 4000]": {Band: envelope.Band{LowHz: 2000, HighHz: 4000}, Channel: envelope.Right},
		"channel = \"left\"\nfollow = \"onset\"":   {Band: envelope.Band{LowHz: 16, HighHz: 16000}, Channel: envelope.Left, Onset: true},
	} {
		f := mustParse(t, "[[column]]\nname = \"a\"\n"+box+text, nil)
		if got := f.Columns[0].Part(); got != want {
			t.Errorf("%s\nfollows %+v, not %+v", text, got, want)
		}
	}
}

func TestByteOrderMarkAndLineEndsOfWindowsChangeNothing(t *testing.T) {
	want := public(mustParse(t, wholeFile, nil))
	text := "\ufeff" + strings.ReplaceAll(wholeFile, "\n", "\r\n")
	if got := public(mustParse(t, text, nil)); !reflect.DeepEqual(got, want) {
		t.Errorf("got  %+v\nwant %+v", got, want)
	}
	if got, want := mustParse(t, text, nil).Where(0, "band"), "shoot/columns.toml:26:1"; got != want {
		t.Errorf("the band is at %s, want %s", got, want)
	}
}

func TestNameAndRegionAreEnough(t *testing.T) {
	f := mustParse(t, "[[column]]\nname = \"a\"\nbox = [1, 2, 300, 400]\n[[column]]\nname = \"b\"\nbox = [1, 2, 300, 400]\n", nil)
	region := masks.Region{{X: 1, Y: 2}, {X: 301, Y: 2}, {X: 301, Y: 402}, {X: 1, Y: 402}}
	want := File{
		Path: "shoot/columns.toml", Photos: filepath.Join("shoot", "photos"), Rate: timing.Rate{Num: 25, Den: 1}, Feather: 12,
		Columns: []Column{
			// Ten octaves from 16 Hz halved: 16 x 1000^(1/2) = 505.96.
			{Name: "a", Band: envelope.Band{LowHz: 16, HighHz: 505.96}, Region: region, Feather: 12, Response: response.Default()},
			{Name: "b", Band: envelope.Band{LowHz: 505.96, HighHz: 16000}, Region: region, Feather: 12, Response: response.Default()},
		},
		Notes: []string{
			`shoot/columns.toml:1:1: column "a" names no band and follows 16 to 505.96 Hz; add a line such as band = [16, 60]`,
			`shoot/columns.toml:4:1: column "b" names no band and follows 505.96 to 16000 Hz; add a line such as band = [16, 60]`,
		},
	}
	if got := public(f); !reflect.DeepEqual(got, want) {
		t.Errorf("got  %+v\nwant %+v", got, want)
	}
}

func TestColumnsOwnKeysWinOverThoseForAll(t *testing.T) {
	f := mustParse(t, `feather = 5
response = { scale = "shared", gain = 6, hold = 4, top = 9 }
[[column]]
name = "plain"
band = [16, 60]
box = [0, 0, 100, 100]
[[column]]
name = "own"
band = [0x10, 6_0.5]
box = [0.5, -3, 1e2, 100]
feather = 7
scale = "each"
clip = 0.5
floor = -120
curve = 10
gain = -60
attack = 10000
release = 0
hold = 0
top = 4
bottom = 3
`, nil)
	plain := response.Default()
	plain.Shared, plain.Gain, plain.Hold, plain.Top = true, 6, 4, 9
	own := response.Settings{Clip: 0.5, Floor: -120, Curve: 10, Gain: -60, Attack: 10000, Top: 4, Bottom: 3}
	if got := f.Columns[0]; got.Response != plain || got.Feather != 5 {
		t.Errorf("the column without keys: %+v", got)
	}
	if got := f.Columns[1]; got.Response != own || got.Feather != 7 || got.Band != (envelope.Band{LowHz: 16, HighHz: 60.5}) {
		t.Errorf("the column with its own keys: %+v", got)
	}
}

func TestFrameRatesAreTakenAsWritten(t *testing.T) {
	for literal, want := range map[string]timing.Rate{
		"25": {Num: 25, Den: 1}, "25.0": {Num: 25, Den: 1}, "+25": {Num: 25, Den: 1}, `"25"`: {Num: 25, Den: 1},
		"12.5": {Num: 25, Den: 2}, "100": {Num: 100, Den: 1},
		// SMPTE ST 12-1 rates.
		"23.976": {Num: 24000, Den: 1001}, "23.9760": {Num: 24000, Den: 1001}, `"24000/1001"`: {Num: 24000, Den: 1001},
		"29.97": {Num: 30000, Den: 1001}, `"29.970"`: {Num: 30000, Den: 1001}, "59.94": {Num: 60000, Den: 1001},
	} {
		if f := mustParse(t, "fps = "+literal+wholeColumn, nil); f.Rate != want {
			t.Errorf("fps = %s reads as %v, want %v", literal, f.Rate, want)
		}
	}
}

func TestPathsAreThoseOfTheFilesFolder(t *testing.T) {
	absolute := filepath.Join(t.TempDir(), "a.jpg")
	f, err := Parse("take [2]/columns.toml", []byte("photos = \"raw/*.jpg\"\nsong = \"../song.wav\"\nbase = '"+absolute+"'"+wholeColumn), nil)
	if err != nil {
		t.Fatal(err)
	}
	if want := filepath.FromSlash("song.wav"); f.Song != want {
		t.Errorf("song %q, want %q", f.Song, want)
	}
	if f.BasePath != absolute || f.BaseLevel != 0 {
		t.Errorf("base %d %q, want %q", f.BaseLevel, f.BasePath, absolute)
	}
	if matched, err := filepath.Match(f.Photos, filepath.FromSlash("take [2]/raw/7.jpg")); filepath.Separator == '/' && (!matched || err != nil) {
		t.Errorf("the glob %q does not find the photos in its folder", f.Photos)
	}
}

func TestFlagsWinOverTheFile(t *testing.T) {
	f := mustParse(t, wholeFile, map[string]string{
		"photos": "other", "song": "b.flac", "fps": "23.976", "base": "007", "feather": "1e1", "light": "encoded",
		"motion": "dissolve", "size": "640X480", "crop": "1, 2.5,300,225", "steady": "shift,light",
	})
	want := File{
		Path: "shoot/columns.toml", Photos: "other", Song: "b.flac", Rate: timing.Rate{Num: 24000, Den: 1001}, BaseLevel: 7,
		Feather: 10, Encoded: true, Dissolve: true, Size: image.Pt(640, 480), Crop: []float64{1, 2.5, 300, 225},
		Steady: []string{"light", "shift"}, Columns: f.Columns,
	}
	if got := public(f); !reflect.DeepEqual(got, want) {
		t.Errorf("got  %+v\nwant %+v", got, want)
	}
	if f.Columns[0].Feather != 8 {
		t.Errorf("the flag took the column's own feather away: %v", f.Columns[0].Feather)
	}
	f = mustParse(t, wholeFile, map[string]string{"song": "none", "size": "none", "crop": "none", "steady": "none", "base": "empty.jpg"})
	if f.Song != "" || f.Size != (image.Point{}) || f.Crop != nil || f.Steady != nil || f.BasePath != "empty.jpg" {
		t.Errorf("none leaves something: %+v", public(f))
	}
	if f = mustParse(t, strings.Replace(wholeFile, "feather = 8.0", "", 1), map[string]string{"feather": "3"}); f.Columns[0].Feather != 3 {
		t.Errorf("a column without a feather has %v, want the flag's 3", f.Columns[0].Feather)
	}
}

func TestMistakesInFlagsNameTheFlag(t *testing.T) {
	for _, row := range []struct{ key, value, message string }{
		{"size", "19x", `--size: "19x" is not WIDTHxHEIGHT; write it as 1920x1080`},
		{"size", "", `--size: "" is not WIDTHxHEIGHT; write it as 1920x1080`},
		{"size", "65536x1", `--size: size "65536x1" is outside 1 to 65535 pixels a side; write it as 1920x1080`},
		{"crop", "1,2,3", `--crop: 3 numbers, not 4; write it as 0,96,6000,3375`},
		{"crop", "0,0,5,0", `--crop: the height of crop is 0; write it as 0,96,6000,3375`},
		{"crop", "0,0,5,z", `--crop: height of crop is "z", not a number; write it as 120`},
		{"fps", "fast", `--fps: frame rate "fast" is not a number or a ratio; write it as 25, 23.976 or 24000/1001`},
		{"feather", "soft", `--feather: "soft" is not a number; write it as 12.0`},
		{"feather", "1e999", `--feather: 1e999 is not a finite number; write it as 12.0`},
		{"feather", "0x10", `--feather: "0x10" is not a number; write it as 12.0`},
		{"feather", "--4", `--feather: "--4" is not a number; write it as 12.0`},
		{"feather", "-4", `--feather: -4 is outside 0 to 1000 pixels; write it as 12.0`},
		{"feather", "nan", `--feather: "nan" is not a number; write it as 12.0`},
		{"base", "99999999999", `--base: 99999999999 is outside 0 to 100000; write it as 0`},
		{"light", "encodde", `--light: "encodde" is not one of its words; did you mean encoded?`},
		{"motion", "fast", `--motion: "fast" is not one of its words; write step or dissolve`},
		{"steady", "light,light", `--steady: steady has "light" twice; name it once`},
		{"steady", "", `--steady: "" is not one of its words; write light or shift`},
		{"photos", " ", `--photos: the value is empty; write it as photos`},
		{"gain", "3", `--gain: no flag of this name stands for a key of the column file; the flags are photos, song, offset, fps, base, feather, light, motion, size, crop, steady`},
	} {
		_, err := Parse("columns.toml", []byte(wholeFile), map[string]string{row.key: row.value})
		if err == nil || err.Error() != row.message {
			t.Errorf("--%s %q\n got  %v\n want %s", row.key, row.value, err, row.message)
		}
	}
}

func TestWhereNamesKeyThenHeaderThenFile(t *testing.T) {
	f := mustParse(t, "song = \"a.wav\"\nfeather = 3\nresponse.gain = 3\n\n[[column]]\n  name = \"a\"\n  band = [16, 60]\n  box = [0, 0, 50, 50]\n\n"+
		"[[column]]\nname = \"b\"\nband = [16, 60]\nregion = [[0, 0], [50, 0], [0, 50]]\nfeather = 2\ngain = 1\n", map[string]string{"size": "9x9"})
	for _, row := range []struct {
		column int
		key    string
		where  string
	}{
		{0, "band", ":7:3"}, {0, "name", ":6:3"}, {0, "region", ":8:3"}, {0, "box", ":8:3"},
		{0, "feather", ":2:1"}, {0, "gain", ":3:10"}, {0, "top", ":5:1"}, {0, "response", ":5:1"}, {0, "song", ":5:1"},
		{1, "region", ":13:1"}, {1, "feather", ":14:1"}, {1, "gain", ":15:1"}, {1, "hold", ":10:1"},
		{-1, "song", ":1:1"}, {-1, "photos", ""}, {-1, "response", ":3:1"}, {-1, "column", ":5:1"}, {-1, "gain", ":3:10"},
		{2, "band", ""}, {-1, "nothing", ""},
	} {
		if got, want := f.Where(row.column, row.key), "shoot/columns.toml"+row.where; got != want {
			t.Errorf("column %d, %s: %s, want %s", row.column, row.key, got, want)
		}
	}
	if got := f.Where(-1, "size"); got != "--size" {
		t.Errorf("the size of a flag is at %s", got)
	}
	if got := (&File{Path: "made\nup.toml"}).Where(0, "band"); got != `made\nup.toml` {
		t.Errorf("a file made by hand is at %s", got)
	}
}

func TestRepeatedCornersAreDropped(t *testing.T) {
	f := mustParse(t, "[[column]]\nname = \"a\"\nband = [16, 60]\nregion = [[0, 0], [0, 0], [90, 0], [90, 0.0], [0, 90], [0, 0], [-0.0, 0]]\n", nil)
	if want := (masks.Region{{X: 0, Y: 0}, {X: 90, Y: 0}, {X: 0, Y: 90}}); !reflect.DeepEqual(f.Columns[0].Region, want) {
		t.Errorf("the region is %v, want %v", f.Columns[0].Region, want)
	}
	// Edges are named by the numbers of the corners as one counts them in the file.
	mustBreak(t, "[[column]]\nname = \"a\"\nband = [16, 60]\n", "", []broken{
		{"region = [[0, 0], [0, 0], [20, 20], [20, 20], [20, 0], [0.5, 20]]",
			":4:10: edge 1-3 (0, 0 to 20, 20) of the region crosses or touches edge 5-6 (20, 0 to 0.5, 20); list the corners in order around the column"},
	})
}

func TestWhatIsAllowedAndSeldomMeantIsNoted(t *testing.T) {
	f := mustParse(t, "size = \"1920x1080\"\ncrop = [0, 0, 6000, 4000]\n[[column]]\nname = \"a\"\nband = [16, 60]\nbox = [0, 0, 47, 400]\n"+
		"[[column]]\nname = \"b\"\nband = [16, 60]\nbox = [0, 0, 48, 400]\n", nil)
	// A square of the photo becomes 1920/6000 = 0.32 wide and 1080/4000 = 0.27 high: 0.32/0.27 = 1.185.
	want := []string{
		"shoot/columns.toml:2:1: the crop of 6000 x 4000 fills a frame of 1920 x 1080, so that all comes out 18.5 % wider; give the crop the frame's shape, or leave it out",
		`shoot/columns.toml:3:1: column "a" is 47 pixels across and its feather 12, so that it nowhere shows whole; make the feather 11.7 or less`,
	}
	if narrow := mustParse(t, "size = \"100x100\"\ncrop = [0, 0, 400, 300]"+wholeColumn, nil); len(narrow.Notes) == 0 || !strings.Contains(narrow.Notes[0], "25 % narrower") {
		t.Errorf("a crop of 4:3 in a square frame: %v", narrow.Notes)
	}
	if !reflect.DeepEqual(f.Notes, want) {
		t.Errorf("notes\n%s\nwant\n%s", strings.Join(f.Notes, "\n"), strings.Join(want, "\n"))
	}
}

func TestFilesThatCanNotBeReadAreNamed(t *testing.T) {
	folder := t.TempDir()
	large := filepath.Join(folder, "large.toml")
	if err := os.WriteFile(large, make([]byte, maxBytes+1), 0o600); err != nil {
		t.Fatal(err)
	}
	whole := filepath.Join(folder, "whole.toml")
	if err := os.WriteFile(whole, []byte(wholeFile), 0o600); err != nil {
		t.Fatal(err)
	}
	missing := filepath.Join(folder, "missing.toml")
	for path, want := range map[string]string{
		missing: missing + ": there is no such file; check the name, or let the command mark write one",
		folder:  folder + ": this is a folder; name the column file in it",
		large:   large + ": the file is larger than 4 MiB; name a column file, which is a few kilobytes of text",
	} {
		if _, err := Read(path, nil); err == nil || err.Error() != want {
			t.Errorf("got  %v\nwant %s", err, want)
		}
	}
	f, err := Read(whole, map[string]string{"fps": "50"})
	if err != nil {
		t.Fatal(err)
	}
	if f.Photos != filepath.Join(folder, "photos") || f.Rate.Num != 50 {
		t.Errorf("read %s at %v", f.Photos, f.Rate)
	}
}

// TestSharesOfTheRangeMeet: each column's band begins where the one before it ends, however many there are.
func TestSharesOfTheRangeMeet(t *testing.T) {
	for _, count := range []int{1, 2, 6, maxColumns} {
		edge := lowestHz
		for i := range count {
			band := share(i, count)
			if band.LowHz != edge || band.HighHz <= band.LowHz {
				t.Fatalf("%d columns: band %d is %v, after %v Hz", count, i, band, edge)
			}
			edge = band.HighHz
		}
		if edge != highestHz {
			t.Errorf("%d columns end at %v Hz", count, edge)
		}
	}
}

// TestDistanceCountsSlips: counted by hand.
func TestDistanceCountsSlips(t *testing.T) {
	for _, row := range []struct {
		a, b string
		want int
	}{
		{"", "", 0}, {"gain", "gain", 0}, {"gian", "gain", 1}, {"gai", "gain", 1}, {"again", "gain", 1}, {"gaim", "gain", 1},
		{"fether", "feather", 1}, {"regoin", "region", 1}, {"bnd", "band", 1}, {"", "to", 2}, {"clp", "floor", farthest + 1}, {"a", "abcd", farthest + 1},
	} {
		got := min(distance(row.a, row.b), farthest+1)
		if got != row.want || min(distance(row.b, row.a), farthest+1) != row.want {
			t.Errorf("%q and %q are %d apart, want %d", row.a, row.b, got, row.want)
		}
	}
}

func ExampleParse() {
	_, err := Parse("columns.toml", []byte("[[column]]\nname = \"rumble\"\nbnad = [16, 60]\n"), nil)
	fmt.Println(err)
	// Output: columns.toml:3:1: unknown key "bnad"; did you mean "band"?
}
