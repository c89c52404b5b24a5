package strip

import (
	"bytes"
	"context"
	"image"
	"slices"
	"testing"

	"colonnade/analyze/levels"
	"colonnade/compose/light"
	"colonnade/compose/picture"
	"colonnade/masks"
)

// bordered is a photographed stage whose highest rows are black, with masks that begin some rows below them.
func bordered(below int) *stage {
	s := photographed(120, 5*bandRows, 4, 5)
	clear(s.Base.Pix[:3*120*bandRows])
	for _, photo := range s.Photos {
		clear(photo.Pix[:3*120*bandRows])
	}
	for i := range s.Masks {
		s.Masks[i] = whole(image.Rect(30*i, bandRows+below, 30*i+25, 4*bandRows))
	}
	return s
}

// Of a photographed stage Prepare looks at the first photo and the last, of a drawn one at all; a frame needs those that it shows, the empty stage
// the first alone.
func TestOnlyThePhotosThatAreNeededAreAskedFor(t *testing.T) {
	photographs := photographed(120, 140, 4, 5)
	drawing := newStage(picture.New(120, 140), nil, upright(120, 140, 4, 80, 0), light.SRGB())
	for level := range 5 {
		photo := picture.New(120, 140)
		copy(photo.Row(139-level), bytes.Repeat([]byte{80}, 3*120))
		drawing.Photos = append(drawing.Photos, photo)
	}
	for _, test := range []struct {
		name    string
		stage   *stage
		prepare []int
	}{
		{"photographs", photographs, []int{0, 4}},
		{"photographs under a drawn border", bordered(48), []int{0, 4}},
		{"photographs under a drawn border that a mask reaches", bordered(-1), []int{0, 1, 2, 3, 4}},
		{"a drawing", drawing, []int{0, 1, 2, 3, 4}},
	} {
		var prepared, asked []int
		source := test.stage.source()
		photo := source.Photo
		source.Photo = func(level int) (picture.Reader, error) {
			if !slices.Contains(prepared, level) {
				t.Errorf("%s: photo %d is asked for, and prepared are %v", test.name, level, prepared)
			}
			asked = append(asked, level)
			return photo(level)
		}
		source.Prepare = func(levels []int) { prepared = levels }
		c, err := New(source, Options{})
		if err != nil {
			t.Fatal(err)
		}
		empty := make([]levels.Level, 4)
		test.stage.check(t, c, empty)
		if got := slices.Compact(asked); !slices.Equal(got, []int{0}) {
			t.Errorf("%s: the empty stage asks for photos %v", test.name, got)
		}
		asked = nil
		if err := c.Prepare(context.Background(), []int{0, 2}); err != nil {
			t.Fatal(err)
		}
		slices.Sort(asked)
		if got := slices.Compact(asked); !slices.Equal(got, test.prepare) {
			t.Errorf("%s: Prepare asks for photos %v, want %v", test.name, got, test.prepare)
		}
		asked = nil
		test.stage.check(t, c, []levels.Level{0, 2000, 2500, 0})
		if slices.Sort(asked); !slices.Equal(asked, []int{0, 2, 3}) {
			t.Errorf("%s: a frame of levels 0, 2 and 2.5 asks for photos %v", test.name, asked)
		}
	}
}

// halfDrawn is a stage with masks on two bands that are drawn, with objects, and on four that are photographed.
func halfDrawn() *stage {
	s, drawing := photographed(200, 6*bandRows, 3, 5), drawn(200, 2*bandRows, 3, false, true)
	copy(s.Base.Pix, drawing.Base.Pix)
	for level, photo := range s.Photos {
		copy(photo.Pix, drawing.Photos[level].Pix)
	}
	s.Masks = upright(200, 6*bandRows, 3, 80, 2)
	return s
}

// onlyRead is a picture of which no more is known than what is read.
type onlyRead struct{ picture.Reader }

func TestPicturesThatAreOnlyReadMakeTheSameFrames(t *testing.T) {
	for _, s := range []*stage{overlapping(), drawn(200, 150, 3, false, true), halfDrawn()} {
		source := s.source()
		whole, err := New(source, Options{})
		if err != nil {
			t.Fatal(err)
		}
		source.Base = func() (picture.Reader, error) { return onlyRead{s.Base}, nil }
		source.Photo = func(level int) (picture.Reader, error) { return onlyRead{s.Photos[level]}, nil }
		read, err := New(source, Options{})
		if err != nil {
			t.Fatal(err)
		}
		for _, tuple := range someTuples(s, 20) {
			want, err := whole.Append(nil, nil, tuple)
			if err != nil {
				t.Fatal(err)
			}
			s.check(t, read, tuple)
			if got, err := read.Append(nil, nil, tuple); err != nil || !bytes.Equal(got, want) {
				t.Fatalf("%v: %v, other bytes", tuple, err)
			}
		}
	}
}

// A mask that ends where drawn rows begin: the first of these depends on it, in the photos between the first and the last, too.
func TestRowsBelowAMaskThatAreDrawn(t *testing.T) {
	s := photographed(120, 4*bandRows, 1, 5)
	for _, p := range append(s.Photos, s.Base) {
		clear(p.Pix[3*120*bandRows:])
	}
	s.Masks = []*masks.Mask{whole(image.Rect(30, 0, 60, bandRows))}
	c := s.coder(t, Options{})
	for _, level := range []levels.Level{0, 1000, 2500, 4000} {
		s.check(t, c, []levels.Level{level})
	}
}
