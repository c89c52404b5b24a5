package flash

import (
	"math/rand/v2"
	"slices"
	"testing"
)

// reach keeps the outermost of many hues; a plain list of all is its slow twin.
func TestFarthestHueIsFoundAmongTheOutermost(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 6))
	far, near := 0, 0
	for range 60 {
		var kept reach
		var all []hue
		kept.clear()
		width, height := 1+random.Int32N(hueUnit/5), 1+random.Int32N(hueUnit/5)
		for range random.IntN(400) + 1 {
			h := hue{u: hueUnit/4 + random.Int32N(width), v: hueUnit/3 + random.Int32N(height)}
			if random.IntN(8) == 0 && len(all) > 0 {
				h = all[random.IntN(len(all))]
			}
			kept.add(h)
			all = append(all, h)
			probe := hue{u: random.Int32N(hueUnit * 3 / 5), v: random.Int32N(hueUnit * 3 / 5)}
			want := slices.ContainsFunc(all, func(other hue) bool { return isFar(other, probe) })
			if got := kept.isFarFrom(probe); got != want {
				t.Fatalf("%d hues, of which %d are kept: far from %v is %v, want %v", len(all), len(kept.points), probe, got, want)
			}
			if want {
				far++
			} else {
				near++
			}
		}
		if len(kept.points) > 100 {
			t.Fatalf("of %d hues %d are kept", len(all), len(kept.points))
		}
	}
	if far < 1000 || near < 1000 {
		t.Errorf("%d far, %d near: too few to compare", far, near)
	}
}
