package mark

import (
	"image"
	"strings"
	"testing"

	"colonnade/compose/picture"
	"colonnade/masks"
)

func twoColumns() *Found {
	p := picture.New(200, 100)
	for i := range p.Pix {
		p.Pix[i] = 80
	}
	return &Found{
		Columns: []Column{
			{Region: masks.Region{{X: 100, Y: 60}, {X: 200, Y: 60}, {X: 210.5, Y: 400}, {X: 90, Y: 400}}, Feather: 6, Top: 4},
			{Region: masks.Region{{X: 500, Y: 160}, {X: 600, Y: 160}, {X: 550, Y: 400}}, Feather: 2.5, Top: 3},
		},
		Feather: 6, Top: 4, Doubts: []string{"column 2: it ends at level 3 of 4"},
		Fullest: p, Reduction: 4, Size: image.Pt(800, 400),
	}
}

func TestFileSaysAllThatWasFound(t *testing.T) {
	var b strings.Builder
	if err := twoColumns().Write(&b, `shots "a"\b`); err != nil {
		t.Fatal(err)
	}
	want := `# 2 columns found in 5 photos of 800 x 400 pixels, numbered from the left.
# Regions are corners in pixels of the photo: x to the right, y down, (0, 0) at the top left.
# Put them right by hand where they do not fit; name your song, and change names and bands as you like.
#
# Look at these:
# - column 2: it ends at level 3 of 4

photos  = "shots \"a\"\\b"
# song  = "song.wav"    # the song, as seen from this file
feather = 6             # softness of the regions' edges, in pixels of the photo

[[column]]              # 1
name    = "lows"
band    = [16, 500]
region  = [[100, 60], [200, 60], [210.5, 400], [90, 400]]

[[column]]              # 2
name    = "highs"
band    = [500, 16000]
region  = [[500, 160], [600, 160], [550, 400]]
feather = 2.5           # its edge comes near an object
top     = 3             # it does not grow beyond
`
	if b.String() != want {
		t.Errorf("the file reads\n%s\nwant\n%s", b.String(), want)
	}
}

func TestAFrameForVideoHasThePhotosShape(t *testing.T) {
	for photo, want := range map[image.Point]image.Point{ // 1080 lines as in ITU-R BT.709; the shapes are cameras'
		{X: 4000, Y: 3000}: {X: 1440, Y: 1080},
		{X: 6000, Y: 4000}: {X: 1620, Y: 1080},
		{X: 3840, Y: 2160}: {X: 1920, Y: 1080},
		{X: 3024, Y: 4032}: {X: 1080, Y: 1440},
		{X: 5616, Y: 3744}: {X: 1620, Y: 1080},
		{X: 4999, Y: 3000}: {X: 1800, Y: 1080},
		{X: 1600, Y: 900}:  {X: 1600, Y: 900},
	} {
		if got := smaller(photo); got != want {
			t.Errorf("a photo of %v: a frame of %v, want %v", photo, got, want)
		}
	}
	found := twoColumns()
	found.Size = image.Pt(4000, 3000)
	var b strings.Builder
	if err := found.Write(&b, "photos"); err != nil {
		t.Fatal(err)
	}
	if want := `# size  = "1440x1080"   # the frame; without it, all pixels of the photos` + "\n"; !strings.Contains(b.String(), want) {
		t.Errorf("the file reads\n%s\nwant in it\n%s", b.String(), want)
	}
}

func TestTextIsQuotedAsTOML(t *testing.T) {
	for text, want := range map[string]string{
		"photos":     `"photos"`,
		`a"b\c`:      `"a\"b\\c"`,
		"a\tb\x7f":   `"a\u0009b\u007F"`,
		"Höhe/ſtein": `"Höhe/ſtein"`,
	} {
		if got := quoted(text); got != want {
			t.Errorf("%q is quoted as %s, want %s", text, got, want)
		}
	}
}

func TestPictureHasRulersNumbersAndRegions(t *testing.T) {
	found := twoColumns()
	img, err := found.Picture()
	if err != nil {
		t.Fatal(err)
	}
	// 200 pixels are blown up four times to 800, so that a pixel of the picture is one of the photo.
	if want := image.Pt(800+2*rulerAcross, 400+2*rulerAcross); img.Bounds().Size() != want {
		t.Fatalf("the picture is %v, want %v", img.Bounds().Size(), want)
	}
	at := func(x, y int) [3]uint32 {
		r, g, b, _ := img.At(rulerAcross+x, rulerAcross+y).RGBA()
		return [3]uint32{r >> 8, g >> 8, b >> 8}
	}
	if edge, want := at(150, 60), (colours[0]); edge != [3]uint32{uint32(want.R), uint32(want.G), uint32(want.B)} {
		t.Errorf("the first region's upper edge shows %v, want %v", edge, want)
	}
	if inside := at(150, 250); inside[0] != inside[1] || inside[1] != inside[2] {
		t.Errorf("the middle of the first region shows %v, the photo is grey there", inside)
	}
	if tick := at(100, -6); tick[0] > 180 {
		t.Errorf("no mark of the ruler at 100: %v", tick)
	}
	if between := at(107, -6); between[0] < 240 {
		t.Errorf("a mark of the ruler at 107: %v", between)
	}
}

func TestRulersCountInRoundNumbers(t *testing.T) {
	for _, c := range []struct {
		scale float64
		want  int
	}{{1, 100}, {0.25, 500}, {0.5, 200}, {12, 10}, {40, 5}, {100, 1}} {
		if got := step(c.scale, 90); got != c.want {
			t.Errorf("at %g picture pixels a photo pixel the ruler counts by %d, want %d", c.scale, got, c.want)
		}
	}
}
