package main

import (
	"bytes"
	"strings"
	"testing"
)

// The example is a set as it should be. Its first stones are the largest, which is no photo missing before them.
func TestTheExampleHasNothingWrongWithIt(t *testing.T) {
	t.Setenv("COLONNADE_CACHE", "off")
	for _, what := range []string{"../../examples/cairns/columns.toml", "../../examples/cairns/photos"} {
		var stdout, stderr bytes.Buffer
		if status := run([]string{"check", what}, streams{&stdout, &stderr}); status != statusDone {
			t.Errorf("%s: status %d", what, status)
		}
		if text := stdout.String(); !strings.HasSuffix(text, "no fault that would show\n") || strings.Contains(text, "notes:") || stderr.Len() > 0 {
			t.Errorf("%s: %s%s", what, text, stderr.String())
		}
	}
}
