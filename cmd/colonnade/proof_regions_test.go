package main

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"colonnade/cmd/columnfile"
	"colonnade/masks"
)

// openRegions opens the page for the regions of the example in a window.
func openRegions(t *testing.T, width, height int, density float64) (*browser, []byte) {
	t.Helper()
	text, err := os.ReadFile(exampleFile)
	if err != nil {
		t.Fatal(err)
	}
	page := filepath.Join(t.TempDir(), "regions.html")
	var stdout, stderr bytes.Buffer
	if err := writeRegions(page, exampleFile, streams{&stdout, &stderr}); err != nil {
		t.Fatal(err)
	}
	b := newBrowser(t, width, height, density)
	b.open(page)
	return b, text
}

// dragBy drags the middle of an element so many pixels of the photo.
func (b *browser) dragBy(selector string, dx, dy float64) {
	b.t.Helper()
	var at struct{ X, Y, Scale float64 }
	b.run(&at, fmt.Sprintf(`(() => { const e = document.querySelector(%q); e.scrollIntoView({block: "center"}); const r = e.getBoundingClientRect(), d = drawing.getBoundingClientRect(); return {x: r.x + r.width / 2, y: r.y + r.height / 2, scale: d.width / drawing.viewBox.baseVal.width}; })()`, selector))
	b.mouse("mousePressed", at.X, at.Y, 0)
	b.mouse("mouseMoved", at.X+dx*at.Scale/2, at.Y+dy*at.Scale/2, 0)
	b.mouse("mouseMoved", at.X+dx*at.Scale, at.Y+dy*at.Scale, 0)
	b.mouse("mouseReleased", at.X+dx*at.Scale, at.Y+dy*at.Scale, 0)
}

// savedRegions reads what the page would save as a column file.
func savedRegions(t *testing.T, b *browser) (*columnfile.File, string) {
	t.Helper()
	text := b.savedFile()
	file, err := columnfile.Parse("columns.toml", []byte(text), nil)
	if err != nil {
		t.Fatalf("%v in\n%s", err, text)
	}
	return file, text
}

// TestOutsideRegionsAreDragged: a corner goes where it is dragged to, to half a pixel of the screen, in several windows and at several
// densities; what is not touched stays, and the file's other lines too.
func TestOutsideRegionsAreDragged(t *testing.T) {
	if !outside(t) {
		return
	}
	for _, window := range []struct {
		width, height int
		density       float64
	}{{1400, 900, 1}, {800, 1000, 2}, {390, 844, 3}} {
		b, text := openRegions(t, window.width, window.height, window.density)
		before, err := columnfile.Parse("columns.toml", text, nil)
		if err != nil {
			t.Fatal(err)
		}
		b.dragBy(`[data-corner="1"]`, 40, -60)
		after, saved := savedRegions(t, b)
		var screen float64
		b.run(&screen, `drawing.viewBox.baseVal.width / drawing.getBoundingClientRect().width`)
		slack := 0.5 + screen/2
		want := before.Columns[0].Region[1]
		if got := after.Columns[0].Region[1]; math.Abs(got.X-want.X-40) > slack || math.Abs(got.Y-want.Y+60) > slack {
			t.Errorf("%+v: the corner at %v goes to %v when it is dragged by (40, -60)", window, want, got)
		}
		untouched := 0
		for i, line := range strings.Split(string(text), "\n") {
			if line == strings.Split(saved, "\n")[i] {
				untouched++
			}
		}
		if lines := strings.Count(string(text), "\n"); untouched != lines {
			t.Errorf("%+v: %d of %d lines are untouched, not all but one", window, untouched, lines)
		}
		b.quiet()
	}
}

// TestOutsideRegionsAreSetByHand: corners are added and removed, regions moved, renamed, added and taken out, by mouse and by keys, and
// all is undone again.
func TestOutsideRegionsAreSetByHand(t *testing.T) {
	if !outside(t) {
		return
	}
	b, text := openRegions(t, 1400, 900, 1)
	before, err := columnfile.Parse("columns.toml", text, nil)
	if err != nil {
		t.Fatal(err)
	}
	region := func(i int) masks.Region {
		t.Helper()
		after, _ := savedRegions(t, b)
		return after.Columns[i].Region
	}
	b.dragBy(`[data-between="0"]`, 0, 30)
	if got, was := region(0), before.Columns[0].Region; len(got) != len(was)+1 || math.Abs(got[1].X-(was[0].X+was[1].X)/2) > 2 || math.Abs(got[1].Y-was[0].Y-30) > 2 {
		t.Errorf("a corner dragged out of an edge: %v of %v", got, was)
	}
	b.press("ArrowRight", "ArrowRight", 8)
	b.press("ArrowDown", "ArrowDown", 0)
	moved := region(0)[1]
	b.press("ArrowLeft", "ArrowLeft", 0)
	if got := region(0)[1]; got.X != moved.X-1 || got.Y != moved.Y {
		t.Errorf("a step to the left takes the corner from %v to %v", moved, got)
	}
	b.press("Delete", "Delete", 0)
	if got := region(0); len(got) != len(before.Columns[0].Region) {
		t.Errorf("after Delete there are %d corners", len(got))
	}
	b.click(`#list button:nth-child(2)`)
	b.dragBy(`[data-column="1"]`, 24, 10)
	b.run(nil, `(() => { const e = document.getElementById("name"); e.value = "it's low"; e.dispatchEvent(new Event("change")); })()`)
	b.click(`#addregion`)
	b.click(`#list button:nth-child(3)`)
	b.click(`#removeregion`)
	after, saved := savedRegions(t, b)
	var names []string
	for _, column := range after.Columns {
		names = append(names, column.Name)
	}
	if got := strings.Join(names, "|"); got != "kick|it's low|plucks|hats|column 6" {
		t.Errorf("the columns are %s in\n%s", got, saved)
	}
	for i, got := range after.Columns[1].Region {
		if was := before.Columns[1].Region[i]; math.Abs(got.X-was.X-24) > 2 || math.Abs(got.Y-was.Y-10) > 2 {
			t.Errorf("corner %v of the moved region is at %v", was, got)
		}
	}
	// A crossing is told, and is not saved.
	b.click(`#list button:nth-child(1)`)
	b.dragBy(`[data-corner="0"]`, 400, 100)
	var at struct {
		Fault    string
		Disabled bool
	}
	b.run(&at, `({fault: fault.textContent, disabled: download.disabled})`)
	if !strings.Contains(at.Fault, "cross") || !at.Disabled {
		t.Errorf("a region that crosses itself: %+v", at)
	}
	for range 20 {
		b.press("z", "KeyZ", 2)
	}
	if _, saved := savedRegions(t, b); saved != string(text) {
		t.Error("all undone, the file is not what it was")
	}
	var size struct{ Before, After int }
	b.run(&size, `({before: Number(level.value), after: (level.value = 2, level.dispatchEvent(new Event("input")), Number(level.value))})`)
	b.click(`#difference`)
	if size.Before != 6 || size.After != 2 {
		t.Errorf("the photo of level %d is shown, then of %d", size.Before, size.After)
	}
	b.quiet()
}

// TestOutsideRegionsPageIsAccessible by axe-core's rules.
func TestOutsideRegionsPageIsAccessible(t *testing.T) {
	if !outside(t) {
		return
	}
	script := axe(t)
	for _, width := range []int{1280, 360} {
		b, _ := openRegions(t, width, 800, 1)
		b.run(nil, script)
		b.click(`[data-corner="1"]`)
		var found []struct{ ID, Help string }
		b.run(&found, `axe.run(document, {runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}).then(r => r.violations)`)
		for _, f := range found {
			t.Errorf("%d wide: %s, %s", width, f.ID, f.Help)
		}
		var sideways bool
		b.run(&sideways, `document.documentElement.scrollWidth > innerWidth`)
		if sideways {
			t.Errorf("the page is wider than a window of %d pixels", width)
		}
	}
}

// TestRegionsPageIsWrittenWholeOrNotAtAll: what is wrong with the column file or its photos is told, and leaves no page.
func TestRegionsPageIsWrittenWholeOrNotAtAll(t *testing.T) {
	folder := t.TempDir()
	if err := makePiece(folder); err != nil {
		t.Fatal(err)
	}
	page, columns := filepath.Join(folder, "regions.html"), filepath.Join(folder, "columns.toml")
	var stdout, stderr bytes.Buffer
	if err := os.Rename(filepath.Join(folder, "photos"), filepath.Join(folder, "gone")); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{columns, filepath.Join(folder, "none.toml")} {
		var status statusError
		if err := writeRegions(page, path, streams{&stdout, &stderr}); !errors.As(err, &status) || status.status != statusInput {
			t.Errorf("%s: %v", path, err)
		}
		if _, err := os.Stat(page); err == nil {
			t.Errorf("%s leaves a page", path)
		}
	}
	if err := os.Rename(filepath.Join(folder, "gone"), filepath.Join(folder, "photos")); err != nil {
		t.Fatal(err)
	}
	if err := writeRegions(page, columns, streams{&stdout, &stderr}); err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(page)
	if err != nil || !bytes.Contains(text, []byte(`"name":"high"`)) {
		t.Errorf("the page does not hold the column: %v", err)
	}
}
