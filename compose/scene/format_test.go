package scene

import (
	"crypto/sha256"
	"encoding/hex"
	"image"
	"testing"

	"colonnade/analyze/levels"
	"colonnade/compose/light"
	"colonnade/compose/photos"
	"colonnade/compose/picture"
	"colonnade/compose/profile"
	"colonnade/compose/strip"
	"colonnade/masks"
)

// grainy is a photo of a smooth wall with so many bits of grain, in whole numbers alone. Each step rows are one but for that.
func grainy(width, height int, seed uint32, grain, step int) *picture.Picture {
	p := picture.New(width, height)
	state := seed
	for y := range height {
		row := p.Row(y)
		for x := range row {
			state = state*1664525 + 1013904223 // common practice, no source
			row[x] = uint8(40 + int(seed)*30 + x/4 + y/step*step/2 + int(state>>1>>(31-grain)))
		}
	}
	return p
}

// plain is a drawing: a square on a wall of one colour, at another height in each.
func plain(width, height, nth int) *picture.Picture {
	p := picture.New(width, height)
	for y := range height {
		for x := range width {
			colour := []uint8{200, 190, 180}
			if x/8%5 == 2 && y/8 == 6-2*nth {
				colour = []uint8{90, 60, 30}
			}
			copy(p.Row(y)[3*x:], colour)
		}
	}
	return p
}

// slope is a drawing with a soft slope of colour, and a square at another height in each.
func slope(width, height, nth int) *picture.Picture {
	p := plain(width, height, nth)
	for y := range height {
		for x := range width {
			if pixel := p.Row(y)[3*x:]; pixel[0] == 200 {
				down, across := 60000+40000*y/height, 50000*x/width
				copy(pixel, []uint8{uint8((down + across) / 1000), uint8((down + across*4/5) / 1000), uint8((down + across*3/5) / 1000)})
			}
		}
	}
	return p
}

// A resumed render trusts a frame's key. So bytes of frames must not change while their keys stay, or a folder would mix two
// kinds. The digests are what the program made when the test was written; no outside source.
func TestFramesHaveTheBytesOfTheirFormatVersion(t *testing.T) {
	const width, height = 200, 64
	drawn := []*picture.Picture{plain(width, height, 0), plain(width, height, 1), plain(width, height, 2)}
	sloped := []*picture.Picture{slope(width, height, 0), slope(width, height, 1), slope(width, height, 2)}
	sets := [][]*picture.Picture{drawn, sloped}
	for _, like := range []struct{ grain, step int }{{2, 1}, {6, 1}, {2, 8}} {
		var set []*picture.Picture
		for seed := range uint32(3) {
			set = append(set, grainy(width, height, seed+1, like.grain, like.step))
		}
		sets = append(sets, set)
	}
	// Black and white, and tinted: what is left of the tinted ones is grey but for two pixels in nine.
	var grey, tinted []*picture.Picture
	for k := range sets[2] {
		p, q := picture.New(width, height), picture.New(width, height)
		for i := range p.Pix {
			p.Pix[i] = sets[3][k].Pix[i-i%3]
			q.Pix[i] = sets[2][k].Pix[i-i%3]/2 + uint8(40*(i%3))
			if x, y := i/3%width, i/3/width; (x+y)%9 == 0 {
				q.Pix[i] += uint8(i % 3)
			}
		}
		grey, tinted = append(grey, p), append(tinted, q)
	}
	sets = append(sets, grey, tinted)
	frame := image.Rect(0, 0, width, height)
	var all []byte
	for _, set := range sets {
		coder, err := strip.New(strip.Source{
			Width: width, Height: height,
			Base:   func() (picture.Reader, error) { return set[0], nil },
			Photo:  func(level int) (picture.Reader, error) { return set[level], nil },
			Photos: len(set),
			Masks: []*masks.Mask{
				masks.Feathered(box(10.25, 5, 30, 50.5), 2.5, frame, frame),
				masks.Feathered(box(38, 12.75, 28, 40), 1, frame, frame),
				masks.Feathered(box(160.5, 8, 30, 50), 2, frame, frame), // static bytes lead to it
			},
			Curve: light.SRGB(),
		}, strip.Options{})
		if err != nil {
			t.Fatal(err)
		}
		for _, tuple := range [][]levels.Level{{0, 0, 0}, {1000, 2000, 1000}, {2000, 1000, 2000}, {1125, 500, 2000}} {
			if all, err = coder.Append(all, nil, tuple); err != nil {
				t.Fatal(err)
			}
		}
	}
	resized := picture.Whole(photos.View{X: 3, Y: 2, Width: 90, Height: 60, Size: image.Pt(30, 20)}.Apply(sets[2][1], light.SRGB()))
	all = append(all, resized.Pix...)
	digest := sha256.Sum256(all)
	got := hex.EncodeToString(digest[:])
	want := map[string]string{
		"colonnade frame 17": "e7959c18c3f4dfce02030119352903f1c4e7ad70e3ff9b46e8b65c2dea56d93e",
	}[formatVersion]
	if got != want {
		t.Errorf("frames of %q are now %s, they were %q; where that is meant, raise formatVersion and write the new digest beside it", formatVersion, got, want)
	}
}

func TestKeyHoldsEachNumberInItsPlace(t *testing.T) {
	set := photoSet(t)
	columns := []Column{{box(3, 3, 10, 20), 1}}
	key := func(view photos.View, columns []Column, tuple ...levels.Level) string {
		s, err := New(set, view, columns, set.Photos[0], false)
		if err != nil {
			t.Fatal(err)
		}
		return s.Key(tuple)
	}
	whole := photos.View{Width: 20, Height: 15, Size: image.Pt(20, 15)}
	right, below := whole, whole
	right.X, below.Y = 5, 5
	corner := func(x, y float64) masks.Point { return masks.Point{X: x, Y: y} }
	region := masks.Region{corner(3, 3), corner(13, 3), corner(13, 23), corner(3, 23)}
	// The same numbers in the same order, shared out between two columns in two ways.
	early := []Column{{region[:3], 3}, {masks.Region{corner(23, 5), corner(9, 9), corner(7, 2), corner(4, 4)}, 6}}
	late := []Column{{append(region[:3:3], corner(3, 23)), 5}, {masks.Region{corner(9, 9), corner(7, 2), corner(4, 4)}, 6}}
	for what, pair := range map[string][2]string{
		"a crop further right":      {key(whole, columns, 0), key(right, columns, 0)},
		"a crop further down":       {key(whole, columns, 0), key(below, columns, 0)},
		"an eighth of a level":      {key(whole, columns, 1000), key(whole, columns, 1125)},
		"corners of another column": {key(whole, early, 0, 0), key(whole, late, 0, 0)},
	} {
		if pair[0] == pair[1] {
			t.Errorf("%s leaves the key as it was", what)
		}
	}
}

func TestKeyChangesWithTheCurveThatIsUnderstood(t *testing.T) {
	s := newScene(t, photoSet(t), image.Point{}, []Column{{box(3, 3, 10, 20), 1}}, 0, false)
	digests := make(map[[sha256.Size]byte]bool)
	for _, curve := range []*light.Curve{light.SRGB(), light.Encoded()} {
		s.profile = &profile.Profile{Curve: curve, OwnCurve: true}
		digests[s.sum()] = true
	}
	s.profile = &profile.Profile{Curve: light.SRGB()}
	digests[s.sum()] = true
	if len(digests) != 3 {
		t.Errorf("three curves make %d digests", len(digests))
	}
}
