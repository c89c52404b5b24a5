package strip

import "math/bits"

// A JPEG file codes blocks of eight by eight samples by themselves (ITU-T T.81, 4.1 and A.1.1; numbers of sections from memory). Within
// them a row is much like the one above, but the first row of a block, a seam, is not: there what is to the left tells more. Where photos
// are not resized, Sub on seams makes files of photographs three parts in a hundred smaller. Where a view cuts them the seams move.
const (
	seams  = 8
	noSeam = -1
)

// literals is how often each byte occurs.
type literals [256]uint32

// size is about how many bits it takes to tell how far bytes are from 0, all together, but at most three each: those that are far, at
// objects' edges, do not weigh much.
func (l *literals) size() (sum int64) {
	for value, n := range l {
		sum += int64(n) * int64(min(bits.Len8(uint8(min(value, len(l)-value))), 3))
	}
	return sum
}

// bytes is how many there are.
func (l *literals) bytes() (sum int64) {
	for _, n := range l {
		sum += int64(n)
	}
	return sum
}

// findSeam finds the rows at which what Up leaves is largest in the mean, if it is larger by an eighth than at the others.
func findSeam(groups []*choice) int {
	var means [seams]int64 // in 65536ths
	all, seam := int64(0), 0
	for row := range means {
		size, bytes := int64(0), int64(0)
		for _, g := range groups {
			if !g.drawn {
				size += g.seen[filterUp][row].size()
				bytes += g.seen[filterUp][row].bytes()
			}
		}
		means[row] = size << 16 / max(bytes, 1)
		all += means[row]
		if means[row] > means[seam] {
			seam = row
		}
	}
	if others := (all - means[seam]) / (seams - 1); means[seam] <= others+others/8 {
		return noSeam
	}
	return seam
}
