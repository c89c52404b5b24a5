package envelope

import (
	"math"
	"math/bits"

	"github.com/mjibson/go-dsp/window"

	"colonnade/analyze/timing"
)

const (
	// framesPerWindow: a window of two frame intervals, from zero to zero, hands each sound over from one frame to
	// the next without a gap.
	framesPerWindow = 2
	// periodsPerWindow: a sine an octave below a band's lower edge is LowHz/2 away from it, which is half as many
	// bins of the window as the window holds periods of LowHz. Beyond 2.5 bins to one side a Hann window has hardly
	// less than -40 dB of its power, beyond 2.75 less than -42. A longer window would blur attacks for nothing.
	periodsPerWindow = 5.5
	// widthsPerWindow: a band narrower than three bins would not hold a sine's main lobe, which would then
	// read low. At 1.5 bins on either side 0.02 dB is lost.
	widthsPerWindow = 3
	// longestWindow, in seconds: beyond it a beat is no longer seen as one. Bands that reach below 14 Hz, or are
	// narrower than 6 Hz, are told apart less sharply for it.
	longestWindow = 0.5
	// slowestRate, in samples a second, and parts, the steps to a sample in which a window is placed, keep a
	// window's middle within a fifth of a millisecond of its frame's.
	slowestRate = 320
	parts       = 8
	// cellsOfWideBand is how many times a band's width must hold the width that its window can tell apart, 1/T, for the
	// share of the bins at its edges to matter little. A narrower band is read exactly, at twice the cost.
	cellsOfWideBand = 100
	// longestLookahead, in seconds, is how far behind the song's end a window's middle may lie: half a frame
	// does at any rate of one frame a second and more.
	longestLookahead = 0.5
)

// plan says how the parts are read.
type plan struct {
	sampleRate int
	rate       timing.Rate
	parts      []Part
	groups     []*group
	windows    []Window // of each part
	stages     int      // number of stages of the pyramid, at least 1
	margin     int64    // samples of the song's reflection that are needed at either end
	lookahead  int64    // samples behind the song's end at which the last frame's window may have its middle
}

// group is a set of parts that are read from the same transform.
type group struct {
	stage  int              // rate is sampleRate / 2^stage
	length int              // of the window in samples of the stage, even
	hann   [parts][]float64 // the window; hann[r] has its middle r parts before sample length/2
	sum    float64          // of the window, and of its every shift
	scale  float64          // from a weighted sum of |X|^2 to mean power
	shares []share

	transform *transform // its size is at least length; nil where the windowed samples themselves are read
}

func newPlan(sampleRate int, parts []Part, rate timing.Rate) *plan {
	p := &plan{sampleRate: sampleRate, rate: rate, parts: parts, windows: make([]Window, len(parts)), stages: 1}
	frame := float64(rate.Den) / float64(rate.Num)
	p.lookahead = int64(math.Ceil(math.Min(frame/2, longestLookahead) * float64(sampleRate)))
	type key struct{ stage, samples, size int }
	groups := map[key]*group{}
	for i, part := range parts {
		band := part.Band
		stage := stageOf(band, sampleRate)
		stageRate := math.Ldexp(float64(sampleRate), -stage)
		// An even number, so that the window has a middle sample.
		samples := 2 * max(2, int(math.Round(windowSeconds(band, frame)*stageRate/2)))
		p.windows[i] = Window{Seconds: float64(samples) / stageRate, Samples: samples, Rate: stageRate}
		p.stages = max(p.stages, stage+1)
		k := key{stage, samples, transformSize(band, samples, p.windows[i].Seconds)}
		if groups[k] == nil {
			groups[k] = newGroup(stage, samples, k.size)
			p.groups = append(p.groups, groups[k])
		}
		g := groups[k]
		s := share{band: i}
		if k.size > 0 {
			s = newShare(i, band.LowHz/stageRate, band.HighHz/stageRate, samples, k.size)
		}
		g.shares = append(g.shares, s)
	}
	for _, g := range p.groups {
		reach := int64(g.length/2+2)<<g.stage + int64(reach)*(1<<g.stage-1)
		p.margin = max(p.margin, reach+p.lookahead)
	}
	return p
}

// windowSeconds is the length of a band's window for frames of a length in seconds.
func windowSeconds(band Band, frame float64) float64 {
	t := math.Max(framesPerWindow*frame, widthsPerWindow/(band.HighHz-band.LowHz))
	switch {
	case band.LowHz > 0:
		t = math.Max(t, periodsPerWindow/band.LowHz)
	case !band.IsEverything():
		t = longestWindow
	}
	return math.Min(t, longestWindow)
}

// stageOf is the slowest copy of the song that still holds the band whole.
func stageOf(band Band, sampleRate int) int {
	stage := 0
	for {
		next := math.Ldexp(float64(sampleRate), -stage-1)
		if next < slowestRate || next*passband < band.HighHz {
			return stage
		}
		stage++
	}
}

// transformSize is the power of two that holds a window of samples, or twice as many where the spectrum between a
// band's edges is to be read exactly. Everything needs no transform.
func transformSize(band Band, samples int, seconds float64) int {
	if band.IsEverything() {
		return 0
	}
	if (band.HighHz-band.LowHz)*seconds < cellsOfWideBand {
		samples *= 2
	}
	return 1 << bits.Len(uint(samples-1))
}

func newGroup(stage, length, size int) *group {
	g := &group{stage: stage, length: length, sum: float64(length) / 2, scale: 1 / (float64(length) * 3 / 8)}
	if size > 0 {
		g.transform = newTransform(size)
		g.scale /= float64(size)
	}
	// Every eighth value of a Hann window eight times as long is a Hann window, shifted by where one begins. The
	// package makes the symmetric window; without its last value it is the periodic one, whose shifts alone
	// have the same sum, length/2, and the same sum of squares, 3/8 of length.
	fine := window.Hann(parts*length + 1)
	for r := range g.hann {
		g.hann[r] = make([]float64, length)
		for i := range g.hann[r] {
			g.hann[r][i] = roundCoefficient(fine[parts*i+r])
		}
	}
	return g
}

// place is where the window of a frame begins, in samples of the group's stage, and which of its shifts brings its middle
// nearest to the frame's. A middle that lies more than a sample behind sample end of the song is moved forward to there.
func (p *plan) place(g *group, frame int, end int64) (first int64, shift int) {
	middle := min(p.rate.MiddleSample(frame, parts*int64(p.sampleRate), 1<<g.stage), parts*end>>g.stage+parts)
	next := (middle + parts - 1) / parts
	return next - int64(g.length/2), int(parts*next - middle)
}
