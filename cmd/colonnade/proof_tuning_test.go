package main

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"colonnade/analyze/envelope"
	"colonnade/analyze/levels"
	"colonnade/analyze/response"
	"colonnade/analyze/song"
	"colonnade/analyze/timing"
	"colonnade/compose/proof"
)

// within runs an expression among the functions of some of the page's files.
func within(expression string, files ...string) string {
	return strings.TrimSuffix(proof.Script(files...), "})();") + "return (" + expression + ");\n})()"
}

func jsonOf(t *testing.T, v any) string {
	t.Helper()
	text, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// pageSettings are a response's settings as the page takes them.
func pageSettings(s response.Settings) proof.Response {
	return proof.Response{Shared: s.Shared, Clip: s.Clip, Floor: s.Floor, Curve: s.Curve, Gain: s.Gain, Attack: s.Attack, Release: s.Release, Hold: s.Hold, Top: s.Top, Bottom: s.Bottom}
}

// randomEnvelope is one of several kinds: noise, strokes, a swell, near silence, steps that stand on a level's edge.
func randomEnvelope(random *rand.Rand, frames int) []float64 {
	const steps = 1 << 20
	kind, loud, height := random.IntN(5), math.Exp2(-12*random.Float64()), 0.0
	values := make([]float64, frames)
	for n := range values {
		switch kind {
		case 0:
			height = random.Float64()
		case 1:
			if height *= 0.8; random.IntN(20) == 0 {
				height = random.Float64()
			}
		case 2:
			height = 0.5 - 0.5*math.Cos(float64(n)/40)
		case 3:
			height = 3e-4 * random.Float64()
		case 4:
			height = float64(random.IntN(41)) / 40
		}
		values[n] = math.Round(loud*height*steps) / steps
	}
	return values
}

func randomSettings(random *rand.Rand) response.Settings {
	oneOf := func(values ...float64) float64 { return values[random.IntN(len(values))] }
	s := response.Default()
	s.Shared = random.IntN(3) == 0
	s.Clip = oneOf(0, 0.01, 0.5, 0.29, random.Float64()/2)
	s.Floor = oneOf(-30, -3, -120, -60*random.Float64()-0.1)
	s.Curve = oneOf(1, 0.5, 2, 0.1+9*random.Float64())
	s.Gain = oneOf(0, 6, -6, 60*random.Float64()-30)
	s.Attack = oneOf(0, 40, 1000*random.Float64())
	s.Release = oneOf(0, 120, 10000, 2000*random.Float64())
	s.Hold = random.IntN(6)
	s.Bottom = random.IntN(3)
	s.Top = s.Bottom + 1 + random.IntN(9)
	return s
}

// TestOutsideProofPageAnswersAsTheProgram: on random envelopes and settings the page's response gives package response's levels and
// references, value for value.
func TestOutsideProofPageAnswersAsTheProgram(t *testing.T) {
	if !outside(t) {
		return
	}
	b := newBrowser(t, 800, 600, 1)
	random := rand.New(rand.NewPCG(11, 12))
	rates := []timing.Rate{{Num: 25, Den: 1}, {Num: 24000, Den: 1001}, {Num: 60, Den: 1}, {Num: 10, Den: 1}}
	changes := 0
	for round := range 300 {
		frames := 1 + random.IntN(400)
		rate, dissolve := rates[random.IntN(len(rates))], random.IntN(3) == 0
		var values [][]float64
		var settings []response.Settings
		var asked []proof.Response
		for range 1 + random.IntN(3) {
			values = append(values, randomEnvelope(random, frames))
			settings = append(settings, randomSettings(random))
			asked = append(asked, pageSettings(settings[len(settings)-1]))
		}
		want, summaries := response.Levels(values, settings, rate, dissolve)
		var got struct {
			Levels     [][]levels.Level
			References []float64
		}
		b.run(&got, within(fmt.Sprintf(`(() => {
			const r = levelsOf(%s.map(v => Float64Array.from(v)), %s, {num: %d, den: %d}, %v);
			return {levels: r.levels.map(v => [...v]), references: r.references};
		})()`, jsonOf(t, values), jsonOf(t, asked), rate.Num, rate.Den, dissolve), "response.js"))
		for c := range values {
			if got.References[c] != summaries[c].Reference {
				t.Fatalf("round %d: the top of column %d is at %v, not %v", round, c, got.References[c], summaries[c].Reference)
			}
			for n := range want {
				if got.Levels[c][n] != want[n][c] {
					t.Fatalf("round %d, %+v, frame %d: level %v, not %v", round, settings[c], n+1, got.Levels[c][n], want[n][c])
				}
				if n > 0 && want[n][c] != want[n-1][c] {
					changes++
				}
			}
		}
	}
	if changes < 10000 {
		t.Errorf("the corpus has only %d changes of level", changes)
	}
}

// setControl moves a control of the column being tuned as its user would.
func (b *browser) setControl(selector string, value any) {
	b.t.Helper()
	b.run(nil, fmt.Sprintf(`(() => { const e = document.querySelector(%q); e.focus(); e.value = %v; e.dispatchEvent(new Event("input", {bubbles: true})); e.dispatchEvent(new Event("change", {bubbles: true})); })()`, selector, value))
}

// levelsShown are the levels in every step-th frame, as the canvas carries them.
func (b *browser) levelsShown(frames, step int) map[int]string {
	b.t.Helper()
	var rows []string
	b.run(&rows, fmt.Sprintf(`(() => { const rows = []; for (let n = 1; n <= %d; n += %d) { seek.value = n; seek.dispatchEvent(new Event("input")); rows.push(photo.dataset.levels); } return rows; })()`, frames, step))
	out := map[int]string{}
	for i, row := range rows {
		out[1+i*step] = row
	}
	return out
}

// savedFile is what the button for the whole file would save.
func (b *browser) savedFile() string {
	b.t.Helper()
	var text string
	b.run(&text, `(async () => {
		const create = URL.createObjectURL, press = HTMLAnchorElement.prototype.click;
		let saved = "";
		URL.createObjectURL = blob => { saved = blob.text(); return "blob:"; };
		HTMLAnchorElement.prototype.click = () => {};
		download.click();
		URL.createObjectURL = create;
		HTMLAnchorElement.prototype.click = press;
		return saved;
	})()`)
	return text
}

// TestOutsideProofPageTunes: controls change the levels at once and the text; what is saved, heard by listen, gives those levels.
func TestOutsideProofPageTunes(t *testing.T) {
	if !outside(t) {
		return
	}
	folder := t.TempDir()
	page, csv, tuned := filepath.Join(folder, "proof.html"), filepath.Join(folder, "levels.csv"), filepath.Join(folder, "tuned.toml")
	succeed(t, "proof", "--width", "160", "-o", page, exampleFile)
	b := newBrowser(t, 1280, 900, 1)
	b.open(page)
	before := b.levelsShown(600, 1)
	b.click(`.row.column:nth-of-type(3) button.name`) // bass; the song's row is the first
	b.setControl(`[data-key=gain]`, 4.5)
	b.setControl(`[data-key=hold]`, 6)
	b.setControl(`[data-key=top]`, 4)
	b.setControl(`.control:nth-of-type(5) input[type=number]`, 333.25) // release, as a number
	b.run(nil, `document.querySelector("[data-key=floor]").focus()`)
	b.press("ArrowRight", "ArrowRight", 0) // half a decibel up, from -26
	b.click(`.row.column:nth-of-type(2) button.name`)
	b.setControl(`[data-key=curve]`, 1.5)
	b.setControl(`[data-key=attack]`, 50)
	var text string
	b.run(&text, `document.getElementById("text").textContent`)
	want := "[[column]]\nname = \"kick\"\ncurve = 1.5\nattack = 50.0\n\n[[column]]\nname = \"bass\"\ngain = 4.5\nfloor = -25.5\nrelease = 333.25\nhold = 6\ntop = 4\n"
	if text != want {
		t.Errorf("the lines are\n%s\nnot\n%s", text, want)
	}
	shown := b.levelsShown(600, 1)
	if err := os.WriteFile(tuned, []byte(b.savedFile()), 0o644); err != nil {
		t.Fatal(err)
	}
	folders := []string{"--photos", "../../examples/cairns/photos", "--song", "../../examples/cairns/song.wav"}
	succeed(t, append([]string{"listen", "-o", csv, tuned}, folders...)...)
	differ := 0
	for i, row := range tableOf(t, csv).Rows {
		if shown[i+1] != rowText(row) {
			t.Fatalf("frame %d shows %s, the saved file gives %s", i+1, shown[i+1], rowText(row))
		}
		if shown[i+1] != before[i+1] {
			differ++
		}
	}
	if differ < 100 {
		t.Errorf("tuning changed %d frames", differ)
	}
	b.click(`#asfile`)
	b.click(`.row.column:nth-of-type(3) button.name`)
	b.click(`#asfile`)
	var hidden bool
	b.run(&hidden, `changes.hidden`)
	if after := b.levelsShown(600, 7); !hidden || after[8] != before[8] || after[596] != before[596] {
		t.Error("what is as in the file again still counts as changed")
	}
	// A moved band is near enough for almost every level.
	b.click(`.row.column:nth-of-type(4) button.name`)
	b.run(nil, `document.querySelector("[data-key=low]").focus()`)
	for range 3 {
		b.press("ArrowRight", "ArrowRight", 0)
	}
	b.run(nil, `document.querySelector("[data-key=high]").focus()`)
	b.press("ArrowLeft", "ArrowLeft", 0)
	shown = b.levelsShown(600, 1)
	b.run(&text, `document.getElementById("text").textContent`)
	if err := os.WriteFile(tuned, []byte(b.savedFile()), 0o644); err != nil {
		t.Fatal(err)
	}
	succeed(t, append([]string{"listen", "-o", csv, tuned}, folders...)...)
	differ = 0
	for i, row := range tableOf(t, csv).Rows {
		if shown[i+1] != rowText(row) {
			differ++
		}
	}
	t.Logf("with %q %d of 600 frames differ from what listen gives", text, differ)
	if !strings.Contains(text, "band = [362, 1820]") || differ > 20 {
		t.Errorf("with %q %d of 600 frames differ from what listen gives", text, differ)
	}
	b.quiet()
}

// TestOutsideProofPageReadsBands: the page's envelopes of other bands are within half a decibel of package envelope's, but for
// one frame in fifty, in frames less than 30 dB below the loudest.
func TestOutsideProofPageReadsBands(t *testing.T) {
	if !outside(t) {
		return
	}
	page := filepath.Join(t.TempDir(), "proof.html")
	succeed(t, "proof", "--width", "160", "-o", page, exampleFile)
	b := newBrowser(t, 800, 600, 1)
	b.open(page)
	var edges []float64
	b.run(&edges, `JSON.parse(piece.textContent).bank.edges`)
	random := rand.New(rand.NewPCG(3, 4))
	var bands []envelope.Band
	for range 12 {
		low := random.IntN(len(edges) - 6)
		bands = append(bands, envelope.Band{LowHz: edges[low], HighHz: edges[min(low+3+random.IntN(18), len(edges)-1)]})
	}
	source, err := song.Open("../../examples/cairns/song.wav")
	if err != nil {
		t.Fatal(err)
	}
	defer source.Close()
	exact, err := envelope.Measure(source, source.Info().Rate, source.Info().Channels, bands, timing.Rate{Num: 25, Den: 1})
	if err != nil {
		t.Fatal(err)
	}
	off, frames := 0, 0
	for i, band := range bands {
		var got []float64
		b.run(&got, within(fmt.Sprintf(`(async () => { const about = JSON.parse(document.getElementById("piece").textContent).bank; return [...bandEnvelope(makeBank(about, await unpacked(about.codes)), %v, %v)]; })()`, band.LowHz, band.HighHz), "bytes.js", "bank.js"))
		loudest := slices.Max(exact.Values[i])
		for n, want := range exact.Values[i] {
			if want < loudest*math.Pow(10, -30./20) {
				continue
			}
			frames++
			if math.Abs(20*math.Log10(got[n]/want)) > 0.5 {
				off++
			}
		}
	}
	t.Logf("%d of %d frames are more than 0.5 dB off", off, frames)
	if frames < 1000 || off*50 > frames {
		t.Errorf("%d of %d frames are more than 0.5 dB off", off, frames)
	}
}
