package photos

import (
	"math"
	"runtime"
	"sync"

	"colonnade/compose/light"
	"colonnade/compose/picture"
)

// weightBits is the precision of a resizing kernel's weights, which sum to 1<<weightBits exactly: a flat photo
// stays flat, and every processor computes the same.
const weightBits = 14

// taps are the source pixels that make one pixel of the result, along one axis.
type taps struct {
	first   int // may lie outside the photo: the nearest pixel counts
	weights []int64
}

// kernelTaps lays a cubic kernel (Keys 1981, a = -1/2) over count pixels that cover from..from+length of the
// source. When the picture gets smaller the kernel is stretched so that it averages all that a pixel covers.
func kernelTaps(from, length float64, count int) []taps {
	step := length / float64(count)
	stretch := math.Max(step, 1)
	out := make([]taps, count)
	for i := range out {
		centre := from + float64((float64(i)+0.5)*step)
		first := int(math.Floor(centre - float64(2*stretch) + 0.5))
		last := int(math.Ceil(centre + float64(2*stretch) - 0.5))
		weights := make([]float64, last-first)
		for j := range weights {
			weights[j] = keys((float64(first+j) + 0.5 - centre) / stretch)
		}
		out[i] = taps{first, fixedWeights(weights)}
	}
	return out
}

// keys is the cubic convolution kernel of R. Keys, IEEE Trans. ASSP 29 (1981), with a = -1/2.
func keys(x float64) float64 {
	x = math.Abs(x)
	switch {
	case x < 1:
		return float64(float64((1.5*x-2.5)*x)*x) + 1
	case x < 2:
		return float64(float64(float64((-0.5*x+2.5)*x)-4)*x) + 2
	}
	return 0
}

// resize makes the view's frame from a photo, mixing in light. Rows of the result are made side by side.
func resize(photo picture.Reader, v View, curve *light.Curve) *picture.Picture {
	across := kernelTaps(v.X, v.Width, v.Size.X)
	down := kernelTaps(v.Y, v.Height, v.Size.Y)
	out := picture.New(v.Size.X, v.Size.Y)
	workers := min(runtime.GOMAXPROCS(0), out.Height)
	var group sync.WaitGroup
	for w := range workers {
		group.Go(func() {
			resizeRows(photo, out, across, down, curve, out.Height*w/workers, out.Height*(w+1)/workers)
		})
	}
	group.Wait()
	return out
}

func resizeRows(photo picture.Reader, out *picture.Picture, across, down []taps, curve *light.Curve, from, to int) {
	width := 3 * out.Width
	ready := make(map[int][]int64) // source rows, resized across
	var spare [][]int64
	photoWidth, photoHeight := photo.Size()
	codes, source := make([]uint8, 3*photoWidth), make([]int64, 3*photoWidth)
	sums := make([]int64, width)
	for y := from; y < to; y++ {
		t := down[y]
		for row, line := range ready {
			if row < t.first {
				spare = append(spare, line)
				delete(ready, row)
			}
		}
		clear(sums)
		for i, weight := range t.weights {
			row := t.first + i
			line := ready[row]
			if line == nil {
				if n := len(spare); n > 0 {
					line, spare = spare[n-1], spare[:n-1]
				} else {
					line = make([]int64, width)
				}
				photo.Read(codes, 0, min(max(row, 0), photoHeight-1))
				for x, code := range codes {
					source[x] = int64(curve.Linear[code])
				}
				resizeRow(source, line, across)
				ready[row] = line
			}
			for x, v := range line {
				sums[x] += weight * v
			}
		}
		for x, v := range sums {
			v = (v + 1<<(weightBits-1)) >> weightBits
			out.Row(y)[x] = curve.Code(uint32(min(max(v, 0), light.One)))
		}
	}
}

func resizeRow(source, line []int64, across []taps) {
	last := len(source)/3 - 1
	for x, t := range across {
		var r, g, b int64
		if t.first >= 0 && t.first+len(t.weights)-1 <= last {
			at := source[3*t.first:]
			for i, weight := range t.weights {
				r += weight * at[3*i]
				g += weight * at[3*i+1]
				b += weight * at[3*i+2]
			}
		} else {
			for i, weight := range t.weights {
				at := 3 * min(max(t.first+i, 0), last)
				r += weight * source[at]
				g += weight * source[at+1]
				b += weight * source[at+2]
			}
		}
		const half = 1 << (weightBits - 1)
		line[3*x], line[3*x+1], line[3*x+2] = (r+half)>>weightBits, (g+half)>>weightBits, (b+half)>>weightBits
	}
}
