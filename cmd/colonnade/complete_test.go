package main

import (
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/pflag"

	"colonnade/cmd/columnfile"
)

// takesWord tells whether a flag's check takes a value.
func takesWord(t *testing.T, file, flag, word string) bool {
	t.Helper()
	if columnfile.Words(flag) != nil {
		_, err := columnfile.Read(file, map[string]string{flag: word})
		return err == nil
	}
	f := renderFlags{output: "frames", repeats: "auto", progress: "auto", chroma: "420", jobs: 1}
	field := map[string]*string{"repeats": &f.repeats, "progress": &f.progress, "chroma": &f.chroma, "stream": &f.stream}[flag]
	if field == nil {
		t.Fatalf("no check of --%s is known here", flag)
	}
	*field = word
	return f.check() == nil
}

func TestWhatAShellOffersForAFlagIsWhatTheFlagTakes(t *testing.T) {
	folder := t.TempDir()
	if err := makePiece(folder); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(folder, "columns.toml")
	var seen []string
	for _, c := range completions() {
		for _, f := range c.flags {
			if f.value.words == nil || slices.Contains(seen, f.long) {
				continue
			}
			seen = append(seen, f.long)
			for _, word := range f.value.words {
				if !takesWord(t, file, f.long, word) {
					t.Errorf("--%s %s is offered, but refused", f.long, word)
				}
			}
			if takesWord(t, file, f.long, "granite") {
				t.Errorf("--%s granite is taken", f.long)
			}
		}
	}
	slices.Sort(seen)
	if want := []string{"chroma", "light", "motion", "progress", "repeats", "steady", "stream"}; !slices.Equal(seen, want) {
		t.Errorf("words are offered for %v, want %v", seen, want)
	}
}

// The scripts and the manual are searched for each flag of the commands' own flag sets, within the command's own part.
func TestEveryFlagIsInTheManualAndInEveryScript(t *testing.T) {
	between := func(text, from, to string) string {
		_, rest, found := strings.Cut(text, from)
		if !found {
			t.Fatalf("no %q", from)
		}
		part, _, _ := strings.Cut(rest, to)
		return part
	}
	bash, zsh, fish := bashCompletion(completions()), zshCompletion(completions()), fishCompletion(completions())
	page := strings.ReplaceAll(manual(), `\-`, "-")
	for _, c := range commands() {
		flags, _ := c.prepare(streams{})
		flags.VisitAll(func(f *pflag.Flag) {
			if part := between(page, "\n.SS "+c.name+"\n", "\n.S"); !strings.Contains(part, "--"+f.Name) {
				t.Errorf("manual: %s has no --%s", c.name, f.Name)
			}
			if part := between(bash, "      "+c.name+") words=", ";;"); !slices.Contains(strings.Fields(strings.Trim(part, "' ")), "--"+f.Name) {
				t.Errorf("bash: %s has no --%s", c.name, f.Name)
			}
			if part := between(zsh, "\n  "+c.name+")\n", ";;"); !strings.Contains(part, "--"+f.Name) {
				t.Errorf("zsh: %s has no --%s", c.name, f.Name)
			}
			found := false
			for line := range strings.Lines(fish) {
				found = found || strings.Contains(line, "'__colonnade_after "+c.name+"'") && strings.Contains(line, " -l "+f.Name+" ")
			}
			if !found {
				t.Errorf("fish: %s has no --%s", c.name, f.Name)
			}
		})
	}
}

// The escapes are those of groff_char(7) and man(7).
func TestTextStandsForItselfInTheManual(t *testing.T) {
	for text, want := range map[string]string{
		"a level":        "a level",
		"--base 0":       `\-\-base 0`,
		`C:\take`:        `C:\etake`,
		".toml by name":  `\&.toml by name`,
		"'single' quote": `\&'single' quote`,
		"~/frames":       `\(ti/frames`,
	} {
		if got := roff(text); got != want {
			t.Errorf("%q is %q, want %q", text, got, want)
		}
	}
	if got, want := roffArgument(`a "b"`), `"a \(dqb\(dq"`; got != want {
		t.Errorf("%s, want %s", got, want)
	}
}
