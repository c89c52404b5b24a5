package main

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"colonnade/analyze/levels"
	"colonnade/analyze/timing"
)

const exampleFile = "../../examples/cairns/columns.toml"

// succeed runs the program within this process and fails when it does not end well.
func succeed(t *testing.T, arguments ...string) string {
	t.Helper()
	var stdout, stderr bytes.Buffer
	if status := run(arguments, streams{&stdout, &stderr}); status != statusDone {
		t.Fatalf("colonnade %s: exit status %d: %s", strings.Join(arguments, " "), status, stderr.String())
	}
	return stdout.String()
}

// outside is whether programs from outside are to be used.
func outside(t *testing.T) bool {
	t.Helper()
	if os.Getenv("COLONNADE_OUTSIDE") != "1" {
		t.Log("COLONNADE_OUTSIDE is not 1: the page is not opened in a browser")
		return false
	}
	return true
}

func tableOf(t *testing.T, path string) *levels.Table {
	t.Helper()
	file, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	heading, _, _ := strings.Cut(string(text), "\n")
	table, err := levels.Read(path, file, timing.Rate{Num: 25, Den: 1}, strings.Split(heading, ",")[2:], 100)
	if err != nil {
		t.Fatal(err)
	}
	return table
}

// rowText is a row of the table as the page's canvas carries it.
func rowText(row []levels.Level) string {
	var texts []string
	for _, level := range row {
		texts = append(texts, level.String())
	}
	return strings.Join(texts, ",")
}

// TestOutsideProofPageInChromium: the page of the example, opened from its file, is quiet; at 40 times it shows the levels of the
// table, and pixels as render makes them.
func TestOutsideProofPageInChromium(t *testing.T) {
	if !outside(t) {
		return
	}
	folder := t.TempDir()
	page, csv, frames := filepath.Join(folder, "proof.html"), filepath.Join(folder, "levels.csv"), filepath.Join(folder, "frames")
	succeed(t, "proof", "--width", "640", "-o", page, exampleFile)
	succeed(t, "listen", "-o", csv, exampleFile)
	table := tableOf(t, csv)
	b := newBrowser(t, 1280, 900, 1)
	b.open(page)
	var size struct{ Width, Height int }
	b.run(&size, `({width: photo.width, height: photo.height})`)
	var agrees string
	b.run(&agrees, `document.getElementById("page").dataset.agrees`)
	if agrees != "true" {
		t.Error("the page reckons other levels than the program")
	}
	random := rand.New(rand.NewPCG(1, 2))
	for sample := range 40 {
		n := 1 + random.IntN(len(table.Rows))
		var at struct {
			Levels, Frame, Time string
		}
		b.run(&at, fmt.Sprintf(`(() => { seek.value = %d; seek.dispatchEvent(new Event("input")); return {...photo.dataset}; })()`, n))
		seconds, _ := strconv.ParseFloat(at.Time, 64)
		if at.Levels != rowText(table.Rows[n-1]) || at.Frame != strconv.Itoa(n) || int(math.Floor(seconds*25))+1 != n {
			t.Errorf("frame %d at %s s shows %s in frame %s; the table says %s", n, at.Time, at.Levels, at.Frame, rowText(table.Rows[n-1]))
		}
		if sample%10 == 0 {
			comparePixels(t, b, n, frames, size.Width, size.Height, "--levels", csv, exampleFile)
		}
	}
	b.quiet()
}

// comparePixels holds the canvas against a rendered frame of its size, made with some arguments more. JPEG's loss is all that may part them, in luminance
// little, in colour at sharp edges more, since it carries colour at half the resolution.
func comparePixels(t *testing.T, b *browser, n int, frames string, width, height int, arguments ...string) {
	t.Helper()
	succeed(t, append([]string{"render", "-q", "--size", fmt.Sprintf("%dx%d", width, height), "--frames", fmt.Sprintf("%d-%d", n, n), "-o", frames}, arguments...)...)
	file, err := os.Open(filepath.Join(frames, fmt.Sprintf("frame_%06d.png", n)))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	want, err := png.Decode(file)
	if err != nil {
		t.Fatal(err)
	}
	var text string
	b.run(&text, `(() => { const c = new OffscreenCanvas(photo.width, photo.height).getContext("2d", {willReadFrequently: true}); c.drawImage(photo, 0, 0);
		const d = c.getImageData(0, 0, photo.width, photo.height).data; let s = ""; for (let i = 0; i < d.length; i += 8192) s += String.fromCharCode(...d.subarray(i, i + 8192)); return btoa(s); })()`)
	got, err := base64.StdEncoding.DecodeString(text)
	if err != nil || len(got) != 4*width*height {
		t.Fatalf("%d bytes of pixels: %v", len(got), err)
	}
	sum, far := 0.0, 0
	for y := range height {
		for x := range width {
			r, g, bl, _ := want.At(x, y).RGBA()
			at := 4 * (y*width + x)
			luma := func(r, g, b float64) float64 { return 0.299*r + 0.587*g + 0.114*b }
			off := math.Abs(luma(float64(got[at]), float64(got[at+1]), float64(got[at+2])) - luma(float64(r>>8), float64(g>>8), float64(bl>>8)))
			sum += off
			if off > 8 {
				far++
			}
		}
	}
	mean := sum / float64(width*height)
	t.Logf("frame %d: luminance is %.2f of 255 off on average, more than 8 in %d of %d pixels", n, mean, far, width*height)
	if mean > 1 || far*1000 > width*height {
		t.Errorf("frame %d: luminance is %.2f of 255 off on average, more than 8 in %d of %d pixels", n, mean, far, width*height)
	}
}

// TestOutsideProofPageIsPlayed by keys and mouse: a step, a second, the ends, a press in the chart; the song runs, its frame is
// floor(t x fps) + 1, it loops where it was told to, and stops.
func TestOutsideProofPageIsPlayed(t *testing.T) {
	if !outside(t) {
		return
	}
	page := filepath.Join(t.TempDir(), "proof.html")
	succeed(t, "proof", "--width", "320", "--from", "0:08", "--to", "0:12", "-o", page, exampleFile)
	b := newBrowser(t, 390, 800, 2)
	b.open(page)
	frame := func() (n int) {
		t.Helper()
		b.run(&n, `Number(photo.dataset.frame)`)
		return n
	}
	at := func(want int, after string) {
		t.Helper()
		if n := frame(); n != want {
			t.Errorf("after %s frame %d is shown, not %d", after, n, want)
		}
	}
	const first, last = 201, 300 // from 8 to 12 seconds at 25 frames a second
	at(first, "opening")
	const shift = 8
	b.press("ArrowRight", "ArrowRight", 0)
	at(first+1, "a step on")
	b.press("ArrowRight", "ArrowRight", shift)
	at(first+26, "a second on")
	b.press("ArrowLeft", "ArrowLeft", 0)
	at(first+25, "a step back")
	b.press("End", "End", 0)
	at(last, "End")
	b.press("ArrowRight", "ArrowRight", 0)
	at(last, "a step beyond the end")
	b.press("Home", "Home", 0)
	at(first, "Home")
	b.click(`#forward`)
	at(first+1, "the button for a step")
	b.click(`.row.column .plot`)
	at(first+50, "a press in the middle of the chart")
	// A loop of six frames, by keys; the clock's frames are watched while it plays.
	b.press("Home", "Home", 0)
	b.press("i", "KeyI", 0)
	for range 5 {
		b.press("ArrowRight", "ArrowRight", 0)
	}
	b.press("o", "KeyO", 0)
	b.run(nil, `document.activeElement.blur()`)
	b.press(" ", "Space", 0)
	var seen struct {
		Frames []int
		Wrong  []string
		Rounds int
	}
	b.run(&seen, `new Promise(done => {
		const frames = new Set(), wrong = [];
		let last = 0, rounds = 0;
		const look = () => {
			const n = Number(photo.dataset.frame), t = Number(photo.dataset.time);
			if (Math.floor(t * 25) + 1 !== n) wrong.push(t + " " + n);
			frames.add(n);
			if (n < last) rounds++;
			last = n;
			if (rounds < 3) requestAnimationFrame(look); else done({frames: [...frames].sort((a, b) => a - b), wrong, rounds});
		};
		look();
	})`)
	if len(seen.Wrong) > 0 || len(seen.Frames) < 4 || seen.Frames[0] < first || seen.Frames[len(seen.Frames)-1] > first+5 {
		t.Errorf("a loop over frames %d to %d shows %v; frames that are not the clock's: %v", first, first+5, seen.Frames, seen.Wrong)
	}
	b.press("l", "KeyL", 0)
	b.until(`Number(photo.dataset.frame) > 210`)
	b.press(" ", "Space", 0)
	stopped := frame()
	var label string
	b.run(&label, `new Promise(done => requestAnimationFrame(() => requestAnimationFrame(() => done(play.textContent))))`)
	at(stopped, "stopping and two pictures of the browser")
	if label != "Play" {
		t.Errorf("the button says %q when the song stands", label)
	}
	b.press("End", "End", 0)
	b.press("ArrowLeft", "ArrowLeft", 0)
	b.press(" ", "Space", 0)
	b.until(`play.textContent === "Play"`)
	at(last, "playing to the end")
	b.quiet()
}

// TestOutsideProofPageWarnsOfFlashing: where less motion is asked for, playing stops before a flash, and goes on only when asked
// again; where it is not, the page says so in time. It never starts by itself.
func TestOutsideProofPageWarnsOfFlashing(t *testing.T) {
	if !outside(t) {
		return
	}
	page := filepath.Join(t.TempDir(), "proof.html")
	succeed(t, "proof", "--width", "160", "-o", page, exampleFile)
	text, err := os.ReadFile(page)
	if err != nil {
		t.Fatal(err)
	}
	const warnings = `"warnings":[{"first":120,"last":130,"text":"It flashes <b>here</b>.","flash":true},{"first":0,"last":0,"text":"Photo 3 is darker.","flash":false}]`
	if text = bytes.Replace(text, []byte(`"warnings":[]`), []byte(warnings), 1); !bytes.Contains(text, []byte(warnings)) {
		t.Fatal("the page has no place for warnings")
	}
	if err := os.WriteFile(page, text, 0o644); err != nil {
		t.Fatal(err)
	}
	for _, motion := range []string{"reduce", "no-preference"} {
		b := newBrowser(t, 800, 600, 1)
		b.call("Emulation.setEmulatedMedia", object{"features": []object{{"name": "prefers-reduced-motion", "value": motion}}})
		b.open(page)
		var at struct{ Frame, Play, Notice, List string }
		look := func() {
			t.Helper()
			b.run(&at, `({frame: photo.dataset.frame, play: play.textContent, notice: notice.textContent, list: warninglist.textContent})`)
		}
		b.run(nil, `new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))`)
		look()
		if at.Frame != "1" || at.Play != "Play" || at.List != "0:04.76It flashes <b>here</b>.Photo 3 is darker." {
			t.Errorf("%s: the page opens with %+v", motion, at)
		}
		b.run(nil, `seek.value = 100; seek.dispatchEvent(new Event("input"))`)
		look()
		if at.Notice != "Flashing begins at 0:04.76 and ends at 0:05.20." {
			t.Errorf("%s: before the flash the page says %q", motion, at.Notice)
		}
		b.click("#play")
		if motion == "reduce" {
			b.until(`play.textContent === "Play"`)
			look()
			if n, _ := strconv.Atoi(at.Frame); n < 110 || n > 119 {
				t.Errorf("playing stops at frame %s, not before 120", at.Frame)
			}
			b.click("#play")
		}
		b.until(`Number(photo.dataset.frame) > 131 && notice.textContent === ""`)
		b.click("#play")
		b.click("#warninglist button")
		if look(); at.Frame != "120" || !strings.HasPrefix(at.Notice, "Flashing and ends") {
			t.Errorf("%s: the warning leads to %+v", motion, at)
		}
	}
}
