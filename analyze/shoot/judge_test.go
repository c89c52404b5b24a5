package shoot

import (
	"fmt"
	"math/rand/v2"
	"os"
	"runtime"
	"strings"
	"sync"
	"testing"

	"golang.org/x/sync/errgroup"

	"colonnade/compose/picture"
)

// judged measures and judges photos; the first is the base plate. scale is frame pixels a photo pixel.
func judged(photos []*picture.Picture, columns []Column, scale float64) (Set, *Report) {
	return judgedBy(NewBase(photos[0], curve, columns), photos, scale, make(map[*picture.Picture]*Shot))
}

// judgedBy does so with a base plate at hand. known are photos that have been measured against it.
func judgedBy(base *Base, photos []*picture.Picture, scale float64, known map[*picture.Picture]*Shot) (Set, *Report) {
	set := Set{Base: base, BaseName: "photo-0", Scale: scale, Shots: make([]*Shot, len(photos))}
	var group sync.WaitGroup
	for i, photo := range photos {
		set.Names = append(set.Names, fmt.Sprintf("photo-%d", i))
		if set.Shots[i] = known[photo]; set.Shots[i] == nil {
			group.Go(func() { set.Shots[i] = base.Look(photo) })
		}
	}
	group.Wait()
	for i, photo := range photos {
		known[photo] = set.Shots[i]
	}
	for i := range base.columns {
		set.Places = append(set.Places, fmt.Sprintf("columns.toml:%d:1", 10*i+5))
	}
	return set, Judge(set)
}

// randomSet is a set of its own for each seed: other scenery, noise, columns and stones.
func randomSet(seed uint64) set {
	random := rand.New(rand.NewPCG(seed, 9))
	return newSet(seed, 2+random.IntN(3), 3+random.IntN(3), 3*random.Float64())
}

// A set on which nothing is wrong must not be blamed: 100 of them, 10 in the short run.
func TestCleanSetsHaveNoFault(t *testing.T) {
	sets := uint64(10)
	if os.Getenv("COLONNADE_LONG") == "1" {
		sets = 100
	}
	var group errgroup.Group
	group.SetLimit(runtime.GOMAXPROCS(0))
	for seed := range sets {
		group.Go(func() error {
			s := randomSet(200 + seed)
			columns := s.regions()
			if seed%5 == 4 {
				columns = nil // as a folder that has no column file yet
			}
			_, report := judged(s.photos(), columns, 1)
			for _, f := range append(report.Faults, report.Notes...) {
				t.Errorf("seed %d (%d columns, %d levels, noise %.1f): %s", 200+seed, len(columns), s.levels, s.noise, f)
			}
			return nil
		})
	}
	group.Wait()
}

// planted are faults put into a set of five photos and what must be said of them, a line a fault, and nothing else.
var planted = []struct {
	name   string
	change func(s set, photos []*picture.Picture) []*picture.Picture
	want   []string
	folder []string // the same without columns; nil when it can not be told there
}{
	{"brighter by 2 %", again(2, taking{gain: 1.02}), []string{"photo-2: it is 0.02* stops (2.0 %) brighter; \"light\" to steady"}, []string{"photo-2: it is * brighter"}},
	{"darker by a fifth", again(3, taking{gain: 0.8}), []string{"photo-3: it is 0.32* stops * darker"}, []string{"photo-3: it is * darker"}},
	{"another white balance", again(1, taking{tint: [3]float64{1.04, 1, 0.95}}), []string{"photo-1: its colour is off: blue is 0.0* darker"}, []string{"photo-1: its colour is off"}},
	{"light that fades at one side", onStage(2, func(s set, stage *stage) { stage.shadow(0, 0, photoWidth*0.9, photoHeight*2, 0.3) }),
		[]string{"photo-2: the light has changed unevenly"}, nil},
	{"a nudged tripod", again(2, taking{dx: 3, dy: -1}), []string{"photo-2: the camera has moved: the scene lies 0.7* pixels right and 0.2* pixels up; \"shift\" to steady"}, []string{"photo-2: the camera has moved"}},
	{"a tripod that was kicked", again(4, taking{dx: -29, dy: 12}), []string{"photo-4: the camera has moved: the scene lies 7.* pixels left and 3.* pixels down"}, []string{"photo-4: the camera has moved"}},
	{"a turned camera", again(2, taking{turn: 0.008}), []string{"photo-2: the scene has turned by 0.4* degrees; photograph it again"}, []string{"photo-2: the scene has turned"}},
	{"another focal length", again(3, taking{grow: 0.008}), []string{"photo-3: the scene has * grown by 0.* %"}, []string{"photo-3: the scene has * grown"}},
	{"out of focus", again(3, taking{blur: 5}), []string{"photo-3: it is blurred"}, []string{"photo-3: it is blurred"}},
	{"another ISO", again(1, taking{noise: 7}), []string{"photo-1: its noise is * 8-bit steps; ISO"}, []string{"photo-1: its noise is"}},
	{"another scene", func(s set, photos []*picture.Picture) []*picture.Picture {
		return replaced(photos, 2, s.take(newScenery(photoWidth, photoHeight, 77), 2, taking{}))
	}, []string{"photo-2: its still parts do not match"}, []string{"photo-2: its still parts do not match"}},
	{"two photos that changed places", func(s set, photos []*picture.Picture) []*picture.Picture {
		return []*picture.Picture{photos[0], photos[1], photos[3], photos[2], photos[4]}
	}, []string{"photo-2, photo-3: these two seem to have changed places; photo-3, photo-2"}, []string{"photo-2, photo-3: these two"}},
	{"a photo numbered last", func(s set, photos []*picture.Picture) []*picture.Picture {
		return []*picture.Picture{photos[0], photos[2], photos[3], photos[4], photos[1]}
	}, []string{"photo-1, photo-2, photo-3, photo-4: the photos would fit better in another order; photo-4, photo-1, photo-2, photo-3"}, []string{"photo-1, photo-2, photo-3, photo-4: the photos"}},
	{"photos numbered backwards", func(s set, photos []*picture.Picture) []*picture.Picture {
		return []*picture.Picture{photos[4], photos[3], photos[2], photos[1], photos[0]}
	}, []string{"photo-0, photo-1, photo-3, photo-4: the stacks get lower from photo to photo: they seem to be numbered backwards; photo-4, photo-3, photo-1, photo-0"}, []string{"photo-0, photo-1, photo-3, photo-4: the stacks get lower"}},
	{"a photo that is missing", func(s set, photos []*picture.Picture) []*picture.Picture {
		return []*picture.Picture{photos[0], photos[1], photos[3], photos[4]}
	}, []string{"photo-2: the columns rise *: a photo seems to be missing before it"}, []string{}},
	{"a photo twice", func(s set, photos []*picture.Picture) []*picture.Picture {
		return replaced(photos, 2, s.take(s.build(s.empty, 1, nil), 2, taking{}))
	}, []string{"photo-2, column \"a\": nothing new is there at level 2", "photo-2, column \"b\": nothing new", "photo-2, column \"c\": nothing new"}, []string{"photo-2: nothing is new in it against photo-1"}},
	{"a stone that was forgotten", stoneMoves(func(level, column, stone int, x, y *float64) bool { return !(level == 3 && column == 1 && stone == 2) }),
		[]string{"photo-3, column \"b\": nothing new is there at level 3; photograph it again"}, nil},
	{"a stack that is one stone short", stoneMoves(func(level, column, stone int, x, y *float64) bool { return !(column == 2 && stone == 3) }),
		[]string{"photo-4, column \"c\": nothing new is there from level 4 on; set top = 3"}, nil},
	{"a stone that fell", stoneMoves(func(level, column, stone int, x, y *float64) bool { return !(level >= 3 && column == 0 && stone >= 1) }),
		[]string{"photo-3, column \"a\": some of what stood at level 2 is gone at level 3", "photo-4, column \"a\": nothing new is there from level 4"}, nil},
	{"a stone that was pushed", stoneMoves(func(level, column, stone int, x, y *float64) bool {
		if level >= 3 && column == 1 && stone == 0 {
			*x += 2
		}
		return true
	}), []string{"photo-3, column \"b\": what stood at level 2 has moved by level 3; set top = 2"}, nil},
	{"a shadow that spills", onStage(3, func(s set, stage *stage) {
		stage.shadow(photoWidth/3.0, photoHeight*0.8, photoWidth*0.1, 16, 0.3)
	}), []string{"photo-3, column \"a\": its edge would show at level 3; widen", "photo-3, column \"b\": its edge would show at level 3; widen"}, nil},
}

func replaced(photos []*picture.Picture, level int, photo *picture.Picture) []*picture.Picture {
	out := append([]*picture.Picture(nil), photos...)
	out[level] = photo
	return out
}

// again takes one photo in another way.
func again(level int, t taking) func(set, []*picture.Picture) []*picture.Picture {
	return func(s set, photos []*picture.Picture) []*picture.Picture {
		return replaced(photos, level, s.take(s.build(s.empty, level, nil), level, t))
	}
}

// onStage changes the stage of one photo.
func onStage(level int, change func(set, *stage)) func(set, []*picture.Picture) []*picture.Picture {
	return func(s set, photos []*picture.Picture) []*picture.Picture {
		stage := s.build(s.empty, level, nil)
		change(s, stage)
		return replaced(photos, level, s.take(stage, level, taking{}))
	}
}

// stoneMoves builds the stacks in another way.
func stoneMoves(change func(level, column, stone int, x, y *float64) bool) func(set, []*picture.Picture) []*picture.Picture {
	return func(s set, photos []*picture.Picture) []*picture.Picture {
		var out []*picture.Picture
		for level := range s.levels + 1 {
			same := true
			stage := s.build(s.empty, level, func(column, stone int, x, y *float64) bool {
				fromX, fromY := *x, *y
				there := change(level, column, stone, x, y)
				same = same && there && *x == fromX && *y == fromY
				return there
			})
			if same {
				out = append(out, photos[level])
			} else {
				out = append(out, s.take(stage, level, taking{}))
			}
		}
		return out
	}
}

func TestEachPlantedFaultIsNamed(t *testing.T) {
	s := newSet(21, 3, 4, 1.5)
	photos := s.photos()
	inColumns, inFolder := NewBase(photos[0], curve, s.regions()), NewBase(photos[0], curve, nil)
	knownColumns, knownFolder := map[*picture.Picture]*Shot{}, map[*picture.Picture]*Shot{}
	for _, c := range planted {
		t.Run(c.name, func(t *testing.T) {
			set := c.change(s, photos)
			_, report := judgedBy(inColumns, set, 1, knownColumns)
			named(t, report.Faults, c.want)
			if c.folder != nil {
				_, report := judgedBy(inFolder, set, 1, knownFolder)
				named(t, report.Faults, c.folder)
			}
		})
	}
}

func TestRegionsThatDoNotFitAreNamed(t *testing.T) {
	s := newSet(21, 3, 4, 1.5)
	photos := s.photos()
	for _, c := range []struct {
		name   string
		change func(columns []Column)
		want   []string
	}{
		{"beside its stack", func(columns []Column) { columns[0].Region = box(12, 4, 60, 12) },
			[]string{"columns.toml:5:1: nothing changes in the region of \"a\" at any level; move the region"}},
		{"too narrow for its stones", func(columns []Column) { columns[1].Region = box(165, 30, 30, 190) },
			[]string{"column \"b\": its edge would show at levels 1 to 4: an object; widen"}},
		{"over its neighbour's stones", func(columns []Column) { columns[1].Region = box(76, 30, 146, 190) },
			[]string{"columns.toml:5:1: the feather of \"a\" reaches what stands in \"b\"", "columns.toml:15:1: the feather of \"b\" reaches what stands in \"a\"; narrower"}},
	} {
		columns := s.regions()
		c.change(columns)
		_, report := judged(photos, columns, 1)
		named(t, report.Faults, c.want)
	}
}

// named holds faults against what is wanted: each of the lines must be found, with its parts in order ("*" and ";"
// stand for anything), and no other.
func named(t *testing.T, faults []Finding, want []string) {
	t.Helper()
	said := make([]bool, len(faults))
	for _, line := range want {
		found := false
		for i, f := range faults {
			if holds(f.String(), line) {
				found, said[i] = true, true
			}
		}
		if !found {
			t.Errorf("not named: %s; the faults are %v", line, faults)
		}
	}
	for i, f := range faults {
		if !said[i] {
			t.Errorf("named without cause: %s", f)
		}
	}
}

func holds(text, pattern string) bool {
	for _, part := range strings.FieldsFunc(pattern, func(r rune) bool { return r == '*' || r == ';' }) {
		_, rest, ok := strings.Cut(text, strings.TrimSpace(part))
		if !ok {
			return false
		}
		text = rest
	}
	return true
}

// In a frame of a quarter of the photo's size the same shift is a quarter of a pixel less, and what was blurred is
// sharp enough.
func TestWhatIsSeenDependsOnTheFrame(t *testing.T) {
	s := newSet(22, 3, 4, 1)
	photos := s.photos()
	photos[2] = s.take(s.build(s.empty, 2, nil), 2, taking{dx: 3})
	photos[3] = s.take(s.build(s.empty, 3, nil), 3, taking{blur: 3})
	if _, report := judged(photos, s.regions(), 1); len(report.Faults) != 2 {
		t.Errorf("at the photo's size: %v, want a shift and a blur", report.Faults)
	}
	if _, report := judged(photos, s.regions(), 0.25); len(report.Faults) != 0 {
		t.Errorf("at a quarter: %v, want none", report.Faults)
	}
}

// What moves outside all regions is covered by the base plate: it is mentioned, and no fault.
func TestWhatMovesOutsideIsANote(t *testing.T) {
	s := newSet(23, 3, 4, 1)
	photos := s.photos()
	stage := s.build(s.empty, 2, nil)
	stage.disc(70, 12, 14, 6, [3]float64{0.6, 0.1, 0.1}, newGrain(rand.New(rand.NewPCG(1, 1))))
	photos[2] = s.take(stage, 2, taking{})
	_, report := judged(photos, s.regions(), 1)
	if len(report.Faults) != 0 || len(report.Notes) != 1 || !holds(report.Notes[0].String(), "photo-2: something changes outside all regions, at (5*; base plate") {
		t.Errorf("faults %v, notes %v", report.Faults, report.Notes)
	}
}

// The step along an edge is known: the photo is brighter by it all around.
func TestSeamIsTheStepAlongTheEdge(t *testing.T) {
	photos := make([]*picture.Picture, 2)
	for level := range photos {
		p := picture.New(200, 160)
		for i := range p.Pix {
			p.Pix[i] = uint8(110 + i%3)
		}
		for y := 30; y < 140 && level == 1; y++ {
			for x := 60; x < 150; x++ {
				for c := range 3 {
					p.Row(y)[3*x+c] += 5
				}
			}
		}
		photos[level] = p
	}
	for _, feather := range []float64{0, 0.4, 3, 6} {
		column := Column{Name: "a", Feather: feather, Top: 1, Region: box(80, 50, 50, 70)}
		_, report := judged(photos, []Column{column}, 1)
		if got := report.Columns[0].Levels[1]; got.Seam < 4.9 || got.Seam > 5.1 || got.SeamAsIs < 4.9 || got.SeamAsIs > 5.1 || !got.SeamSeen {
			t.Errorf("feather %g: %+v, want a seam of 5 steps", feather, got)
		}
		if got := report.Columns[0].Levels[0]; got.Seam != 0 || got.SeamSeen {
			t.Errorf("feather %g: level 0 %+v", feather, got)
		}
	}
}
