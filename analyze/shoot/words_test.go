package shoot

import "testing"

func TestNothingHasNoSign(t *testing.T) {
	for text, v := range map[string]float64{"0.000": -0.0004, "-0.001": -0.0006, "+0.012": 0.0123} {
		if got := Signed(v, 3); got != text {
			t.Errorf("%g is %s, wanted %s", v, got, text)
		}
	}
}
