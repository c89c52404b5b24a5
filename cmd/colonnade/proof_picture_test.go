package main

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"image"
	"math/rand/v2"
	"sort"
	"testing"

	"colonnade/analyze/levels"
	"colonnade/compose/light"
	"colonnade/compose/picture"
	"colonnade/masks"
)

// TestOutsideProofPageComposesAsTheProgram: random photos under random masks that overlap, in linear light and not, at whole levels
// and between them, give package picture's pixels, every one.
func TestOutsideProofPageComposesAsTheProgram(t *testing.T) {
	if !outside(t) {
		return
	}
	b := newBrowser(t, 400, 300, 1)
	random := rand.New(rand.NewPCG(21, 22))
	const width, height, photos, columns = 30, 20, 4, 3
	noise := func() *picture.Picture {
		p := picture.New(width, height)
		for i := range p.Pix {
			p.Pix[i] = uint8(random.IntN(256))
		}
		return p
	}
	opaque := func(p *picture.Picture) []int {
		var out []int
		for i, v := range p.Pix {
			if out = append(out, int(v)); i%3 == 2 {
				out = append(out, 255)
			}
		}
		return out
	}
	type rect struct {
		X      int      `json:"x"`
		Y      int      `json:"y"`
		Width  int      `json:"width"`
		Height int      `json:"height"`
		Alpha  []uint16 `json:"alpha"`
	}
	for round := range 12 {
		s := &picture.Scene{Base: noise(), Curve: light.SRGB()}
		if round%3 == 0 {
			s.Curve = light.Encoded()
		}
		pixels := [][]int{}
		for range photos {
			s.Photos = append(s.Photos, noise())
			pixels = append(pixels, opaque(s.Photos[len(s.Photos)-1]))
		}
		var rects []rect
		for range columns {
			x, y := random.IntN(15), random.IntN(10)
			m := &masks.Mask{Rect: image.Rect(x, y, x+5+random.IntN(10), y+5+random.IntN(5))}
			for range m.Rect.Dx() * m.Rect.Dy() {
				m.Alpha = append(m.Alpha, []uint16{0, 1, masks.Full, 32768, uint16(random.IntN(1 << 16))}[random.IntN(5)])
			}
			s.Masks = append(s.Masks, m)
			rects = append(rects, rect{x, y, m.Rect.Dx(), m.Rect.Dy(), m.Alpha})
		}
		var least []int
		for code := range 256 {
			least = append(least, sort.Search(light.One, func(l int) bool { return int(s.Curve.Code(uint32(l))) >= code }))
		}
		var tuples [][]levels.Level
		for range 8 {
			var tuple []levels.Level
			for range columns {
				level := levels.Level(random.IntN(photos)) * levels.One
				if round%2 == 0 && level < (photos-1)*levels.One {
					level += levels.Level(random.IntN(1000))
				}
				tuple = append(tuple, level)
			}
			tuples = append(tuples, tuple)
		}
		var got []string
		b.run(&got, within(fmt.Sprintf(`(() => {
			const canvas = document.createElement("canvas");
			canvas.width = %d; canvas.height = %d;
			const picture = makePicture(canvas, %s, %s, %s, makeCurve(%s, %s));
			return %s.map(tuple => {
				picture.show(tuple);
				return btoa(String.fromCharCode(...canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height).data));
			});
		})()`, width, height, jsonOf(t, pixels), jsonOf(t, opaque(s.Base)), jsonOf(t, rects), jsonOf(t, s.Curve.Linear), jsonOf(t, least), jsonOf(t, tuples)),
			"response.js", "picture.js"))
		want := picture.New(width, height)
		for i, tuple := range tuples {
			s.Compose(want, tuple)
			shown, err := base64.StdEncoding.DecodeString(got[i])
			if err != nil || len(shown) != 4*width*height {
				t.Fatal(err, len(shown))
			}
			for at := range width * height {
				if !bytes.Equal(shown[4*at:4*at+3], want.Pix[3*at:3*at+3]) {
					t.Fatalf("round %d, levels %v: pixel (%d, %d) is %v, not %v", round, tuple, at%width, at/width, shown[4*at:4*at+3], want.Pix[3*at:3*at+3])
				}
			}
		}
	}
}
