package plan

import (
	"image"
	"math"
	"strings"
	"testing"

	"colonnade/analyze/timing"
)

func usualShoot() *Shoot {
	return &Shoot{Objects: []int{5, 5, 5, 5, 5, 5}, Frames: 5250, Seconds: 210, Song: "song.wav", Rate: timing.Rate{Num: 25, Den: 1}, Size: image.Pt(1920, 1080)}
}

func TestPhotosAreOneMoreThanTheTallestStackHasObjects(t *testing.T) {
	for _, c := range []struct {
		objects               []int
		photos, total, growAt int // growAt: columns that grow at the top level
	}{
		{[]int{5, 5, 5, 5, 5, 5}, 6, 30, 6},
		{[]int{1}, 2, 1, 1},
		{[]int{5, 4, 6, 1}, 7, 16, 1},
	} {
		s := &Shoot{Objects: c.objects}
		if s.Photos() != c.photos || s.Total() != c.total || len(s.growing(s.Top())) != c.growAt {
			t.Errorf("%v: %d photos, %d objects, %d grow at the top; want %d, %d, %d", c.objects, s.Photos(), s.Total(), len(s.growing(s.Top())), c.photos, c.total, c.growAt)
		}
	}
}

func TestShotsAreTheEmptyStageThenOneRowAPhoto(t *testing.T) {
	shots := (&Shoot{Objects: []int{2, 3, 1}}).Shots()
	want := []struct {
		file, do string
		standing int
	}{
		{"shot-00.jpg", "the empty stage", 0},
		{"shot-01.jpg", "row 1, the bottom: one object on every stack", 3},
		{"shot-02.jpg", "row 2: one object on stacks 1 and 2 only", 5},
		{"shot-03.jpg", "row 3, the top: one object on stack 2 only", 6},
	}
	if len(shots) != len(want) {
		t.Fatalf("%d shots, want %d", len(shots), len(want))
	}
	for i, w := range want {
		if s := shots[i]; s.Level != i || s.File != w.file || s.Do != w.do || s.Standing != w.standing {
			t.Errorf("shot %d is %+v, want %+v", i, s, w)
		}
	}
}

// 5250 frames of 1920 x 1080 pixels at 1.4 bytes are 15.24 GB, by hand; at 200 MB a second 76 s.
func TestStorageAndTimeFollowThePixels(t *testing.T) {
	s := usualShoot()
	smooth, usual, rough := s.Storage()
	if math.Abs(usual-15.240960e9) > 1e3 || smooth >= usual || rough <= usual {
		t.Errorf("storage %g, %g, %g", smooth, usual, rough)
	}
	fast, slow := s.RenderTime()
	if fast < 76 || fast > 90 || slow < 4*76 || slow > 4*90 {
		t.Errorf("render takes %g to %g s", fast, slow)
	}
}

// By the table of cosines: cos 8.1096° = 0.99, and the sun turns 15° an hour, so that light stays within 1 % for
// 64.88 minutes around noon. At 45° a hundredth of light takes 0.01 rad, 0.57296°, or 2.2918 minutes.
func TestIntervalSharesTheTimeInWhichLightChangesByOnePercent(t *testing.T) {
	for _, top := range []int{1, 5, 11} {
		noon, afternoon := (&Shoot{Objects: []int{top}}).Interval()
		if want := 64.88 * 60 / float64(top); math.Abs(noon-want) > want*1e-3 {
			t.Errorf("%d photos: %g s around noon, want %g", top+1, noon, want)
		}
		if want := 2.2918 * 60 / float64(top); math.Abs(afternoon-want) > want*1e-3 {
			t.Errorf("%d photos: %g s in the afternoon, want %g", top+1, afternoon, want)
		}
	}
}

func TestTextHoldsFiguresShotsSettingsAndCautions(t *testing.T) {
	var b strings.Builder
	if err := usualShoot().Write(&b); err != nil {
		t.Fatal(err)
	}
	text := b.String()
	for _, want := range []string{
		"photos    6 ", "objects   30 ", "5 for each of 6 stacks", "frames    5250 ", "3:30 of song.wav at 25 a second, 1920 x 1080",
		"storage   about 15 GB", "interval  at most 28 s ", "13 min around", "stack 1   16-60 Hz", "[ ] shot-05.jpg  row 5, the top", "30 of 30 objects stand",
		"White balance", "Local codes and qualified people",
	} {
		if !strings.Contains(strings.Join(strings.Fields(text), " "), strings.Join(strings.Fields(want), " ")) {
			t.Errorf("the text does not hold %q:\n%s", want, text)
		}
	}
	for _, line := range strings.Split(text, "\n") {
		if len([]rune(line)) > lineWidth || strings.HasSuffix(line, " ") {
			t.Errorf("line of %d characters: %q", len([]rune(line)), line)
		}
	}
}

func TestWithoutALengthNothingIsSaidOfFrames(t *testing.T) {
	var b strings.Builder
	s := usualShoot()
	s.Frames, s.Seconds, s.Song = 0, 0, ""
	if err := s.Write(&b); err != nil {
		t.Fatal(err)
	}
	if text := b.String(); strings.Contains(text, "\nstorage") || !strings.Contains(text, "--length") {
		t.Errorf("%s", text)
	}
}

func TestSheetHasABoxForEveryObjectAndPhotoAndNeedsNothingElse(t *testing.T) {
	s := &Shoot{Objects: []int{2, 3, 1}, Song: `<b>"loud"</b>`, Frames: 10, Seconds: 1, Rate: timing.Rate{Num: 10, Den: 1}, Size: image.Pt(64, 48)}
	var b strings.Builder
	if err := s.WriteHTML(&b); err != nil {
		t.Fatal(err)
	}
	page := b.String()
	boxes := s.Total() + s.Photos() + len(settings()) + len(cautions())
	if got := strings.Count(page, `<span class="box">`); got != boxes {
		t.Errorf("%d boxes, want %d", got, boxes)
	}
	for _, outside := range []string{"http:", "https:", "src=", "href=", "<script", "url(", "@import", "<b>\"loud"} {
		if strings.Contains(page, outside) {
			t.Errorf("the page holds %q", outside)
		}
	}
	if !strings.Contains(page, "@page") || !strings.Contains(page, "&lt;b&gt;") {
		t.Error("no rules for printing, or the song's name is not escaped")
	}
}

func TestDurationsAreRoundedForPeople(t *testing.T) {
	for seconds, want := range map[float64]string{0.2: "1 s", 28: "28 s", 150: "2 min", 5400: "90 min", 9000: "2.5 hours"} {
		if got := duration(seconds); got != want {
			t.Errorf("%g s reads %q, want %q", seconds, got, want)
		}
	}
	for size, want := range map[float64]string{15.24e9: "15 GB", 999: "1000 B", 2.5e13: "25 TB", 120e6: "120 MB"} {
		if got := bytes(size); got != want {
			t.Errorf("%g bytes read %q, want %q", size, got, want)
		}
	}
}
