package plan

import (
	"math"
	"testing"
)

func TestBandsFollowOneAnotherAndHaveNamesOfTheirOwn(t *testing.T) {
	for columns := 1; columns <= 90; columns++ {
		bands := Bands(columns)
		if len(bands) != columns {
			t.Fatalf("%d bands for %d columns", len(bands), columns)
		}
		names := map[string]bool{}
		for i, band := range bands {
			if !(band.LowHz > 0 && band.LowHz < band.HighHz) {
				t.Errorf("%d columns: band %d runs from %g to %g", columns, i, band.LowHz, band.HighHz)
			}
			if i > 0 && band.LowHz != bands[i-1].HighHz {
				t.Errorf("%d columns: band %d begins at %g, the one below ends at %g", columns, i, band.LowHz, bands[i-1].HighHz)
			}
			// A song of 44100 samples a second ends at 22050 Hz, and most recordings hold little above 18 kHz.
			if band.HighHz > 18000 {
				t.Errorf("%d columns: band %d reaches to %g Hz", columns, i, band.HighHz)
			}
			if names[band.Name] {
				t.Errorf("%d columns: two bands are named %q", columns, band.Name)
			}
			names[band.Name] = true
		}
	}
	if Bands(0) != nil || Bands(-3) != nil {
		t.Error("bands for no columns")
	}
}

// Common practice, no source: the split that mix engineers use.
func TestSevenColumnsTakeTheBandsOfAMix(t *testing.T) {
	want := [][2]float64{{16, 60}, {60, 250}, {250, 500}, {500, 2000}, {2000, 4000}, {4000, 6000}, {6000, 16000}}
	for i, band := range Bands(7) {
		if band.LowHz != want[i][0] || band.HighHz != want[i][1] {
			t.Errorf("band %d is %g-%g, want %v", i, band.LowHz, band.HighHz, want[i])
		}
	}
}

func TestFewColumnsJoinTheBandsOfAMix(t *testing.T) {
	edges := map[float64]bool{}
	for _, band := range usual {
		edges[band.LowHz], edges[band.HighHz] = true, true
	}
	for columns := 1; columns < 7; columns++ {
		for _, band := range Bands(columns) {
			if !edges[band.LowHz] || !edges[band.HighHz] {
				t.Errorf("%d columns: %g-%g is not made of the usual bands", columns, band.LowHz, band.HighHz)
			}
		}
	}
}

// IEC 61260-1:2014, octave bands of base 10: the edges of the bands named 31.5 Hz to 8 kHz, calculated from the
// formula there to four decimals.
func TestTenColumnsTakeOctaveBands(t *testing.T) {
	want := []float64{22.3872, 44.6684, 89.1251, 177.8279, 354.8134, 707.9458, 1412.5375, 2818.3829, 5623.4133, 11220.1845}
	bands := Bands(10)
	for i, edge := range want {
		if got := bands[i].LowHz; math.Abs(got-edge) > edge*5e-5 {
			t.Errorf("band %d begins at %g, the octave band at %g", i, got, edge)
		}
	}
}

// IEC 61260-1:2014: third-octave edges are 1000·G^(x/3 ± 1/6), G = 10^(3/10). Base 2 would put them up to 1.4 %
// elsewhere at the ends.
func TestManyColumnsTakeWholeThirdOctaves(t *testing.T) {
	g := math.Pow(10, 0.3)
	for columns := 8; columns <= 29; columns++ {
		bands := Bands(columns)
		narrowest, widest := 100.0, 0.0
		for _, band := range bands {
			for _, edge := range []float64{band.LowHz, band.HighHz} {
				x := 3*math.Log(edge/1000)/math.Log(g) + 0.5
				if exact := 1000 * math.Pow(g, (math.Round(x)-0.5)/3); math.Abs(edge/exact-1) > 5e-5 {
					t.Errorf("%d columns: %g Hz is no edge of a third-octave band; %g is near", columns, edge, exact)
				}
			}
			thirds := 3 * math.Log(band.HighHz/band.LowHz) / math.Log(g)
			if thirds > narrowest+0.01 {
				t.Errorf("%d columns: %g-%g is wider than a lower band", columns, band.LowHz, band.HighHz)
			}
			narrowest, widest = min(narrowest, thirds), max(widest, thirds)
		}
		if math.Round(widest-narrowest) > 1 {
			t.Errorf("%d columns: bands from %.2f to %.2f thirds", columns, narrowest, widest)
		}
	}
}
