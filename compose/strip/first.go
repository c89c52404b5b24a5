package strip

// A band's code is that of a parse of its sample, which itself needs a code to know what is cheap. This first one is made of the band's
// literals and of the matches that bands of its kind have had: with matches that are all alike, for the cheapest ones were not known, files
// of photographs were two parts in a hundred larger. A second parse with the code of the first makes them smaller by another two to four parts in
// a thousand, black and white ones by a hundredth: that is what is parsed to compare rivals taken for, where there are any.

// usual is the matches of a kind of band, as they were counted, about, in frames of six columns with photographs of Debian's
// mate-backgrounds, and in such that are drawn.
type usual struct {
	matches   uint32                        // how much they count, against a thousand for the bytes of the sample
	lengths   [symbols - firstLength]uint32 // how often each symbol comes, of a thousand matches
	distances [distances]uint32             // the same
}

// usuals is by kind.
var usuals = [...]usual{
	kindPhoto:  {330, lengthsPhoto, distancesPhoto},
	kindSmooth: {330, lengthsPhoto, distancesPhoto},
	kindGrey: {2000,
		[...]uint32{86, 1, 1, 150, 1, 1, 140, 1, 100, 1, 70, 200, 30, 70, 70, 30, 25, 8, 6, 3, 2, 2, 2, 1, 1, 1, 1, 1, 1},
		[...]uint32{1, 1, 150, 1, 35, 1, 50, 21, 48, 22, 55, 38, 64, 50, 66, 44, 50, 34, 32, 6, 1, 1, 1, 1, 160, 7, 48, 1, 16, 1}},
	kindDense: {200,
		[...]uint32{840, 1, 65, 70, 2, 3, 4, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 4},
		distancesPhoto},
	kindDrawn: usualDrawn,
	kindSlope: usualDrawn,
}

var (
	usualDrawn = usual{250,
		[...]uint32{20, 1, 30, 50, 15, 20, 20, 15, 15, 20, 10, 40, 20, 50, 40, 20, 40, 50, 15, 15, 15, 15, 20, 15, 25, 30, 20, 20, 200},
		[...]uint32{600, 2, 100, 5, 20, 2, 25, 10, 30, 20, 30, 20, 20, 10, 10, 8, 6, 3, 1, 1, 1, 1, 1, 1, 15, 1, 10, 3, 10, 5}}
	lengthsPhoto = [...]uint32{70, 2, 90, 60, 20, 100, 100, 55, 110, 80, 60, 70, 55, 30, 12, 8, 6, 4, 2, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1}
	// The pixel to the left and, at seams, the byte; and the row above, if it is between 1400 and 2000 pixels long.
	distancesPhoto = [...]uint32{290, 1, 110, 2, 35, 2, 50, 24, 55, 28, 58, 40, 52, 40, 45, 27, 28, 19, 14, 3, 1, 1, 1, 1, 35, 3, 14, 1, 2, 1}
)

// firstTable is the table for the bytes of a sample, counted as literals, and for the usual matches.
func firstTable(seen *counts, as kind) *table {
	total := uint64(seen.all())
	of := &usuals[as]
	for i, n := range of.lengths {
		seen.symbols[firstLength+i] = uint32(total * uint64(of.matches) * uint64(n) / 1e6)
	}
	seen.distances = of.distances
	return newTable(seen)
}
