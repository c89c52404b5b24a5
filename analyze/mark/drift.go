package mark

import "math"

// gain is by how much a channel of a photo is brighter than the empty stage, as a factor that may rise steadily across
// the picture: mid + x·across + y·down, with x and y from -1/2 to 1/2.
type gain struct{ mid, across, down float64 }

// at gives the gain at a pixel in units of 1/65536.
func (g gain) at(x, y, width, height int) int64 {
	dx := (float64(x)+0.5)/float64(width) - 0.5
	dy := (float64(y)+0.5)/float64(height) - 0.5
	return int64(math.Round((g.mid + float64(g.across*dx) + float64(g.down*dy)) * 65536))
}

// Bounds of what is taken for drift. Below and above these amounts of light, shares of fullLight, a ratio tells little:
// noise in the dark, clipping in the light.
const (
	darkest   = 0.02
	brightest = 0.9
	// logBins a unit of the natural logarithm, over logSpan to either side: light up to 7 times as strong or weak.
	logBins = 100
	logSpan = 2.0
	// tilt is the most that a gain may change across the picture, as a share of itself. Beyond that it is no drift.
	tilt = 0.25
	// finest is in how many steps a unit of ratio is counted.
	finest = 4096
)

// sample is one still or changed pixel's ratio of photo to stage.
type sample struct{ x, y, ratio float64 }

// fitGain finds a channel's gain from the pixels that agree with each other. They need not be most of the picture,
// only more than agree on any other gain.
func fitGain(stage, photo []uint16, width, height int) gain {
	step := 1
	for (width/step)*(height/step) > 15000 {
		step++
	}
	var samples []sample
	bins := make([]int, int(2*logSpan*logBins)+1)
	const low, high = darkest * fullLight, brightest * fullLight
	for y := step / 2; y < height; y += step {
		for x := step / 2; x < width; x += step {
			a, b := float64(stage[y*width+x]), float64(photo[y*width+x])
			if a < low || a > high || b > high {
				continue
			}
			log := math.Log(max(b, 1) / a)
			if math.Abs(log) >= logSpan {
				continue
			}
			bins[int(math.Floor((log+logSpan)*logBins))]++
			samples = append(samples, sample{(float64(x)+0.5)/float64(width) - 0.5, (float64(y)+0.5)/float64(height) - 0.5, b / a})
		}
	}
	if len(samples) < 100 { // a stage so dark or so bright tells nothing
		return gain{mid: 1}
	}
	return refine(samples, mode(bins))
}

// mode is the ratio around which most samples lie, within 4 % to either side.
func mode(bins []int) float64 {
	const reach = 4
	best, most := 0, -1
	for i := range bins {
		count := 0
		for j := max(i-reach, 0); j <= min(i+reach, len(bins)-1); j++ {
			// The middle counts more, so that among equals the centre is taken.
			count += bins[j] * (reach + 1 - max(i-j, j-i))
		}
		if count > most {
			best, most = i, count
		}
	}
	// Processors differ over the last bit of an exponential.
	const fine = 1 << 20
	return math.Round(math.Exp((float64(best)+0.5)/logBins-logSpan)*fine) / fine
}

// refine fits the gain to the samples near start by weighted least squares, with Tukey's biweight (Beaton and Tukey,
// Technometrics 16, 1974) against those that do not agree.
func refine(samples []sample, start float64) gain {
	g := gain{mid: start}
	reach := 0.12 * start
	for range 6 {
		var n [3][3]float64
		var r [3]float64
		var residuals [2 * finest]int // counts of |e|, in steps of a finest-th
		agreeing := 0
		for _, s := range samples {
			v := [3]float64{1, s.x, s.y}
			e := s.ratio - g.mid - float64(g.across*s.x) - float64(g.down*s.y)
			u := e / reach
			if math.Abs(u) >= 1 {
				continue
			}
			residuals[min(int(math.Abs(e)*finest), len(residuals)-1)]++
			agreeing++
			weight := (1 - float64(u*u)) * (1 - float64(u*u))
			for i := range v {
				r[i] += float64(weight * v[i] * s.ratio)
				for j := range v {
					n[i][j] += float64(weight * v[i] * v[j])
				}
			}
		}
		if n[0][0] <= 0 {
			return g
		}
		// A slope that little of the picture speaks for is held near 0.
		hold := 0.002 * n[0][0]
		n[1][1] += hold
		n[2][2] += hold
		if solved, ok := solve(n, r); ok {
			g = gain{solved[0], solved[1], solved[2]}
		}
		middle := 0
		for seen := residuals[0]; 2*seen < agreeing; seen += residuals[middle] {
			middle++
		}
		// 4.685 standard deviations; the median of |e| is 0.6745 of them.
		reach = min(reach, max(4.685/0.6745*(float64(middle)+0.5)/finest, 0.01*g.mid))
	}
	limit := tilt * g.mid
	g.across = min(max(g.across, -limit), limit)
	g.down = min(max(g.down, -limit), limit)
	return g
}

// solve solves three linear equations by Cramer's rule.
func solve(n [3][3]float64, r [3]float64) (x [3]float64, ok bool) {
	determinant := func(m [3][3]float64) float64 {
		a := float64(m[1][1]*m[2][2]) - float64(m[1][2]*m[2][1])
		b := float64(m[1][0]*m[2][2]) - float64(m[1][2]*m[2][0])
		c := float64(m[1][0]*m[2][1]) - float64(m[1][1]*m[2][0])
		return float64(m[0][0]*a) - float64(m[0][1]*b) + float64(m[0][2]*c)
	}
	d := determinant(n)
	if math.Abs(d) < 1e-12*math.Abs(float64(n[0][0]*n[1][1])*n[2][2]) || d == 0 {
		return x, false
	}
	for i := range x {
		m := n
		for j := range m {
			m[j][i] = r[j]
		}
		x[i] = determinant(m) / d
	}
	return x, true
}
