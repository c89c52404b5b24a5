package picture

import (
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"colonnade/analyze/levels"
	"colonnade/compose/light"
	"colonnade/masks"
)

func flat(width, height int, r, g, b uint8) *Picture {
	p := New(width, height)
	for i := 0; i < len(p.Pix); i += 3 {
		p.Pix[i], p.Pix[i+1], p.Pix[i+2] = r, g, b
	}
	return p
}

func uniform(width, height int, value uint16) *masks.Mask {
	m := &masks.Mask{Rect: image.Rect(0, 0, width, height), Alpha: make([]uint16, width*height)}
	for i := range m.Alpha {
		m.Alpha[i] = value
	}
	return m
}

// T. Porter, T. Duff, Compositing Digital Images (1984), "over" with an opaque picture below:
// out = share x above + (1 - share) x below. The worked values are computed from that formula.
func TestOverByHand(t *testing.T) {
	for _, c := range []struct {
		name         string
		curve        *light.Curve
		below, above uint8
		share        float64
		want         uint8
	}{
		{"200 over 50, 128/255, by codes", light.Encoded(), 50, 200, 128.0 / 255, 125},
		{"200 over 50, half, in light", light.SRGB(), 50, 200, 0.5, 150},
		{"white over black, half, in light", light.SRGB(), 0, 255, 0.5, 188},
		{"nothing", light.SRGB(), 77, 200, 0, 77},
		{"all", light.SRGB(), 77, 200, 1, 200},
		{"the same over itself", light.SRGB(), 93, 93, 0.37, 93},
	} {
		scene := Scene{flat(1, 1, c.below, c.below, c.below), []*Picture{flat(1, 1, c.above, c.above, c.above)},
			[]*masks.Mask{uniform(1, 1, uint16(math.Round(c.share*masks.Full)))}, c.curve}
		dst := New(1, 1)
		scene.Compose(dst, []levels.Level{0})
		if dst.Pix[0] != c.want {
			t.Errorf("%s: %d, want %d", c.name, dst.Pix[0], c.want)
		}
	}
}

// Two columns over each other, by codes: .4 of 30 over .5 of 200 over 100 is .4*30 + .6*(.5*200 + .5*100) = 102.
func TestColumnsAreLaidInOrder(t *testing.T) {
	scene := Scene{flat(2, 1, 100, 100, 100), []*Picture{flat(2, 1, 200, 200, 200), flat(2, 1, 30, 30, 30)},
		[]*masks.Mask{uniform(2, 1, 32768), uniform(2, 1, 26214)}, light.Encoded()}
	dst := New(2, 1)
	scene.Compose(dst, []levels.Level{0, 1000})
	if dst.Pix[0] != 102 {
		t.Errorf("got %d, want 102", dst.Pix[0])
	}
	scene.Compose(dst, []levels.Level{1000, 0}) // .4*200 + .6*(.5*30 + .5*100) = 119
	if dst.Pix[0] != 119 {
		t.Errorf("got %d, want 119", dst.Pix[0])
	}
}

func TestBetweenTwoLevelsIsTheirMixInLight(t *testing.T) {
	scene := Scene{flat(1, 1, 9, 9, 9), []*Picture{flat(1, 1, 0, 0, 0), flat(1, 1, 255, 255, 255)}, []*masks.Mask{uniform(1, 1, masks.Full)}, light.SRGB()}
	dst := New(1, 1)
	// IEC 61966-2-1: 0.25 of the light of white is code 136.96, 0.5 is 187.52, 0.75 is 224.61.
	for level, want := range map[levels.Level]uint8{0: 0, 250: 137, 500: 188, 750: 225, 1000: 255} {
		if scene.Compose(dst, []levels.Level{level}); dst.Pix[0] != want {
			t.Errorf("level %d: %d, want %d", level, dst.Pix[0], want)
		}
	}
}

// The whole-number way against the formula in floating point, on noise and random masks: nearest code, except
// where the exact value lies so near the middle of two codes that both are right.
func TestComposeEqualsTheFormula(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	const width, height, columns = 31, 17, 4
	noise := func() *Picture {
		p := New(width, height)
		for i := range p.Pix {
			p.Pix[i] = uint8(random.IntN(256))
		}
		return p
	}
	scene := Scene{Base: noise(), Photos: []*Picture{noise(), noise(), noise()}, Curve: light.SRGB()}
	for range columns {
		x, y := random.IntN(width), random.IntN(height)
		m := &masks.Mask{Rect: image.Rect(x, y, x+1+random.IntN(width-x), y+1+random.IntN(height-y))}
		for range m.Rect.Dx() * m.Rect.Dy() {
			m.Alpha = append(m.Alpha, uint16(random.IntN(masks.Full+1)))
		}
		scene.Masks = append(scene.Masks, m)
	}
	decode := func(v uint8) float64 {
		if c := float64(v) / 255; c > 0.04045 {
			return math.Pow((c+0.055)/1.055, 2.4)
		} else {
			return c / 12.92
		}
	}
	encode := func(l float64) float64 {
		if l <= 0.0031308 {
			return 12.92 * l * 255
		}
		return (1.055*math.Pow(l, 1/2.4) - 0.055) * 255
	}
	tuple := []levels.Level{0, 2000, 1375, 625}
	dst := New(width, height)
	scene.Compose(dst, tuple)
	for i := range dst.Pix {
		x, y := i/3%width, i/3/width
		out := decode(scene.Base.Pix[i])
		for c, m := range scene.Masks {
			low, part := tuple[c]/1000, float64(tuple[c]%1000)/1000
			photo := decode(scene.Photos[low].Pix[i])
			if part > 0 {
				photo += part * (decode(scene.Photos[low+1].Pix[i]) - photo)
			}
			out += float64(m.At(x, y)) / masks.Full * (photo - out)
		}
		if exact := encode(out); math.Abs(float64(dst.Pix[i])-exact) > 0.51 {
			t.Fatalf("value %d is %d, the formula says %.3f", i, dst.Pix[i], exact)
		}
	}
}

func TestOutsideTheMasksTheBasePlateIsUntouched(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 6))
	base := New(40, 30)
	for i := range base.Pix {
		base.Pix[i] = uint8(random.IntN(256))
	}
	m := masks.Feathered(masks.Region{{X: 10, Y: 10}, {X: 20, Y: 10}, {X: 20, Y: 20}, {X: 10, Y: 20}}, 1, image.Rect(0, 0, 40, 30), image.Rect(0, 0, 40, 30))
	scene := Scene{base, []*Picture{flat(40, 30, 1, 2, 3)}, []*masks.Mask{m}, light.SRGB()}
	dst := New(40, 30)
	scene.Compose(dst, []levels.Level{0})
	for y := range 30 {
		for x := range 40 {
			at := 3 * (40*y + x)
			switch got := [3]uint8(dst.Pix[at : at+3]); m.At(x, y) {
			case 0:
				if got != [3]uint8(base.Pix[at:at+3]) {
					t.Fatalf("(%d, %d) outside the mask is %v", x, y, got)
				}
			case masks.Full:
				if got != [3]uint8{1, 2, 3} {
					t.Fatalf("(%d, %d) wholly inside the mask is %v", x, y, got)
				}
			}
		}
	}
}
