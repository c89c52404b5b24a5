package mark

import (
	"math"
	"math/rand/v2"
	"testing"

	"colonnade/compose/light"
	"colonnade/compose/picture"
)

// The gain is known: the same picture in other light, with other things over more than half of it.
func TestGainIsFoundUnderChanges(t *testing.T) {
	const width, height = 120, 90
	for _, want := range []gain{{1, 0, 0}, {0.8, 0, 0}, {1.2, 0.05, -0.1}, {0.95, -0.1, 0.02}} {
		random := rand.New(rand.NewPCG(4, 4))
		stage, photo := make([]uint16, width*height), make([]uint16, width*height)
		for i := range stage {
			stage[i] = uint16(6000 + random.IntN(40000))
			x, y := (float64(i%width)+0.5)/width-0.5, (float64(i/width)+0.5)/height-0.5
			v := float64(stage[i])*(want.mid+want.across*x+want.down*y) + 200*random.NormFloat64()
			if i%width > width*45/100 {
				v = 3000 + 30000*random.Float64() // 55 % of the picture
			}
			photo[i] = uint16(v)
		}
		got := fitGain(stage, photo, width, height)
		// In the part that agrees, the left, the gain must be right to half a percent, what an eye can just not see.
		for _, x := range []float64{-0.5, -0.3, -0.06} {
			for _, y := range []float64{-0.5, 0, 0.5} {
				a, b := got.mid+got.across*x+got.down*y, want.mid+want.across*x+want.down*y
				if math.Abs(a-b) > 0.005 {
					t.Errorf("%+v is found as %+v: at (%g, %g) %.4f, want %.4f", want, got, x, y, a, b)
				}
			}
		}
	}
}

// Of a normal distribution 30 % lie within 0.3853 standard deviations (tables of the normal distribution).
func TestSpreadIsTheNoiseWhateverElseChanges(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 5))
	for _, sigma := range []float64{50, 300, 1500} {
		offsets, known := make([]int32, 50000), make([]bool, 50000)
		for i := range offsets {
			known[i] = true
			offsets[i] = int32(sigma * random.NormFloat64())
			if i%5 == 0 {
				offsets[i] = 20000
			}
			if i%7 == 0 {
				offsets[i], known[i] = 0, false
			}
		}
		// A fifth of large values makes the quantile 37.5 % of the rest, which lies at 0.4888: 27 % more, and
		// counting in fours adds a little to the least.
		if got := float64(spread(offsets, known)) / sigma; got < 1.2 || got > 1.38 {
			t.Errorf("noise of %g reads %g times as much", sigma, got)
		}
	}
	if got := spread(make([]int32, 100), make([]bool, 100)); got != 0 {
		t.Errorf("nothing known has a spread of %d", got)
	}
}

func grades(levels ...string) []*change {
	out := []*change{nil}
	for _, row := range levels {
		c := &change{}
		for _, r := range row {
			c.grades = append(c.grades, map[rune]grade{'.': still, '~': soft, 'o': weak, 'd': shade, '#': strong}[r])
		}
		out = append(out, c)
	}
	return out
}

func TestFirstLevelIsFromWhereOnAPixelStaysChanged(t *testing.T) {
	first := firstLevels(grades(
		"#..#.",
		"###..",
		"##.#.",
		"##.##",
	), strong)
	for i, want := range []uint16{1, 2, 0, 1, 4} {
		if first[i] != want {
			t.Errorf("pixel %d: level %d, want %d", i, first[i], want)
		}
	}
}

func TestShadowsThatHalfOfThePhotosSeeAreNotSure(t *testing.T) {
	g := grownFrom(4, 1, grades(
		"#d#.",
		"#ddo",
		"###o",
	))
	for i, want := range []uint16{1, 0, 1, 0} {
		if g.sure[i] != want {
			t.Errorf("pixel %d is sure from level %d, want %d", i, g.sure[i], want)
		}
	}
	for i, want := range []uint16{1, 1, 1, 2} {
		if g.any[i] != want {
			t.Errorf("pixel %d changes from level %d, want %d", i, g.any[i], want)
		}
	}
}

// flat is a grey picture of light v, with a square of light w in the middle whose edge is soft over so many pixels, and
// a sharp white object over the square's right half if asked for.
func flat(v, w float64, softness float64, object bool) *plane {
	const size = 120
	p := picture.New(size, size)
	curve := light.SRGB()
	for i := range size * size {
		x, y := i%size, i/size
		away := math.Max(math.Abs(float64(x)-59.5), math.Abs(float64(y)-59.5))
		inside := math.Max(0, math.Min(1, (15-away)/math.Max(softness, 1)+0.5))
		code := curve.Code(uint32((v + inside*(w-v)) * light.One))
		if object && x >= 60 && x < 90 && y > 40 && y < 80 {
			code = 230
		}
		p.Pix[3*i], p.Pix[3*i+1], p.Pix[3*i+2] = code, code, code
	}
	return reduce(p, 1, curve)
}

func TestSoftShadowsAndObjectsAreToldApart(t *testing.T) {
	stage := newStage(flat(0.4, 0.4, 0, false))
	const place = 60*120 + 54
	for _, c := range []struct {
		name     string
		light    float64
		softness float64
		object   bool
		want     grade
	}{
		{"a soft shadow at an object", 0.25, 20, true, shade},
		{"a soft shadow of nothing", 0.25, 20, false, strong},
		{"a dark object with an edge", 0.25, 0, true, strong},
		{"a bright patch, however soft", 0.6, 20, true, strong},
		{"a faint dimming", 0.39, 20, true, soft},
		{"nothing", 0.4, 0, true, still},
	} {
		if got := stage.compare(flat(0.4, c.light, c.softness, c.object)).grades[place]; got != c.want {
			t.Errorf("%s is graded %d, want %d", c.name, got, c.want)
		}
	}
}

func TestReducingAveragesLight(t *testing.T) {
	p := picture.New(5, 3)
	for i := range 15 {
		if (i%5+i/5)%2 == 0 {
			copy(p.Pix[3*i:], []byte{255, 255, 255})
		}
	}
	small := reduce(p, 2, light.SRGB())
	if small.width != 3 || small.height != 2 {
		t.Fatalf("%d x %d", small.width, small.height)
	}
	// Two white of four; at the right edge one of two; in the lower right corner the one there is.
	for i, want := range []int{fullLight / 2, fullLight / 2, fullLight / 2, fullLight / 2, fullLight / 2, fullLight} {
		if got := int(small.channel[1][i]); got < want-1 || got > want+1 {
			t.Errorf("pixel %d has light %d, want %d", i, got, want)
		}
	}
}
