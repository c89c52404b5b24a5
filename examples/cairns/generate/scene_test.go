package main

import (
	"bytes"
	"image"
	"image/jpeg"
	"math"
	"runtime"
	"sync"
	"testing"
)

// No figure here has an outside source: the tests hold the pictures against
// what the example promises of itself.

// tiny is a quality that draws in a moment: every photo is 160 x 90.
func tiny() quality {
	return quality{
		width: 160, height: 90, stageSamples: 4, stones: 4,
		stageLight:  illumination{key: 1, window: 1, room: 1, mirror: 1},
		stonesLight: illumination{key: 1, window: 1, room: 1, mirror: 1},
	}
}

// drawn are the scene and the plates of all levels. They are only looked at,
// so all tests share them.
var drawn = sync.OnceValues(func() (*scene, []*plate) {
	s := newScene(tiny())
	stage := s.stage()
	var plates []*plate
	for level := 0; level <= levels; level++ {
		plates = append(plates, s.raise(stage, level))
	}
	return s, plates
})

// difference is the greatest difference of the two plates in the pixel.
func difference(a, b *plate, column, row int) float64 {
	d := a.pixels[row*a.width+column].minus(b.pixels[row*a.width+column])
	return max(math.Abs(d.x), math.Abs(d.y), math.Abs(d.z))
}

func TestEveryLevelRaisesEveryStackByOneStone(t *testing.T) {
	s, plates := drawn()
	scale := float64(plates[0].width) / photoWidth
	for _, stack := range s.stacks {
		highest := plates[0].height
		for level := 1; level <= levels; level++ {
			top := plates[0].height
			axis := int(stack.axis() * scale)
			for row := plates[0].height - 1; row >= 0; row-- {
				for column := axis - 6; column <= axis+6; column++ {
					if difference(plates[0], plates[level], column, row) > 0.1 {
						top = row
					}
				}
			}
			// The lowest stones are over 90 photo pixels high, the highest over 50.
			if grown := float64(highest-top) / scale; grown < 40 {
				t.Errorf("%s: level %d is %.0f photo pixels higher than level %d, want 40 or more", stack.name, level, grown, level-1)
			}
			highest = top
		}
	}
}

func TestStonesThatLieStayWhereTheyAre(t *testing.T) {
	s, plates := drawn()
	scale := float64(photoWidth) / float64(plates[0].width)
	for _, stack := range s.stacks {
		for level := 1; level < levels; level++ {
			// Another stone may take light from those below it, and hide an
			// edge; it cannot make them brighter.
			changed, looked := 0, 0
			for row := 0; row < plates[0].height; row++ {
				for column := 0; column < plates[0].width; column++ {
					o, d := ray((float64(column)+0.5)*scale, (float64(row)+0.5)*scale, 0, 0)
					nearest, hit := farAway, -1
					for i := range stack.stones[:level+1] {
						if far := stack.stones[i].meet(o, d); far < nearest {
							nearest, hit = far, i
						}
					}
					if hit < 0 || hit >= level {
						continue
					}
					looked++
					at := row*plates[0].width + column
					brighter := plates[level+1].pixels[at].minus(plates[level].pixels[at])
					if max(brighter.x, brighter.y, brighter.z) > 0.03 {
						changed++
					}
				}
			}
			if looked == 0 || changed*20 > looked {
				t.Errorf("%s: %d of %d pixels of the stones that lay at level %d are brighter at level %d", stack.name, changed, looked, level, level+1)
			}
		}
	}
}

func TestStacksChangeNothingFartherThanTheirShade(t *testing.T) {
	s, plates := drawn()
	scale := float64(photoWidth) / float64(plates[0].width)
	for row := 0; row < plates[0].height; row++ {
		for column := 0; column < plates[0].width; column++ {
			x, y := (float64(column)+0.5)*scale, (float64(row)+0.5)*scale
			near := false
			for _, stack := range s.stacks {
				near = near || math.Abs(x-stack.axis()) < shadeEnds+scale && y > stackTop-scale && y < shadeFoot+scale
			}
			if !near && difference(plates[0], plates[levels], column, row) != 0 {
				t.Fatalf("pixel (%d, %d) is far from all stacks and not the same at levels 0 and %d", column, row, levels)
			}
		}
	}
}

func TestEveryPhotoHasNoiseOfItsOwn(t *testing.T) {
	_, plates := drawn()
	camera := newPhotograph(plates[0])
	first, second := camera.develop(plates[0], 0), camera.develop(plates[0], 1)
	count, square := 0, 0.0
	for i := range first.Pix {
		if i%4 != 3 {
			d := float64(first.Pix[i]) - float64(second.Pix[i])
			square += d * d
			count++
		}
	}
	if deviation := math.Sqrt(square / float64(count)); deviation < 0.5 || deviation > 4 {
		t.Errorf("two photos of the same stage differ by %.2f values (standard deviation), want the noise of a good sensor, 0.5 to 4", deviation)
	}
}

func TestPhotosAreTheSameOnAnyNumberOfProcessors(t *testing.T) {
	s, _ := drawn()
	shoot := func() []byte {
		stage := s.stage()
		return encoded(t, newPhotograph(stage).develop(s.raise(stage, 2), 2))
	}
	before := runtime.GOMAXPROCS(1)
	alone := shoot()
	runtime.GOMAXPROCS(3)
	together := shoot()
	runtime.GOMAXPROCS(before)
	if !bytes.Equal(alone, together) {
		t.Error("one processor and three make different photos")
	}
}

func encoded(t *testing.T, picture image.Image) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := jpeg.Encode(&out, picture, &jpeg.Options{Quality: jpegQuality}); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}
