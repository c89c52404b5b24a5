package strip

import (
	"testing"

	"colonnade/compose/light"
	"colonnade/compose/picture"
)

// speckled is a photograph with noise of up to so many codes that all three colours of a pixel share, and of so many that each has for itself.
func speckled(seed uint32, width, height int, shared, own uint32) *picture.Picture {
	p := smooth(seed, width, height)
	random := seed
	noise := func(most uint32) int {
		random = random*1664525 + 1013904223
		return int(random>>16%(2*most+1)) - int(most)
	}
	for at := 0; at < len(p.Pix); at += 3 {
		all := noise(shared)
		for i := range 3 {
			p.Pix[at+i] = uint8(min(max(int(p.Pix[at+i])+all+noise(own), 0), 255))
		}
	}
	return p
}

// How a photograph is parsed is told by a sample. It must be nearly the best way for the whole, and the way that takes more time only where
// that is worth it.
func TestPhotosAreParsedInTheBestWay(t *testing.T) {
	all := photoKinds
	defer func() { photoKinds = all }()
	const width, height, columns = 640, 360, 4
	chosen := map[kind]bool{}
	for _, noise := range []struct{ shared, own uint32 }{{12, 0}, {6, 1}, {3, 3}, {0, 6}} {
		base, other := speckled(1, width, height, noise.shared, noise.own), speckled(2, width, height, noise.shared, noise.own)
		photos := piled(base, other, 4)
		frame := func(kinds ...kind) (size int, as kind) {
			photoKinds = kinds
			s := newStage(base, photos, upright(width, height, columns, 70, 3), light.SRGB())
			c := s.coder(t, Options{})
			for _, tuple := range tuples(columns, 4) {
				s.check(t, c, tuple)
				size += len(s.frame(t, c, tuple))
			}
			return size, c.full.blocks[len(c.full.blocks)/2].kind
		}
		size, as := frame(all...)
		chosen[as] = true
		least := size
		for _, only := range all {
			alone, _ := frame(only)
			t.Logf("noise %+v: as kind %d %d bytes; %d is chosen, with %d", noise, only, alone, as, size)
			least = min(least, alone)
		}
		if size > least+least/int(kindContest(width).margin) {
			t.Errorf("noise %+v: frames take %d bytes, parsed in another way %d", noise, size, least)
		}
	}
	if len(chosen) < len(all) {
		t.Errorf("not each way is chosen for some noise: %v", chosen)
	}
}

// striped is noise of two codes on values that are the same down each column of pixels, or across each row, as far apart as strength.
func striped(width, height int, down bool, strength int) *picture.Picture {
	p := picture.New(width, height)
	random := uint32(1)
	next := func(n int) int {
		random = random*1664525 + 1013904223
		return int(random>>16) % n
	}
	values := make([]int, max(width, height))
	for i := range values {
		values[i] = next(strength)
	}
	for y := range height {
		for x := range width {
			value := values[y]
			if down {
				value = values[x]
			}
			for i := range 3 {
				p.Row(y)[3*x+i] = uint8(100 + value + next(4))
			}
		}
	}
	return p
}

// The filter must serve the empty stage as well as the objects: what is like the pixels above on the one and like those to the left on the
// other takes Paeth.
func TestFiltersServeTheStageAndTheObjects(t *testing.T) {
	const width, height, columns = 640, 256, 4
	down, across := striped(width, height, true, 60), striped(width, height, false, 60)
	for _, test := range []struct {
		stage, objects *picture.Picture
		filter         int
	}{{down, down, filterUp}, {across, across, filterSub}, {down, across, filterPaeth}, {across, down, filterPaeth}} {
		s := newStage(test.stage, []*picture.Picture{test.stage, test.objects}, upright(width, height, columns, 100, 0), light.SRGB())
		for b, block := range s.prepared(t, Options{}).full.blocks {
			if block.filter != test.filter {
				t.Errorf("band %d: filter %d is chosen, not %d", b, block.filter, test.filter)
			}
		}
	}
}
