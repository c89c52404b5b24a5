package main

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image/jpeg"
	"math"
	"math/cmplx"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"github.com/mjibson/go-dsp/fft"
)

// example is the folder with the files that are part of the repository.
const example = ".."

// composed is the song; the tests only look at it.
var composed = sync.OnceValue(composeSong)

func exampleRegions(t *testing.T) []region {
	t.Helper()
	regions, err := readRegions(filepath.Join(example, "columns.toml"))
	if err != nil {
		t.Fatal(err)
	}
	return regions
}

// outline calls found for points of the region's outline, a photo pixel apart.
func (r region) outline(found func(x, y float64)) {
	for i, a := range r.Corners {
		b := r.Corners[(i+1)%len(r.Corners)]
		steps := math.Ceil(math.Hypot(b[0]-a[0], b[1]-a[1]))
		for step := 0.0; step < steps; step++ {
			found(mix(a[0], b[0], step/steps), mix(a[1], b[1], step/steps))
		}
	}
}

func TestRegionsHoldTheirStonesThreeFeathersDeep(t *testing.T) {
	regions, stacks := exampleRegions(t), buildStacks()
	if len(regions) != len(stacks) {
		t.Fatalf("columns.toml has %d columns, the sill %d stacks", len(regions), len(stacks))
	}
	for i, r := range regions {
		if r.Name != stacks[i].name {
			t.Errorf("column %d is called %q, its stack %q", i+1, r.Name, stacks[i].name)
		}
		const step = 4.0 // photo pixels
		for y := 0.0; y < photoHeight; y += step {
			for x := 0.0; x < photoWidth; x += step {
				o, d := ray(x, y, 0, 0)
				for n := range stacks[i].stones {
					if stacks[i].stones[n].meet(o, d) == farAway {
						continue
					}
					if within := r.within(x, y); within < 3*r.Feather {
						t.Fatalf("%s: stone %d at (%.0f, %.0f) is %.1f pixels inside the region, want %.0f or more", r.Name, n+1, x, y, within, 3*r.Feather)
					}
				}
			}
		}
	}
}

func TestRegionsHoldTheShadeOnTheWood(t *testing.T) {
	stacks := recipes()
	for i, r := range exampleRegions(t) {
		axis := stacks[i].axis()
		const sillTop = 690.0 // photo row of the sill's far edge
		for _, x := range []float64{axis - shadeEnds, axis + shadeEnds} {
			for _, y := range []float64{sillTop, shadeFoot} {
				if r.within(x, y) < 0 {
					t.Errorf("%s: shade may fall at (%.0f, %.0f), outside the region", r.Name, x, y)
				}
			}
		}
	}
}

func TestMasksOfNeighboursDoNotMeet(t *testing.T) {
	regions := exampleRegions(t)
	for i := 1; i < len(regions); i++ {
		left, right := regions[i-1], regions[i]
		apart := math.Inf(1)
		left.outline(func(x, y float64) { apart = min(apart, -right.within(x, y)) })
		if want := 3 * (left.Feather + right.Feather); apart < want {
			t.Errorf("%s and %s are %.1f pixels apart, want three feathers of each, %.0f", left.Name, right.Name, apart, want)
		}
	}
}

func TestThePhotoSetIsWholeAndSmall(t *testing.T) {
	total := int64(0)
	for level := 0; level <= levels; level++ {
		name := filepath.Join(example, "photos", fmt.Sprintf("photo_%02d.jpg", level))
		file, err := os.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		defer file.Close()
		config, err := jpeg.DecodeConfig(file)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if config.Width != photoWidth || config.Height != photoHeight {
			t.Errorf("%s is %d x %d, want %d x %d", name, config.Width, config.Height, photoWidth, photoHeight)
		}
		if info, err := file.Stat(); err == nil {
			total += info.Size()
		}
	}
	if total > 3e6 {
		t.Errorf("the photos take %d bytes, want 3000000 at most", total)
	}
}

func TestTheSongBeginsAndEndsInSilenceAndNeverClips(t *testing.T) {
	song := composed()
	if seconds := float64(len(song[0])) / sampleRate; seconds != songSeconds {
		t.Errorf("the song lasts %v s, want %v", seconds, songSeconds)
	}
	peak := 0.0
	for side := range song {
		for i, value := range song[side] {
			at := float64(i) / sampleRate
			if (at < songStart || at >= fadeEnd) && value != 0 {
				t.Fatalf("the song is not silent at %.3f s", at)
			}
			peak = max(peak, math.Abs(value))
		}
	}
	if math.Abs(20*math.Log10(peak)+1) > 0.01 {
		t.Errorf("the song's peak is %.2f dB below full scale, want 1", -20*math.Log10(peak))
	}
}

func TestTheSongInTheRepositoryIsTheOneComposed(t *testing.T) {
	file, err := os.ReadFile(filepath.Join(example, "song.wav"))
	if err != nil {
		t.Fatal(err)
	}
	song := composed()
	const header = 44
	if len(file) != header+4*len(song[0]) {
		t.Fatalf("song.wav has %d bytes, want %d", len(file), header+4*len(song[0]))
	}
	samples := make([]int16, 2*len(song[0]))
	if err := binary.Read(bytes.NewReader(file[header:]), binary.LittleEndian, samples); err != nil {
		t.Fatal(err)
	}
	for i, got := range samples {
		// Other processors than amd64 may round the last bit otherwise.
		want := sample16(song[i%2][i/2])
		if got-want > 1 || want-got > 1 {
			t.Fatalf("song.wav: sample %d of side %d is %d, want %d; run go run ./examples/cairns/generate", i/2, i%2, got, want)
		}
	}
}

func TestEveryInstrumentKeepsToItsBand(t *testing.T) {
	instruments := map[string]func(track){
		"kick": composeKick, "bass": composeBass, "chords": composeChords, "plucks": composePlucks, "hats": composeHats,
	}
	for _, r := range exampleRegions(t) {
		sound := newTrack(songSeconds)
		instruments[r.Name](sound)
		mono := make([]float64, 1<<20)
		for i := range sound[0] {
			if i < len(mono) {
				mono[i] = sound[0][i] + sound[1][i]
			}
		}
		inside, all := 0.0, 0.0
		for bin, value := range fft.FFTReal(mono)[:len(mono)/2] {
			power := cmplx.Abs(value) * cmplx.Abs(value)
			all += power
			if hertz := float64(bin) * sampleRate / float64(len(mono)); hertz >= r.Band[0] && hertz <= r.Band[1] {
				inside += power
			}
		}
		if inside < 0.75*all {
			t.Errorf("%s: %.0f %% of the instrument's power is inside %v Hz, want 75 or more", r.Name, 100*inside/all, r.Band)
		}
	}
}
