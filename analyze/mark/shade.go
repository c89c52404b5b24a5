package mark

// A soft shadow dims the stage without an edge: all channels alike, and a little more from pixel to pixel on the way in
// from where nothing has changed. An object has an edge all around, or another colour.

const (
	// shadeStep is the most that a shadow deepens from a pixel to the next, in tones, with twice the noise on top.
	shadeStep = 3 * toneUnit
	// alike is how far the channels' shares of light may lie apart in a shadow, as a part of shareOne.
	alike    = shareOne / 10
	shareOne = 1024
	// dimmed is the share of light above which nothing is called a shadow.
	dimmed = shareOne * 98 / 100
	// deepest is the share of light below which it is rather a dark object.
	deepest = shareOne * 35 / 100
	// dark is the light below which a share says too little.
	dark = fullLight / 200
)

// shadeFrom lowers the grade of soft shadows. base and seen are smoothed stage and photo.
func (l *lit) shadeFrom(grades []grade, base, seen *plane, noise int) {
	s := l.stage
	width, height := s.width, s.height
	offset, _ := l.offsets(base, seen)
	dim := l.dimmed(base, seen)
	step := int32(shadeStep + 2*noise)
	shaded := make([]bool, len(grades))
	var todo []int32
	enter := func(i int, from int32) {
		if grades[i] == strong && dim[i] && !shaded[i] && max(offset[i]-from, from-offset[i]) <= step {
			shaded[i] = true
			todo = append(todo, int32(i))
		}
	}
	around := func(i int) {
		x := i % width
		if x > 0 {
			enter(i-1, offset[i])
		}
		if x < width-1 {
			enter(i+1, offset[i])
		}
		if i >= width {
			enter(i-width, offset[i])
		}
		if i < width*(height-1) {
			enter(i+width, offset[i])
		}
	}
	for i, g := range grades {
		if g < strong {
			around(i)
		}
	}
	for len(todo) > 0 {
		i := int(todo[len(todo)-1])
		todo = todo[:len(todo)-1]
		around(i)
	}
	// What would go almost whole is rather an object without a clear edge than a shadow without an object.
	mask := make([]bool, len(grades))
	for i, g := range grades {
		mask[i] = g == strong
	}
	label, sizes := components(mask, width, height, true)
	lost := make([]int, len(sizes))
	for i := range shaded {
		if shaded[i] {
			lost[label[i]]++
		}
	}
	for i := range shaded {
		if n := label[i]; shaded[i] && 10*lost[n] < 7*sizes[n] {
			grades[i] = shade
		}
	}
}

// dimmed is where all channels have lost about the same share of their light.
func (l *lit) dimmed(base, seen *plane) []bool {
	s := l.stage
	least, most := make([]uint16, s.width*s.height), make([]uint16, s.width*s.height)
	for c := range base.channel {
		for y := range s.height {
			gain, step := l.row(c, y)
			for x := range s.width {
				i := y*s.width + x
				want := predict(base.channel[c][i], gain>>16)
				gain += step
				share := uint16(1)
				switch {
				case want >= dark:
					share = uint16(min(uint64(seen.channel[c][i])*shareOne/uint64(want), 65535))
				case c > 0: // too dark to tell: as the others
					continue
				}
				share = max(share, 1)
				if least[i] == 0 {
					least[i], most[i] = share, share
				}
				least[i], most[i] = min(least[i], share), max(most[i], share)
			}
		}
	}
	out := make([]bool, len(least))
	for i := range out {
		out[i] = most[i] < dimmed && least[i] > deepest && most[i]-least[i] < alike
	}
	return out
}
