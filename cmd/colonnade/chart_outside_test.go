package main

import (
	"os"
	"path/filepath"
	"testing"
)

// TestOutsideChartInChromium opens the chart of the example in a browser: it has the size it names, its words are read
// as its name and description, and no text runs out of the drawing or over another one.
func TestOutsideChartInChromium(t *testing.T) {
	if !outside(t) {
		return
	}
	folder := t.TempDir()
	drawing, page := filepath.Join(folder, "chart.svg"), filepath.Join(folder, "page.html")
	succeed(t, "listen", "--chart", drawing, exampleFile)
	svg, err := os.ReadFile(drawing)
	if err != nil {
		t.Fatal(err)
	}
	// Within a page, as makers show it.
	if err := os.WriteFile(page, append([]byte("<!doctype html><title>chart</title><body style=\"margin:0\"><main id=\"page\" data-ready=\"true\"></main>"), svg...), 0o644); err != nil {
		t.Fatal(err)
	}
	b := newBrowser(t, 1500, 900, 1)
	b.open(page)
	var seen struct {
		Width, Height   float64
		Words           string
		Outside, Across []string
	}
	b.run(&seen, `(() => {
		const svg = document.querySelector("svg"), all = svg.getBoundingClientRect();
		const texts = [...svg.querySelectorAll("text")].map(t => ({words: t.textContent, box: t.getBoundingClientRect()}));
		const outside = texts.filter(t => t.box.left < all.left || t.box.right > all.right || t.box.top < all.top || t.box.bottom > all.bottom).map(t => t.words);
		const across = [];
		texts.forEach((a, i) => texts.slice(i + 1).forEach(b => {
			const wide = Math.min(a.box.right, b.box.right) - Math.max(a.box.left, b.box.left);
			const tall = Math.min(a.box.bottom, b.box.bottom) - Math.max(a.box.top, b.box.top);
			if (wide > 2 && tall > 4) across.push(a.words + " / " + b.words);
		}));
		return {Width: all.width, Height: all.height, Words: svg.querySelector("desc").textContent, Outside: outside, Across: across};
	})()`)
	if seen.Width != 1438 || seen.Height < 600 {
		t.Errorf("the drawing is %g x %g", seen.Width, seen.Height)
	}
	if len(seen.Words) < 200 || len(seen.Outside) > 0 || len(seen.Across) > 0 {
		t.Errorf("words %q; outside %q; over each other %q", seen.Words, seen.Outside, seen.Across)
	}
	b.quiet()
}
