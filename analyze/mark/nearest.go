package mark

// far is beyond every squared distance.
const far = 1 << 30

// nearest finds for each pixel the nearest labelled one: the squared distance between their centres, far where nothing is
// labelled, and its label. Label 0 is none. It is the exact Euclidean distance transform of A. Meijster, J. Roerdink and
// W. Hesselink, "A general algorithm for computing distance transforms in linear time", 2000, in whole numbers.
func nearest(labels []int32, width, height int) (squared, owner []int32) {
	// Along columns: distance to the nearest labelled pixel of the column, and its label.
	down := make([]int32, len(labels))
	owner = make([]int32, len(labels))
	none := int32(width + height)
	for x := range width {
		distance, label := none, int32(0)
		for y := range height {
			i := y*width + x
			if labels[i] != 0 {
				distance, label = 0, labels[i]
			} else if label != 0 {
				distance++
			}
			down[i], owner[i] = distance, label
		}
		distance, label = none, 0
		for y := height - 1; y >= 0; y-- {
			i := y*width + x
			if labels[i] != 0 {
				distance, label = 0, labels[i]
			} else if label != 0 {
				distance++
			}
			if distance < down[i] {
				down[i], owner[i] = distance, label
			}
		}
	}
	squared = make([]int32, len(labels))
	at, from := make([]int32, width), make([]int32, width) // the lower envelope of parabolas: where each stands, begins
	labelOf := make([]int32, width)
	for y := range height {
		g, o := down[y*width:][:width], owner[y*width:][:width]
		copy(labelOf, o)
		last := -1
		for u := int32(0); u < int32(width); u++ {
			if labelOf[u] == 0 {
				continue
			}
			begin := int32(0)
			for last >= 0 {
				i := at[last]
				// From here on the parabola at u lies below the one at i.
				begin = floorDiv(u*u-i*i+g[u]*g[u]-g[i]*g[i], 2*(u-i)) + 1
				if begin > from[last] {
					break
				}
				last--
				begin = 0
			}
			if begin < int32(width) {
				last++
				at[last], from[last] = u, begin
			}
		}
		if last < 0 {
			for x := range width {
				squared[y*width+x] = far
			}
			continue
		}
		for x := int32(width) - 1; x >= 0; x-- {
			for x < from[last] {
				last--
			}
			i := at[last]
			squared[int32(y*width)+x] = (x-i)*(x-i) + g[i]*g[i]
			o[x] = labelOf[i]
		}
	}
	return squared, owner
}

func floorDiv(a, b int32) int32 {
	q := a / b
	if a%b != 0 && (a < 0) != (b < 0) {
		q--
	}
	return q
}
