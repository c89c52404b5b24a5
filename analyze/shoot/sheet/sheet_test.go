package sheet

import (
	"fmt"
	"image"
	"image/color"
	"testing"

	"colonnade/analyze/shoot"
	"colonnade/compose/light"
	"colonnade/compose/picture"
	"colonnade/masks"
)

// drawn is the sheet of count photos with one column in which a block grows; photo bad is brighter than the others.
func drawn(t *testing.T, width, height, count, bad int, columns bool) (*image.RGBA, *shoot.Report) {
	t.Helper()
	w, h := float64(width), float64(height)
	var list []shoot.Column
	if columns {
		list = []shoot.Column{{Name: "stones with a long name", Region: masks.Region{{X: 0.3 * w, Y: 0.2 * h}, {X: 0.7 * w, Y: 0.2 * h}, {X: 0.7 * w, Y: 0.9 * h}, {X: 0.3 * w, Y: 0.9 * h}}, Feather: 1, Top: count - 1}}
	}
	set := shoot.Set{BaseName: "photo-0.png", Places: []string{"columns.toml:3:1"}, Scale: 1}
	for level := range count {
		p := picture.New(width, height)
		for i := range p.Pix {
			p.Pix[i] = uint8(90 + i*7%23)
			if level == bad {
				p.Pix[i] += 20
			}
		}
		for y := height * 4 / 5; y > height*4/5-level*height/2/count; y-- {
			for x := width * 2 / 5; x < width*3/5; x++ {
				p.Row(y)[3*x] = 220
			}
		}
		if level == 0 {
			set.Base = shoot.NewBase(p, light.SRGB(), list)
		}
		set.Names = append(set.Names, fmt.Sprintf("photos/photo-%d.png", level))
		set.Shots = append(set.Shots, set.Base.Look(p))
	}
	report := shoot.Judge(set)
	img, err := Draw("columns.toml", set, report)
	if err != nil {
		t.Fatal(err)
	}
	return img, report
}

// has counts the pixels of a colour in a part of the sheet.
func has(img *image.RGBA, colour color.NRGBA, part image.Rectangle) (n int) {
	part = part.Intersect(img.Rect)
	for y := part.Min.Y; y < part.Max.Y; y++ {
		for x := part.Min.X; x < part.Max.X; x++ {
			c := img.RGBAAt(x, y)
			if off(c.R, colour.R) < 40 && off(c.G, colour.G) < 40 && off(c.B, colour.B) < 40 { // lines are smooth at their edges
				n++
			}
		}
	}
	return n
}

func off(a, b uint8) int { return max(int(a), int(b)) - min(int(a), int(b)) }

func TestSheetShowsPhotosRegionsAndFaults(t *testing.T) {
	img, report := drawn(t, 120, 80, 4, 2, true)
	if !report.Photos[2].Faulty || report.Photos[1].Faulty {
		t.Fatalf("faults %v", report.Faults)
	}
	g := layOut(4, image.Pt(120, 80))
	for level := range 4 {
		at := g.place(level).Add(image.Pt(border, border+2*lineTall))
		if n := has(img, good, at); n == 0 {
			t.Errorf("level %d: no region is drawn", level)
		}
		frame := has(img, bad, image.Rect(at.Min.X-4, at.Min.Y, at.Min.X, at.Max.Y))
		if want := level == 2; (frame == 4*at.Dy()) != want {
			t.Errorf("level %d: %d red pixels left of it, faulty %v", level, frame, want)
		}
		if n := has(img, ink, image.Rect(at.Min.X, at.Max.Y, at.Max.X, at.Max.Y+lineTall)); n == 0 {
			t.Errorf("level %d: no name below", level)
		}
	}
	charts := image.Rect(0, border+2*lineTall+g.tall, sheetWidth, border+2*lineTall+g.tall+gap+chartTall)
	if has(img, bad, charts) == 0 || has(img, second, charts) == 0 || has(img, band, charts) == 0 {
		t.Error("the curves lack a point out of bounds, a curve or the band of what is not seen")
	}
	if has(img, bad, image.Rect(0, charts.Max.Y, sheetWidth, img.Rect.Max.Y)) == 0 {
		t.Error("the faults are not written below")
	}
}

func TestSheetTakesAnyShapeAndNumber(t *testing.T) {
	for _, c := range []struct{ width, height, count int }{{40, 300, 2}, {300, 20, 3}, {16, 16, 30}, {1, 1, 2}} {
		for _, columns := range []bool{true, false} {
			img, report := drawn(t, c.width, c.height, c.count, -1, columns && c.width > 1)
			if img.Rect.Dx() != sheetWidth || len(report.Photos) != c.count {
				t.Errorf("%+v: a sheet of %v", c, img.Rect)
			}
		}
	}
}
