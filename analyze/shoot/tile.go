package shoot

import (
	"math"
	"sort"

	"colonnade/compose/picture"
)

const (
	// largestTile is the side of the squares, at the photo's full size, on which shifts are measured.
	largestTile = 512
	// smallestTile is the least side on which a window leaves anything to correlate.
	smallestTile = 16
	// tilesMeasured of the largest tiles are enough to tell a shift from a turn and to outvote those in which something moves. Of
	// smaller ones more are needed, for each knows its shift less well; there are so few pixels in them that it takes no longer.
	tilesMeasured, smallTilesMeasured = 8, 20
	// leastStill is the share of a tile that must be still for it to be of use.
	leastStill = 0.12
	// tileMargin is how far a tile's surroundings are at hand: for smoothing, and for moving by a fraction.
	tileMargin = 6
)

// tile is a square of the base plate at full size.
type tile struct {
	x, y, n int
	use     []uint8 // 1 where still
	luma    []int32 // red + 2 green + blue of the codes
	// smooth is luma under a binomial kernel (1 4 6 4 1 along both axes, sum 256), which takes away what noise and
	// aliasing put into the finest frequencies. slopeX and slopeY are twice its slope.
	smooth, slopeX, slopeY []int32
	spectrum               spectrum
	score                  float64 // how surely a shift can be told from it
	noise                  float64 // see Measure, in 8-bit steps
}

// tileSide is the side of the tiles of a photo, 0 when it is too small for any. Two fit into its height, or a turn
// could not be told from a shift.
func tileSide(width, height int) int {
	n := largestTile
	for 2*n > min(width, height) {
		n /= 2
	}
	if n < smallestTile {
		return 0
	}
	return n
}

// chooseTiles takes the tiles that promise most from a grid over the photo. still tells of each pixel of the
// photo whether it should never change.
func chooseTiles(photo *picture.Picture, still func(x, y int) bool) []*tile {
	n := tileSide(photo.Width, photo.Height)
	if n == 0 {
		return nil
	}
	across, down := min((photo.Width+n-1)/n, 5), min((photo.Height+n-1)/n, 4)
	var tiles []*tile
	for j := range down {
		for i := range across {
			t := &tile{n: n, x: evenly(i, across, photo.Width-n), y: evenly(j, down, photo.Height-n)}
			if t.mark(still) >= leastStill {
				t.look(photo)
				tiles = append(tiles, t)
			}
		}
	}
	sort.SliceStable(tiles, func(a, b int) bool { return tiles[a].score > tiles[b].score })
	var taken []*tile
	wanted := tilesMeasured
	if n < largestTile {
		wanted = smallTilesMeasured
	}
	for _, t := range tiles {
		if len(taken) < wanted {
			t.noise = noiseOf(t.luma, t.use, n)
			if t.ready() {
				taken = append(taken, t)
			}
		}
	}
	return taken
}

// ready makes the tile's spectrum, and is false when it holds too little detail for a shift to be told.
func (t *tile) ready() bool {
	// Noise of one pixel is spread by the kernel; see refine, which works out the same from what is left over.
	spread := lumaVariance(t.noise) * 256 * 256 / smoothedNeighbours
	if t.score*scoreUnit*tileWithin*tileWithin < spread*smoothedNeighbours*4 {
		return false
	}
	tr := transform{t.n}
	t.spectrum = tr.look(t.luma, t.use)
	return tr.counted(t.spectrum, lumaVariance(t.noise)) >= leastFrequencies
}

// evenly spreads count tiles evenly from 0 to room.
func evenly(i, count, room int) int {
	if count == 1 {
		return room / 2
	}
	return room * i / (count - 1)
}

// mark fills use and gives the share of the tile that is still.
func (t *tile) mark(still func(x, y int) bool) float64 {
	t.use = make([]uint8, t.n*t.n)
	count := 0
	for y := range t.n {
		for x := range t.n {
			if still(t.x+x, t.y+y) {
				t.use[y*t.n+x] = 1
				count++
			}
		}
	}
	return float64(count) / float64(t.n*t.n)
}

func (t *tile) look(photo *picture.Picture) {
	patch := lumaPatch(photo, t.x, t.y, t.n)
	t.luma = inner(patch, t.n)
	wide, side := smoothed(patch, t.n+2*tileMargin)
	t.smooth, t.slopeX, t.slopeY = make([]int32, t.n*t.n), make([]int32, t.n*t.n), make([]int32, t.n*t.n)
	margin := (side - t.n) / 2
	for y := range t.n {
		for x := range t.n {
			i, at := y*t.n+x, (y+margin)*side+x+margin
			t.smooth[i] = wide[at]
			t.slopeX[i], t.slopeY[i] = wide[at+1]-wide[at-1], wide[at+side]-wide[at-side]
		}
	}
	t.rate()
}

// scoreUnit is the step of a score, so that rounding decides nothing.
const scoreUnit = 1 << 16

// rate says how much detail the tile has where it is still.
func (t *tile) rate() {
	var xx, xy, yy int64
	for i, used := range t.use {
		if used != 0 {
			gx, gy := int64(t.slopeX[i]), int64(t.slopeY[i])
			xx, xy, yy = xx+gx*gx, xy+gx*gy, yy+gy*gy
		}
	}
	t.score = math.Floor(lesserEigenvalue(float64(xx), float64(xy), float64(yy)) / scoreUnit)
}

// lesserEigenvalue of a symmetric matrix says how well the direction with the least detail is told (Shi and
// Tomasi 1994): edges that all run one way leave a shift along them unknown.
func lesserEigenvalue(xx, xy, yy float64) float64 {
	half := (xx - yy) / 2
	return (xx+yy)/2 - math.Sqrt(float64(half*half)+float64(xy*xy))
}

// lumaPatch is the brightness of the square of side n at (x, y) and tileMargin pixels around it. Past the
// photo's border the nearest pixel counts.
func lumaPatch(photo *picture.Picture, x, y, n int) []int32 {
	side := n + 2*tileMargin
	out := make([]int32, side*side)
	for j := range side {
		row := photo.Row(clamp(y+j-tileMargin, photo.Height))
		for i := range side {
			p := row[3*clamp(x+i-tileMargin, photo.Width):]
			out[j*side+i] = int32(p[0]) + 2*int32(p[1]) + int32(p[2])
		}
	}
	return out
}

// inner cuts the margin off a patch.
func inner(patch []int32, n int) []int32 {
	side := n + 2*tileMargin
	out := make([]int32, 0, n*n)
	for y := range n {
		out = append(out, patch[(y+tileMargin)*side+tileMargin:][:n]...)
	}
	return out
}

// smoothed is a square patch under the binomial kernel, times 256, two pixels less on each side.
func smoothed(patch []int32, side int) (out []int32, outSide int) {
	outSide = side - 4
	across := make([]int32, side*outSide)
	for y := range side {
		row := patch[y*side:][:side]
		for x := range outSide {
			across[y*outSide+x] = row[x] + row[x+4] + 4*(row[x+1]+row[x+3]) + 6*row[x+2]
		}
	}
	out = make([]int32, outSide*outSide)
	for y := range outSide {
		for x := range outSide {
			a := across[y*outSide+x:]
			out[y*outSide+x] = a[0] + a[4*outSide] + 4*(a[outSide]+a[3*outSide]) + 6*a[2*outSide]
		}
	}
	return out, outSide
}
