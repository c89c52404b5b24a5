package levels

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"testing"

	"colonnade/analyze/timing"
)

var (
	pal  = timing.Rate{Num: 25, Den: 1}
	film = timing.Rate{Num: 24000, Den: 1001}
)

func TestLevelIsWrittenWithNoMoreDecimalsThanItNeeds(t *testing.T) {
	for level, want := range map[Level]string{
		0: "0", 1000: "1", 6000: "6", 12000: "12", 2125: "2.125", 500: "0.5", 5: "0.005", 10: "0.01", 1999: "1.999", 3250: "3.25",
	} {
		if got := level.String(); got != want {
			t.Errorf("%d thousandths are written as %q, not %q", int(level), got, want)
		}
	}
}

func TestTableIsWrittenAsPromised(t *testing.T) {
	table := &Table{Rate: film, First: 2, Names: []string{"rumble", "low, mid", "say \"hi\""},
		Rows: [][]Level{{0, 1000, 2125}, {6000, 500, 0}}}
	var text strings.Builder
	if err := table.Write(&text); err != nil {
		t.Fatal(err)
	}
	want := "frame,time,rumble,\"low, mid\",\"say \"\"hi\"\"\"\n" +
		"2,0.041708,0,1,2.125\n" + // 1001/24000 s
		"3,0.083417,6,0.5,0\n"
	if text.String() != want {
		t.Errorf("written:\n%s\nwanted:\n%s", text.String(), want)
	}
}

func TestValuesAreWrittenUnderTheSameHeader(t *testing.T) {
	var text strings.Builder
	if err := WriteValues(&text, pal, 1, []string{"a", "b"}, [][]float64{{0.70710678, 1. / (1 << 20)}, {0, 1.5}}); err != nil {
		t.Fatal(err)
	}
	want := "frame,time,a,b\n1,0.000000,0.7071068,0.0000010\n2,0.040000,0.0000000,1.5000000\n"
	if text.String() != want {
		t.Errorf("written:\n%s\nwanted:\n%s", text.String(), want)
	}
}

func TestWhatCouldNotBeReadBackIsNotWritten(t *testing.T) {
	for _, c := range []struct {
		names []string
		rows  [][]Level
		want  string
	}{
		{[]string{"a", "a"}, nil, `column "a" is there twice`},
		{[]string{"a", " a"}, nil, `column " a" is there twice`},
		{[]string{"a", "time"}, nil, `column "time" is called like one that every table has`},
		{[]string{"frame"}, nil, `column "frame" is called like`},
		{[]string{" "}, nil, "a column has no name"},
		{[]string{"a\nb"}, nil, `column "a\nb" has a line break`},
		{make([]string, 1001), nil, "1001 columns; at most 1000"},
		{[]string{"a", "b"}, [][]Level{{0, 0}, {1000}}, "frame 8 has 1 values for 2 columns"},
	} {
		table := &Table{Rate: pal, First: 7, Names: c.names, Rows: c.rows}
		if err := table.Write(io.Discard); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q: error %v, not one that says %q", c.names, err, c.want)
		}
		if _, err := Read("levels.csv", strings.NewReader("frame,time\n1,0\n"), pal, c.names, 6); c.rows == nil && err == nil {
			t.Errorf("a table for columns %q is read", c.names)
		}
	}
}

type fullDisk struct{ room int }

var errFull = errors.New("no space left on device")

func (d *fullDisk) Write(p []byte) (int, error) {
	if d.room -= len(p); d.room < 0 {
		return 0, errFull
	}
	return len(p), nil
}

func TestFullDiskIsReported(t *testing.T) {
	table := &Table{Rate: pal, First: 1, Names: []string{"a"}, Rows: make([][]Level, 5000)}
	for i := range table.Rows {
		table.Rows[i] = []Level{0}
	}
	for _, room := range []int{0, 10, 5000, 50000} {
		if err := table.Write(&fullDisk{room}); !errors.Is(err, errFull) {
			t.Errorf("with room for %d bytes: %v", room, err)
		}
	}
}

// TestTableReadsBackWhateverTheSettings: rates, first frames, dissolves and awkward names.
func TestTableReadsBackWhateverTheSettings(t *testing.T) {
	names := []string{"rumble", "low, mid", `"quoted"`, "semi;colon", "tab\there", "Höhe", "=1+1", "x y"}
	for _, rate := range []timing.Rate{pal, film, {Num: 60, Den: 1}, {Num: 1, Den: 3}, {Num: 1000, Den: 1}} {
		for _, first := range []int{1, 2, 5000, 90_000_000} {
			table := &Table{Rate: rate, First: first, Names: names}
			for i := range 3000 {
				row := make([]Level, len(names))
				for c := range row {
					row[c] = Level((i*131 + c*977) % 6001)
				}
				table.Rows = append(table.Rows, row)
			}
			var text strings.Builder
			if err := table.Write(&text); err != nil {
				t.Fatal(err)
			}
			back, err := Read("levels.csv", strings.NewReader(text.String()), rate, names, 6)
			if err != nil {
				t.Fatal(err)
			}
			if back.First != first || back.Rate != rate || !slices.Equal(back.Names, names) ||
				!slices.EqualFunc(back.Rows, table.Rows, slices.Equal[[]Level]) {
				t.Errorf("rate %v, first frame %d: the table differs when read back", rate, first)
			}
		}
	}
}

func TestTablesComeBackFromSpreadsheets(t *testing.T) {
	names := []string{"bass", "low mid"}
	want := [][]Level{{0, 1500}, {2000, 6000}}
	for name, text := range map[string]string{
		"as written":                     "frame,time,bass,low mid\n1,0.000000,0,1.5\n2,0.040000,2,6\n",
		"columns in another order":       "low mid,frame,bass,time\n1.5,1,0,0\n6,2,2,0.04\n",
		"semicolons and decimal commas":  "frame;time;bass;low mid\n1;0,000000;0;1,5\n2;0,040000;2;6\n",
		"semicolons and points":          "frame;time;bass;low mid\n1;0.0;0;1.5\n2;0.04;2;6\n",
		"tabs and decimal commas":        "frame\ttime\tbass\tlow mid\n1\t0\t0\t1,500\n2\t0,04\t2,000\t6\n",
		"carriage returns":               "frame,time,bass,low mid\r\n1,0,0,1.5\r\n2,0.04,2,6\r\n",
		"a byte order mark":              "\xef\xbb\xbfframe,time,bass,low mid\n1,0,0,1.5\n2,0.04,2,6\n",
		"a mark before a quote":          "\xef\xbb\xbf\"frame\",\"time\",\"bass\",\"low mid\"\n\"1\",\"0\",\"0\",\"1.5\"\n2,0.04,2,6",
		"empty lines at the end":         "frame,time,bass,low mid\n1,0,0,1.5\n2,0.04,2,6\n\n\r\n   \n",
		"empty fields at the end":        "frame,time,bass,low mid\n1,0,0,1.5\n2,0.04,2,6\n,,,\n,,,\n",
		"spaces beside the separators":   "frame, time, \"bass\" , low mid\n1, 0, 0, 1.5 \n 2 ,0.04,2,6\n",
		"no line break at the end":       "frame,time,bass,low mid\n1,0,0,1.5\n2,0.04,2,6",
		"times rounded to a hundredth":   "frame,time,bass,low mid\n1,0.01,0,1.5\n2,.05,2,6\n",
		"zeros before and behind":        "frame,time,bass,low mid\n01,0,00,1.5000\n02,0.04,2.0,06.\n",
		"quoted commas between commas":   "frame,time,bass,low mid\n1,\"0,0\",0,\"1,5\"\n2,\"0,04\",2,6\n",
		"semicolons under a quoted name": "\"frame\";time;\"bass\";\"low mid\"\n1;0;0;1,5\n2;0,04;2;6\n",
	} {
		table, err := Read("levels.csv", strings.NewReader(text), pal, names, 6)
		if err != nil {
			t.Errorf("%s: %v", name, err)
		} else if table.First != 1 || !slices.EqualFunc(table.Rows, want, slices.Equal[[]Level]) {
			t.Errorf("%s: read as %v from frame %d", name, table.Rows, table.First)
		}
	}
}

func TestFaultsAreNamedByLineAndColumn(t *testing.T) {
	head := "frame,time,bass,treble\n1,0,0,6\n"
	for _, c := range []struct{ name, text, want string }{
		{"an empty file", "", "levels.csv:1: there is no header"},
		{"an empty first line", "\nframe,time,bass,treble\n", "levels.csv:1: there is no header"},
		{"no rows", "frame,time,bass,treble\n\n", "levels.csv:2: the table has no rows"},
		{"no header", "1,0,0,6\n", `levels.csv:1: column "1" is not known; take it out`},
		{"a name misspelt", "frame,time,bas,treble\n", `levels.csv:1: column "bas" is not known; the nearest name is "bass"`},
		{"a capital", "Frame,time,bass,treble\n", `levels.csv:1: column "Frame" is not known; the nearest name is "frame"`},
		{"a name of nowhere", "frame,time,bass,treble,organ\n", `levels.csv:1: column "organ" is not known; take it out, or add it to the column file`},
		{"a name missing", "frame,time,bass\n", `levels.csv:1: column "treble" is missing`},
		{"no times", "frame,bass,treble\n", `levels.csv:1: column "time" is missing`},
		{"a name twice", "frame,time,bass,treble,bass\n", `levels.csv:1: column "bass" is there twice`},
		{"a nameless column", "frame,time,bass,treble,\n", `levels.csv:1: column "" is not known`},
		{"a long name", "frame,time," + strings.Repeat("x", 5000) + "\n", `levels.csv:1: column "` + strings.Repeat("x", 40) + `..." is not known`},
		{"UTF-16", "\xff\xfef\x00r\x00", "levels.csv:1: the table is in UTF-16; save it as CSV in UTF-8"},
		{"an open quote", head + "2,0.04,\"1,6\n", "levels.csv:3: field 3 has a quote that is not closed"},
		{"a quote amid", head + "2,0.04,\"1\"5,6\n", "levels.csv:3: field 3 has a quote"},
		{"a level too high", head + "2,0.04,7,6\n", `levels.csv:3: column "bass": 7 is above the highest level 6; lower it`},
		{"a little too high", head + "2,0.04,1,6.001\n", `levels.csv:3: column "treble": 6.001 is above the highest level 6`},
		{"much too high", head + "2,0.04,99999999999999999999,6\n", `column "bass": 99999999999999999999 is above the highest level 6`},
		{"a level below 0", head + "2,0.04,-1,6\n", `levels.csv:3: column "bass": -1 is below the lowest level 0`},
		{"a level too fine", head + "2,0.04,1.0625,6\n", `levels.csv:3: column "bass": "1.0625" is finer than a thousandth`},
		{"a word for a level", head + "2,0.04,high,6\n", `levels.csv:3: column "bass": "high" is not a number; write a level from 0 to 6`},
		{"a power of ten", head + "2,0.04,1e0,6\n", `column "bass": "1e0" is not a number`},
		{"not a number", head + "2,0.04,NaN,6\n", `column "bass": "NaN" is not a number`},
		{"two points", head + "2,0.04,1.2.3,6\n", `column "bass": "1.2.3" is not a number`},
		{"a sign alone", head + "2,0.04,-,6\n", `column "bass": "-" is not a number`},
		{"a plus", head + "2,0.04,+1,6\n", `column "bass": "+1" is not a number`},
		{"a level missing", head + "2,0.04,,6\n", `levels.csv:3: column "bass": the level is missing`},
		{"a field too few", head + "2,0.04,1\n", "levels.csv:3: 3 fields under 4 column names"},
		{"decimal commas between commas", head + "2,0,04,1,6\n", "levels.csv:3: 5 fields under 4 column names; write one field for each, with points in numbers or semicolons between fields"},
		{"a row missing", head + "3,0.08,1,6\n", `levels.csv:3: column "frame": 3 follows 1; number the rows one after another`},
		{"a row twice", head + "1,0,1,6\n", `levels.csv:3: column "frame": 1 follows 1`},
		{"frame 0", "frame,time,bass,treble\n0,0,0,0\n", `levels.csv:2: column "frame": "0" is not a frame number; frames are counted from 1`},
		{"half a frame", "frame,time,bass,treble\n1.5,0,0,0\n", `column "frame": "1.5" is not a frame number`},
		{"a frame with a sign", "frame,time,bass,treble\n+1,0,0,0\n", `column "frame": "+1" is not a frame number`},
		{"a clock time", head + "2,0:00:01,1,6\n", `levels.csv:3: column "time": "0:00:01" is not a number of seconds`},
		{"no time", head + "2,,1,6\n", `column "time": "" is not a number of seconds`},
		{"an endless time", head + "2,Inf,1,6\n", `column "time": "Inf" is not a number of seconds`},
		{"another frame rate", "frame,time,bass,treble\n50,2.043708,0,0\n",
			`levels.csv:2: column "time": frame 50 is at 2.043708 s, but at 25 frames a second it begins at 1.960000 s; give the fps that the table is for, about 23.98, or make it anew`},
		{"a table cut and timed anew", "frame,time,bass,treble\n50,0,0,0\n", "frame 50 is at 0 s, but at 25 frames a second it begins at 1.960000 s; give the fps that the table is for, or make it anew"},
		{"an empty line amid", head + "\n2,0.04,1,6\n", "levels.csv:3: the line is empty, but rows follow"},
		{"a line without an end", head + strings.Repeat("1", maxLine+10), "levels.csv:3: the line is longer than 1048576 bytes"},
		{"fields without an end", head + strings.Repeat(",", 2000), "levels.csv:3: the line has more than 1002 fields"},
	} {
		table, err := Read("levels.csv", strings.NewReader(c.text), pal, []string{"bass", "treble"}, 6)
		if err == nil {
			t.Errorf("%s: read as %v", c.name, table)
			continue
		}
		if got := err.Error(); !strings.HasPrefix(got, "levels.csv:") || !strings.Contains(got, c.want) || strings.ContainsAny(got, "\n\r") {
			t.Errorf("%s: error\n%s\nnot one that says\n%s", c.name, got, c.want)
		}
	}
}

// TestAnotherFrameRateIsNoticedInEveryLongTable: 25 for 24, and 30 for 29.97, which differ by half a frame after a
// quarter of a minute.
func TestAnotherFrameRateIsNoticedInEveryLongTable(t *testing.T) {
	for _, c := range []struct{ made, read timing.Rate }{
		{timing.Rate{Num: 24, Den: 1}, pal}, {pal, timing.Rate{Num: 50, Den: 1}}, {timing.Rate{Num: 30000, Den: 1001}, timing.Rate{Num: 30, Den: 1}},
	} {
		table := &Table{Rate: c.made, First: 1, Names: []string{"a"}, Rows: make([][]Level, 600)}
		for i := range table.Rows {
			table.Rows[i] = []Level{0}
		}
		var text strings.Builder
		if err := table.Write(&text); err != nil {
			t.Fatal(err)
		}
		_, err := Read("levels.csv", strings.NewReader(text.String()), c.read, table.Names, 6)
		if want := fmt.Sprintf("about %.4g, or make it anew", c.made.PerSecond()); err == nil || !strings.Contains(err.Error(), `column "time"`) {
			t.Errorf("made for %v, read for %v: %v", c.made, c.read, err)
		} else if c.made.Den == 1001 && !strings.Contains(err.Error(), want) {
			t.Errorf("made for %v, read for %v: %v, not %q", c.made, c.read, err, want)
		}
	}
}

// endless is a table that never ends.
type endless struct {
	frame int
	rest  []byte
}

func (e *endless) Read(p []byte) (int, error) {
	if len(e.rest) == 0 {
		if e.frame == 0 {
			e.rest = []byte("frame,time,a,b\n")
		} else {
			e.rest = fmt.Appendf(nil, "%d,%.3f,0,1\n", e.frame, float64(e.frame-1)/1000)
		}
		e.frame++
	}
	n := copy(p, e.rest)
	e.rest = e.rest[n:]
	return n, nil
}

func TestTableWithoutAnEndIsRefused(t *testing.T) {
	for _, c := range []struct{ rows, cells, line int }{{3000, 1 << 20, 3002}, {1 << 20, 8000, 4002}} {
		reader := newTableReader("levels.csv", &endless{}, timing.Rate{Num: 1000, Den: 1}, []string{"a", "b"}, 6)
		reader.maxRows, reader.maxCells = c.rows, c.cells
		want := fmt.Sprintf("levels.csv:%d: the table is longer than %d rows or %d levels; cut it in parts", c.line, c.rows, c.cells)
		if _, err := reader.read(); err == nil || err.Error() != want {
			t.Errorf("error %v, not %q", err, want)
		}
	}
}

func TestReadErrorsArePassedOn(t *testing.T) {
	broken := errors.New("input/output error")
	r := io.MultiReader(strings.NewReader("frame,time,a\n1,0,0\n"), errorReader{broken})
	if _, err := Read("levels.csv", r, pal, []string{"a"}, 6); !errors.Is(err, broken) || !strings.HasPrefix(err.Error(), "levels.csv: ") {
		t.Errorf("error %v, not %v", err, broken)
	}
}

type errorReader struct{ err error }

func (r errorReader) Read([]byte) (int, error) { return 0, r.err }

func TestNearestNameIsTheOneMeant(t *testing.T) {
	names := []string{"frame", "time", "bass", "low mid", "high mid", "presence"}
	for _, c := range []struct{ name, want string }{
		{"bas", "bass"}, {"BASS", "bass"}, {"base", "bass"}, {"lowmid", "low mid"}, {"low-mid", "low mid"}, {"hi mid", "high mid"},
		{"presense", "presence"}, {"prezense", "presence"}, {"tiem", "time"}, {"organ", ""}, {"kettledrum", ""}, {strings.Repeat("a", 1000), ""},
	} {
		if got := nearest(c.name, names); got != c.want {
			t.Errorf("%q is taken for %q, not %q", c.name, got, c.want)
		}
	}
}

// TestEditDistance: kitten and sitting are the textbook's pair, three apart; the others are counted by hand.
func TestEditDistance(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{{"kitten", "sitting", 3}, {"", "abc", 3}, {"abc", "", 3}, {"abc", "abc", 0}, {"abc", "acb", 2}, {"höhe", "hohe", 1}} {
		if got := editDistance([]rune(c.a), []rune(c.b)); got != c.want {
			t.Errorf("from %q to %q are %d steps, not %d", c.a, c.b, got, c.want)
		}
	}
}

// FuzzRead: whatever is read, it is refused in one line that names the file, or is a table that writes and reads back.
func FuzzRead(f *testing.F) {
	for _, text := range []string{
		"frame,time,bass,low mid\n1,0,0,1.5\n2,0.04,2,6\n",
		"frame;time;bass;low mid\r\n1;0,000000;0;1,5\r\n2;0,040000;2;6\r\n\r\n",
		"\xef\xbb\xbf\"low mid\"\tframe\tbass\ttime\n5,999\t77\t0\t3.04\n",
		"frame,time,\"bass\",\"low \"\"mid\"\"\"\n",
		"frame,time,bass,low mid\n1,0,-0,6.0000\n,,,\n",
	} {
		f.Add([]byte(text))
	}
	names := []string{"bass", "low mid"}
	f.Fuzz(func(t *testing.T, text []byte) {
		table, err := Read("levels.csv", strings.NewReader(string(text)), pal, names, 6)
		if err != nil {
			if !strings.HasPrefix(err.Error(), "levels.csv:") || strings.Contains(err.Error(), "\n") {
				t.Errorf("error %q", err)
			}
			return
		}
		for _, row := range table.Rows {
			for _, level := range row {
				if level < 0 || level > 6*One {
					t.Fatalf("level %v", level)
				}
			}
		}
		var written strings.Builder
		if err := table.Write(&written); err != nil {
			t.Fatal(err)
		}
		back, err := Read("levels.csv", strings.NewReader(written.String()), pal, names, 6)
		if err != nil || back.First != table.First || !slices.EqualFunc(back.Rows, table.Rows, slices.Equal[[]Level]) {
			t.Errorf("%q is read as %v and reads back as %v (%v)", text, table, back, err)
		}
	})
}

func TestShownPhotosAreThoseThatLevelsLieBetween(t *testing.T) {
	for _, test := range []struct {
		rows [][]Level
		want []int
	}{
		{nil, nil},
		{[][]Level{{0, 0}, {0, 0}}, []int{0}},
		{[][]Level{{2000, 0}, {5000, 2000}}, []int{0, 2, 5}},
		{[][]Level{{500, 3000}}, []int{0, 1, 3}},
		{[][]Level{{1999}, {3001}}, []int{1, 2, 3, 4}},
	} {
		if got := Shown(test.rows...); !slices.Equal(got, test.want) {
			t.Errorf("rows %v show photos %v, want %v", test.rows, got, test.want)
		}
	}
}
