package main

import (
	"bytes"
	"strings"
	"testing"
)

func TestNothingHasNoMinus(t *testing.T) {
	for text, v := range map[string]float64{"+0.000": -0.0004, "-0.001": -0.0006, "+0.012": 0.0123} {
		if got := signed(v, 3); got != text {
			t.Errorf("%g is %s, wanted %s", v, got, text)
		}
	}
}

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
