package mark

// part gives stacks that no straight line parts regions that follow them: each takes what of its region lies nearer to
// it than to the stacks it is interlocked with. regions are in photo pixels, and are changed in place.
func (f *Found) part(t *territory, regions [][]point, interlocked [][]bool) {
	scale := float64(f.Reduction)
	_, owner := nearest(t.all, t.width, t.height)
	traced := make([][]point, len(regions))
	for n := range regions {
		partner := make([]bool, len(regions)+1)
		some := false
		for b, locked := range interlocked[n] {
			partner[b+1] = locked
			some = some || locked
		}
		if !some {
			continue
		}
		mask := inside(regions[n], scale, t.width, t.height)
		for i := range mask {
			mask[i] = mask[i] && !partner[owner[i]]
		}
		// The later of two leaves a pixel free between them.
		for i, label := range owner {
			if mask[i] && int(label) == n+1 && besides(owner, i, t.width, t.height, func(b int32) bool { return partner[b] && int(b) < n+1 }) {
				mask[i] = false
			}
		}
		keepLargest(mask, t.core, int32(n+1), t.width, t.height)
		fillHoles(mask, t.width, t.height)
		unpinch(mask, t.width, t.height)
		traced[n] = trace(mask, t.width, t.height)
		enlarge(traced[n], scale)
		for i, p := range traced[n] { // the last pixels of the map may reach beyond the photo
			traced[n][i] = point{min(p.x, float64(f.Size.X)), min(p.y, float64(f.Size.Y))}
		}
	}
	for n, outline := range traced {
		if outline != nil {
			regions[n] = outline
		}
	}
	for coarse := 1.0; coarse <= coarsest; coarse *= 1.5 {
		for n, outline := range traced {
			if outline != nil {
				s := smoother{regions: regions, self: n, core: t.core, width: t.width, height: t.height, scale: scale}
				regions[n] = s.smooth(coarse * scale)
			}
		}
	}
	for n, outline := range traced {
		// Smoothing keeps outlines simple; what is written must be, whatever happens.
		if _, _, crossing := rounded(regions[n], true).Crossing(); outline != nil && crossing {
			regions[n] = outline
		}
	}
}

// inside is the pixels of the map that lie wholly in a convex region of the photo.
func inside(region []point, scale float64, width, height int) []bool {
	corner := make([]bool, (width+1)*(height+1))
	for y := range height + 1 {
		for x := range width + 1 {
			p := point{float64(x) * scale, float64(y) * scale}
			in := true
			for i, a := range region {
				if cross(a, region[(i+1)%len(region)], p) < -1e-6 {
					in = false
					break
				}
			}
			corner[y*(width+1)+x] = in
		}
	}
	mask := make([]bool, width*height)
	for y := range height {
		for x := range width {
			i := y*(width+1) + x
			mask[y*width+x] = corner[i] && corner[i+1] && corner[i+width+1] && corner[i+width+2]
		}
	}
	return mask
}

// besides is whether one of the eight neighbours of a pixel has such a label.
func besides(labels []int32, i, width, height int, such func(int32) bool) bool {
	x, y := i%width, i/width
	for ny := max(y-1, 0); ny <= min(y+1, height-1); ny++ {
		for nx := max(x-1, 0); nx <= min(x+1, width-1); nx++ {
			if such(labels[ny*width+nx]) {
				return true
			}
		}
	}
	return false
}

// keepLargest leaves of a mask the connected piece that holds most pixels of a label.
func keepLargest(mask []bool, labels []int32, label int32, width, height int) {
	pieces, sizes := components(mask, width, height, false)
	held := make([]int, len(sizes))
	best := 0
	for i, piece := range pieces {
		if piece != 0 && labels[i] == label {
			held[piece]++
			if held[piece] > held[best] {
				best = int(piece)
			}
		}
	}
	for i, piece := range pieces {
		mask[i] = piece != 0 && int(piece) == best
	}
}

// unpinch takes pixels off that hang together at a corner alone, where an outline would touch itself.
func unpinch(mask []bool, width, height int) {
	for again := true; again; {
		again = false
		for y := range height - 1 {
			for x := range width - 1 {
				a, b := y*width+x, y*width+x+1
				c, d := a+width, b+width
				if mask[a] && mask[d] && !mask[b] && !mask[c] {
					mask[d], again = false, true
				} else if mask[b] && mask[c] && !mask[a] && !mask[d] {
					mask[c], again = false, true
				}
			}
		}
	}
}

// trace runs around the outside of a mask of one piece, clockwise as seen, along the sides of its pixels; its corners are
// where it turns.
func trace(mask []bool, width, height int) []point {
	set := func(x, y int) bool { return x >= 0 && x < width && y >= 0 && y < height && mask[y*width+x] }
	start := -1
	for i, m := range mask {
		if m {
			start = i
			break
		}
	}
	if start < 0 {
		return nil
	}
	type heading struct{ dx, dy int }
	x, y, h := start%width, start/width, heading{1, 0} // along the upper side of the first pixel
	startX, startY := x, y
	out := []point{{float64(x), float64(y)}}
	for {
		// With the piece to the right hand: the two pixels ahead.
		aheadRight := set(x+(h.dx-h.dy-1)/2, y+(h.dy+h.dx-1)/2)
		aheadLeft := set(x+(h.dx+h.dy-1)/2, y+(h.dy-h.dx-1)/2)
		switch {
		case aheadLeft && aheadRight:
			out = append(out, point{float64(x), float64(y)})
			h = heading{h.dy, -h.dx}
		case !aheadRight:
			out = append(out, point{float64(x), float64(y)})
			h = heading{-h.dy, h.dx}
		}
		x, y = x+h.dx, y+h.dy
		if x == startX && y == startY {
			break
		}
	}
	return out
}
