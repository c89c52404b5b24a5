package shoot

const (
	// leastChange is how many 8-bit steps a channel must differ for a reduced pixel to count as changed: a photo's
	// compression leaves less, an object that is worth a level more.
	leastChange = 6
	// placeDoubt is by how many 32nds of a reduced pixel what has not moved may seem to have: rounding and noise
	// alone. A photo that was moved back adds what its shift is not known to, and a softer one what its edges miss.
	placeDoubt, movedDoubt, softDoubt = 2, 6, 12
)

// apart is the largest difference of a channel between two photos at pixel i, in codeUnit steps.
func apart(u, v codes, i int) int32 {
	most := int32(0)
	for c := range 3 {
		d := int32(u[c][i]) - int32(v[c][i])
		most = max(most, d, -d)
	}
	return most
}

// apart is the same between two photos. Where one is burnt out it was at least as bright as it seems.
func (s *Shot) apart(t *Shot, i int) int32 {
	white, other := s.white[i], t.white[i]
	if white|other == 0 {
		return apart(s.codes, t.codes, i)
	}
	most := int32(0)
	for c := range 3 {
		d := int32(s.codes[c][i]) - int32(t.codes[c][i])
		if white>>c&1 == 0 {
			most = max(most, -d)
		}
		if other>>c&1 == 0 {
			most = max(most, d)
		}
	}
	return most
}

// limits are what a photo's pixels differ by at the most where nothing has changed, of their channels and of their
// brightness: leastChange, or what noise makes them differ by.
func (b *Base) limits(s *Shot) (channel, luma int32) {
	channels, lumas := make([]int32, 256*codeUnit), make([]int32, 256*codeUnit)
	total := int32(0)
	for i, u := range s.use {
		if u != 0 {
			channels[apart(b.codes, s.codes, i)]++
			d := b.codes.luma(i) - s.codes.luma(i)
			lumas[max(d, -d)]++
			total++
		}
	}
	// Of the largest of three differences 1.4 standard deviations are the median, of one 0.67.
	return max(leastChange*codeUnit, 4*medianOf(channels, total)), max(leastChange*codeUnit/2, 7*medianOf(lumas, total))
}

// medianOf is the middle of total whole numbers, of which there are counts.
func medianOf(counts []int32, total int32) int32 {
	seen := int32(0)
	for i, n := range counts {
		if seen += n; seen > 0 && 2*seen >= total {
			return int32(i)
		}
	}
	return 0
}

// doubt is by how many 32nds of a reduced pixel the places of a photo's edges are not known.
func (s *Shot) doubt() int32 {
	doubt := int32(placeDoubt)
	if s.shift != [2]int64{} {
		doubt += movedDoubt
	}
	if s.Sharpness > 0 && s.Sharpness < 0.95 {
		doubt += softDoubt
	}
	return doubt
}

// changed marks the pixels in which two photos differ by more than noise and the doubt about their edges explain.
func (b *Base) changed(u, v *Shot) []uint8 {
	limit, doubt := max(u.limit, v.limit), max(u.doubt(), v.doubt())
	out := make([]uint8, len(u.codes[0]))
	for i := range out {
		if u.apart(v, i) > limit+max(u.slopes[i], v.slopes[i])*doubt/32 {
			out[i] = 1
		}
	}
	return out
}

// bounds is a box in reduced pixels as one in photo pixels.
func (b *Base) bounds(box area) area {
	return area{Min: box.Min.Mul(b.factor), Max: box.Max.Mul(b.factor)}.Intersect(area{Max: b.size})
}
