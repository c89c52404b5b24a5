package main

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"
)

// hostile holds what a stranger may put into a name, and how it is shown. Escapes are those of the Go specification, "Rune
// literals"; the control codes those of ECMA-48, the directions those of UAX #9.
var hostile = []struct{ what, text, shown string }{
	{"plain text", `photos: a  b.jpg is "odd"; look`, `photos: a  b.jpg is "odd"; look`},
	{"letters of any script", "höhe-石-😀", "höhe-石-😀"},
	{"line breaks", "first\n\tsecond\r\nthird\n", "first second third"},
	{"an escape sequence", "a\x1b[2Jb", `a\x1b[2Jb`},
	{"a control code of eight bits", "a\u009b2Jb", `a\u009b2Jb`},
	{"a bare byte", "a\x9b2Jb", `a\x9b2Jb`},
	{"a turned direction", "a\u202egpj.b", `a\u202egpj.b`},
	{"an isolated direction", "a\u2067b", `a\u2067b`},
	{"a line separator", "a\u2028b", `a\u2028b`},
	{"a replacement letter that is meant", "a\ufffdb", "a\ufffdb"},
	{"a null", "a\x00b", `a\x00b`},
}

func TestMessagesAreOneLineThatATerminalOnlyShows(t *testing.T) {
	for _, c := range hostile {
		if got := oneLine(c.text); got != c.shown {
			t.Errorf("%s: %q, want %q", c.what, got, c.shown)
		}
	}
}

func TestJSONHoldsNoLetterThatATerminalActsUpon(t *testing.T) {
	for _, c := range append(hostile, struct{ what, text, shown string }{"a tag beyond 16 bits", "a\U000e0041b", ""}) {
		text, err := encodeJSON(map[string]string{"name": c.text}, "  ")
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range string(text) {
			if r != '\n' && oneLine("."+string(r)+".") != "."+string(r)+"." {
				t.Errorf("%s: %q holds %U", c.what, text, r)
			}
		}
		var back, plain map[string]string
		direct, _ := json.Marshal(map[string]string{"name": c.text})
		if json.Unmarshal(text, &back) != nil || json.Unmarshal(direct, &plain) != nil || back["name"] != plain["name"] {
			t.Errorf("%s: %q read back, want %q", c.what, back["name"], plain["name"])
		}
	}
}

func TestNamesOnTheCommandLineAreNeverPrintedRaw(t *testing.T) {
	const name = "a\x1b[31m\u009bb\u202ec"
	for _, args := range [][]string{
		{name}, {"help", name}, {"render", "--" + name}, {"verify", name}, {"verify", "--join", name, name}, {"render", name},
		{"check", name}, {"mark", name}, {"plan", "--song", name}, {"plan", "--length", name}, {"complete", name},
	} {
		var stdout, stderr bytes.Buffer
		if status := run(args, streams{&stdout, &stderr}); status != statusInput {
			t.Errorf("%q: status %d, want %d", args, status, statusInput)
		}
		if text := strings.TrimSuffix(stderr.String(), "\n"); text != oneLine(text) || stdout.Len() > 0 {
			t.Errorf("%q: said %q", args, text)
		}
	}
}
