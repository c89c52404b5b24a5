package chart

import (
	"bytes"
	"encoding/xml"
	"image/png"
	"io"
	"math"
	"slices"
	"strings"
	"testing"

	"colonnade/analyze/envelope"
	"colonnade/analyze/levels"
	"colonnade/analyze/timing"
)

// tone gives a song of one channel from a function.
type tone struct {
	samples, position int
	at                func(i int) float32
}

func (t *tone) Read(dst [][]float32) (int, error) {
	n := 0
	for n < len(dst[0]) && t.position < t.samples {
		dst[0][n] = t.at(t.position)
		n++
		t.position++
	}
	if n == 0 {
		return 0, io.EOF
	}
	return n, nil
}

func example(frames int) *Chart {
	c := &Chart{Title: "still <water> & stones", Rate: timing.Rate{Num: 25, Den: 1}, First: 1, Frames: frames}
	column := Column{Name: "low", Follows: envelope.Part{Band: envelope.Band{LowHz: 60, HighHz: 2500}}, Top: 0.2, Rest: 0.006, Highest: 6}
	for n := range frames {
		e := 0.1 + 0.1*math.Sin(float64(n)/9)
		column.Envelope = append(column.Envelope, e)
		column.Levels = append(column.Levels, levels.Level(math.Round(e/0.2*6))*levels.One)
	}
	c.Columns = []Column{column, column}
	c.Waveform = Watch(&tone{samples: frames * 40, at: func(i int) float32 { return float32(math.Sin(float64(i) / 10)) }}, 1000)
	for {
		if _, err := c.Waveform.Read([][]float32{make([]float32, 777)}); err != nil {
			return c
		}
	}
}

// record keeps what is drawn.
type record struct {
	fills, strokes [][]point
	words          []string
}

func (r *record) fill(points []point, _ string) { r.fills = append(r.fills, points) }
func (r *record) stroke(points []point, _ string, _ float64, _ bool) {
	r.strokes = append(r.strokes, points)
}
func (r *record) text(_ point, _, _ string, _ float64, text string) { r.words = append(r.words, text) }

func TestNoPeakIsLost(t *testing.T) {
	for _, frames := range []int{7, 300, 1200, 1201, 6000, 50000} {
		c := example(frames)
		c.Columns = c.Columns[:1]
		peak := frames * 2 / 3
		c.Columns[0].Envelope[peak] = 0.9
		c.Columns[0].Levels[peak] = 9 * levels.One
		var r record
		c.draw(&r)
		area := r.fills[len(r.fills)-1]
		highest, at := math.Inf(1), 0.0
		for _, p := range area {
			if p.y < highest {
				highest, at = p.y, p.x
			}
		}
		y := float64(margin + titleTall + waveTall + rowGap)
		if math.Abs(highest-(y+4)) > 0.01 {
			t.Errorf("%d frames: the loudest frame stands at %.2f, the row begins at %.2f", frames, highest, y)
		}
		if want := c.x(c.Rate.Start(peak + 1)); math.Abs(at-want) > math.Max(1, float64(plotWidth)/float64(frames))+0.01 {
			t.Errorf("%d frames: it stands at x %.1f, want %.1f", frames, at, want)
		}
	}
}

func TestStepsFollowTheLevels(t *testing.T) {
	c := example(4)
	c.Columns = c.Columns[:1]
	c.Columns[0].Levels = []levels.Level{0, 6000, 3000, 3000}
	var r record
	c.draw(&r)
	steps := r.strokes[len(r.strokes)-1]
	left, quarter := float64(margin+gutter), float64(plotWidth)/4
	if steps[0].x != left || steps[len(steps)-1].x != left+plotWidth {
		t.Errorf("steps run from %v to %v", steps[0], steps[len(steps)-1])
	}
	at := func(x float64) float64 { // height of the line just right of x
		y := math.NaN()
		for _, p := range steps {
			if p.x <= x {
				y = p.y
			}
		}
		return y
	}
	zero, six, three := at(left), at(left+quarter), at(left+2*quarter)
	if math.Abs((zero+six)/2-three) > 1e-9 || six >= zero || at(left+3*quarter) != three {
		t.Errorf("level 0 stands at %.3f, level 6 at %.3f, level 3 at %.3f: %v", zero, six, three, steps)
	}
}

// TestLevelsSetByHandStayInTheirRow, above the column's own highest, and over silence.
func TestLevelsSetByHandStayInTheirRow(t *testing.T) {
	for _, top := range []float64{0.2, 0} {
		c := example(4)
		c.Columns = c.Columns[:1]
		c.Columns[0].Levels = []levels.Level{0, 9000, 3000, 3000}
		c.Columns[0].Top, c.Columns[0].Rest = top, top/10
		if top == 0 {
			c.Columns[0].Envelope = make([]float64, 4)
		}
		var r record
		c.draw(&r)
		steps := r.strokes[len(r.strokes)-1]
		above := float64(margin + titleTall + waveTall + rowGap)
		lowest, highest := above, above+rowTall
		for _, p := range steps {
			lowest, highest = max(lowest, p.y), min(highest, p.y)
		}
		if highest < above || lowest > above+rowTall || lowest-highest < rowTall*0.8 {
			t.Errorf("top at %g: levels stand from %.1f to %.1f in a row from %.1f to %.1f", top, highest, lowest, above, above+rowTall)
		}
	}
}

func TestTimeIsMarkedInMinutesAndSeconds(t *testing.T) {
	for frames, want := range map[int][]string{6000: {"0:00", "1:00", "4:00"}, 125: {"0:00.0", "0:00.5", "0:05.0"}, 90000: {"0:00", "30:00", "60:00"}} {
		var r record
		example(frames).draw(&r)
		for _, mark := range want {
			found := false
			for _, word := range r.words {
				found = found || word == mark
			}
			if !found {
				t.Errorf("%d frames: no mark %s in %v", frames, mark, r.words)
			}
		}
	}
}

// TestRowsSayWhatTheyFollow, in the drawing and in words.
func TestRowsSayWhatTheyFollow(t *testing.T) {
	band := envelope.Band{LowHz: 16, HighHz: 60}
	for want, part := range map[string]envelope.Part{
		"16 Hz to 60 Hz":                {Band: band},
		"16 Hz to 60 Hz, left":          {Band: band, Channel: envelope.Left},
		"16 Hz to 60 Hz, right, onsets": {Band: band, Channel: envelope.Right, Onset: true},
		"whole song, onsets":            {Band: envelope.Everything(), Onset: true},
	} {
		c := example(50)
		c.Columns[0].Follows = part
		var r record
		if c.draw(&r); !slices.Contains(r.words, want) {
			t.Errorf("%+v: the drawing says %q", part, r.words)
		}
		words := want
		if part.Onset {
			words = "onsets of " + strings.TrimSuffix(want, ", onsets")
		}
		if !strings.Contains(c.description(), " low, "+words+": levels") {
			t.Errorf("%+v: the words are %q", part, c.description())
		}
	}
}

func TestWaveformKeepsBothEnds(t *testing.T) {
	w := Watch(&tone{samples: 5000, at: func(i int) float32 {
		switch i {
		case 1234:
			return 0.8
		case 4000:
			return -0.7
		}
		return 0
	}}, 1000)
	for {
		if _, err := w.Read([][]float32{make([]float32, 64)}); err != nil {
			break
		}
	}
	if _, high := w.between(1.23, 1.24); high != 0.8 {
		t.Errorf("the peak reads %g", high)
	}
	if low, high := w.between(0, 5); low != -0.7 || high != 0.8 {
		t.Errorf("the whole reads %g to %g", low, high)
	}
	if low, high := w.between(2, 3); low != 0 || high != 0 {
		t.Errorf("silence reads %g to %g", low, high)
	}
}

func TestSVGIsWellFormedAndSaysItInWords(t *testing.T) {
	var b bytes.Buffer
	if err := example(500).SVG(&b); err != nil {
		t.Fatal(err)
	}
	decoder := xml.NewDecoder(bytes.NewReader(b.Bytes()))
	for {
		if _, err := decoder.Token(); err == io.EOF {
			break
		} else if err != nil {
			t.Fatal(err)
		}
	}
	for _, want := range []string{"still &lt;water&gt; &amp; stones", "60 Hz to 2.5 kHz: levels 0 to 6", "top at -14.0 dB", `role="img"`} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("no %q", want)
		}
	}
}

func TestPNGShowsTheRows(t *testing.T) {
	c := example(500)
	var b bytes.Buffer
	if err := c.PNG(&b); err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	if size := img.Bounds().Size(); size.X != int(2*width()) || size.Y != int(2*c.height()) {
		t.Errorf("%v", size)
	}
	// Just above the base line of a row in which the envelope is loud stands the colour of sound.
	y := margin + titleTall + waveTall + rowGap + rowTall - 12
	if got := img.At(2*(margin+gutter+30), 2*y); got != parseColour(sound) {
		t.Errorf("the envelope is %v", got)
	}
	if got := img.At(3, 3); got != parseColour(paper) {
		t.Errorf("the paper is %v", got)
	}
}

// halves is a song of two channels that sound in turn.
type halves struct{ done bool }

func (h *halves) Read(dst [][]float32) (int, error) {
	if h.done {
		return 0, io.EOF
	}
	h.done = true
	clear(dst[0])
	clear(dst[1])
	dst[0][5], dst[1][15] = 0.5, -0.25
	return 20, nil
}

func TestWaveformIsThatOfAllChannels(t *testing.T) {
	w := Watch(&halves{}, 1000)
	if n, err := w.Read([][]float32{make([]float32, 20), make([]float32, 20)}); n != 20 || err != nil {
		t.Fatal(n, err)
	}
	if !slices.Equal(w.High, []float32{0.5, 0}) || !slices.Equal(w.Low, []float32{0, -0.25}) {
		t.Errorf("hundredths of a second reach from %v to %v", w.Low, w.High)
	}
}
