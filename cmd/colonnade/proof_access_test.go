package main

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// axe is the checker's script, from npm at the version of testdata/page.
func axe(t *testing.T) string {
	t.Helper()
	folder := t.TempDir()
	for _, name := range []string{"package.json", "package-lock.json"} {
		text, err := os.ReadFile(filepath.Join("../../testdata/page", name))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(folder, name), text, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := exec.LookPath("npm"); err != nil {
		t.Fatal("npm is not there; install the Debian package npm")
	}
	install := exec.Command("npm", "ci", "--ignore-scripts", "--no-audit", "--no-fund")
	install.Dir = folder
	if told, err := install.CombinedOutput(); err != nil {
		t.Fatalf("npm ci: %v\n%s", err, told)
	}
	script, err := os.ReadFile(filepath.Join(folder, "node_modules/axe-core/axe.min.js"))
	if err != nil {
		t.Fatal(err)
	}
	return string(script)
}

// TestOutsideProofPageIsAccessible by axe-core's rules for WCAG 2.2 A and AA and its best practices, as it opens, while it is tuned,
// wide and narrow; and every control is reached by the Tab key and shows that it has the focus.
func TestOutsideProofPageIsAccessible(t *testing.T) {
	if !outside(t) {
		return
	}
	script := axe(t)
	page := filepath.Join(t.TempDir(), "proof.html")
	succeed(t, "proof", "--width", "320", "-o", page, exampleFile)
	for _, width := range []int{1280, 360} {
		b := newBrowser(t, width, 800, 1)
		b.open(page)
		b.run(nil, script)
		for _, state := range []string{``, `document.querySelectorAll(".row.column button.name")[1].click()`, `document.querySelector(".keys").open = true`} {
			b.run(nil, state)
			if state != "" {
				b.setControl("[data-key=gain]", 3)
			}
			var found []struct {
				ID, Help string
				Nodes    []struct{ HTML, FailureSummary string }
			}
			b.run(&found, `axe.run(document, {runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}).then(r => r.violations)`)
			for _, f := range found {
				text, _ := json.Marshal(f.Nodes)
				t.Errorf("%d wide, after %q: %s, %s: %s", width, state, f.ID, f.Help, text[:min(len(text), 600)])
			}
		}
		var sideways bool
		b.run(&sideways, `document.documentElement.scrollWidth > innerWidth`)
		if sideways {
			t.Errorf("the page is wider than a window of %d pixels", width)
		}
		var controls int
		b.run(&controls, `(() => { document.activeElement.blur(); return [...document.querySelectorAll("button:enabled, input, summary, pre")].filter(e => e.checkVisibility()).length; })()`)
		reached := map[string]bool{}
		for range controls + 2 { // the page itself comes between the last and the first
			b.press("Tab", "Tab", 0)
			var at struct {
				Name string
				Seen bool
			}
			b.run(&at, `(() => { const e = document.activeElement; e.dataset.reached = "yes"; const s = getComputedStyle(e); return {name: e.outerHTML.slice(0, 90), seen: s.outlineStyle !== "none" && parseFloat(s.outlineWidth) >= 2}; })()`)
			if strings.HasPrefix(at.Name, "<body") {
				continue
			}
			reached[at.Name] = true
			if !at.Seen {
				t.Errorf("%d wide: %s does not show that it has the focus", width, at.Name)
			}
		}
		var missed []string
		b.run(&missed, `[...document.querySelectorAll("button:enabled, input, summary, pre")].filter(e => e.checkVisibility() && !e.dataset.reached).map(e => e.outerHTML.slice(0, 90))`)
		if len(missed) > 0 || len(reached) < 20 {
			t.Errorf("%d wide: the Tab key reaches %d controls, and not %v", width, len(reached), missed)
		}
	}
}
