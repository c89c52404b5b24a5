package envelope

import (
	"math"
	"sync"
	"sync/atomic"

	"github.com/mjibson/go-dsp/fft"
)

// framesPerTask: a few frames at a time keep the workers evenly busy at little cost.
const framesPerTask = 8

// listener takes the song block by block and measures every frame whose window is complete.
type listener struct {
	plan     *plan
	workers  int
	channels []*pyramid
	next     []int // for each group the frame to be measured next
	values   [][]float64
	scratch  [][]complex128 // for each worker
	samples  int64          // length of the song, or unknown
}

func newListener(p *plan, channels, workers int) *listener {
	l := &listener{plan: p, workers: max(1, workers), samples: unknown}
	for range channels {
		l.channels = append(l.channels, newPyramid(p.stages, -p.margin))
	}
	largest := 0
	for _, g := range p.groups {
		l.next = append(l.next, 1)
		largest = max(largest, g.size)
	}
	l.values = make([][]float64, len(p.bands))
	for range l.workers {
		l.scratch = append(l.scratch, make([]complex128, largest))
	}
	return l
}

func (l *listener) result(samples int64) *Envelopes {
	return &Envelopes{Samples: samples, Values: l.values, Windows: l.plan.windows}
}

// push takes the next samples of each channel.
func (l *listener) push(samples [][]float32) {
	l.parallel(len(l.channels), func(_, c int) { l.channels[c].push(samples[c]) })
	l.measureReady()
	l.forget()
}

// finish takes the reflection behind the last of the song's samples and measures the frames that are left.
func (l *listener) finish(samples int64) {
	l.samples = samples
	behind := make([][]float32, len(l.channels))
	for c, channel := range l.channels {
		behind[c] = make([]float32, l.plan.margin)
		full := &channel.stages[0]
		for i := range behind[c] {
			// The samples were float32 before, so nothing is lost.
			behind[c][i] = float32(full.samples[mirrored(samples+int64(i), samples)-full.first])
		}
	}
	l.push(behind)
}

// ready is the last frame of the group whose window is complete, at least next-1.
func (l *listener) ready(g *group, next int) int {
	end := l.channels[0].stages[g.stage].end()
	last := math.MaxInt
	if l.samples != unknown {
		last = l.plan.rate.FrameCount(l.samples, l.plan.sampleRate)
	}
	frame := next - 1
	for frame < last {
		if first, _ := l.place(g, frame+1); first+int64(g.length) > end {
			break
		}
		frame++
	}
	return frame
}

// place is where a frame's window begins, and its shift.
func (l *listener) place(g *group, frame int) (first int64, shift int) {
	if l.samples == unknown {
		return l.plan.place(g, frame, unknown)
	}
	return l.plan.place(g, frame, l.samples+l.plan.lookahead)
}

// measureReady measures every frame whose window is complete. Each value is computed by one worker from the
// samples alone, so it does not matter by which.
func (l *listener) measureReady() {
	type task struct {
		group       *group
		first, last int
	}
	var tasks []task
	for i, g := range l.plan.groups {
		last := l.ready(g, l.next[i])
		for first := l.next[i]; first <= last; first += framesPerTask {
			tasks = append(tasks, task{g, first, min(last, first+framesPerTask-1)})
		}
		for _, s := range g.shares {
			l.values[s.band] = append(l.values[s.band], make([]float64, last+1-l.next[i])...)
		}
		l.next[i] = last + 1
	}
	l.parallel(len(tasks), func(worker, i int) {
		t := tasks[i]
		for frame := t.first; frame <= t.last; frame++ {
			l.measureFrame(t.group, frame, l.scratch[worker][:t.group.size])
		}
	})
}

// measureFrame transforms the channels two at a time, one as the real and one as the imaginary part: the power of
// both in bin k is then (|Z[k]|^2 + |Z[N-k]|^2) / 2.
func (l *listener) measureFrame(g *group, frame int, z []complex128) {
	from, shift := l.place(g, frame)
	hann := g.hann[shift]
	for c := 0; c < len(l.channels); c += 2 {
		first := l.channels[c].window(g, from)
		firstMean := mean(first, hann, g.sum)
		if c+1 < len(l.channels) {
			second := l.channels[c+1].window(g, from)
			secondMean := mean(second, hann, g.sum)
			for i, w := range hann {
				z[i] = complex((first[i]-firstMean)*w, (second[i]-secondMean)*w)
			}
		} else {
			for i, w := range hann {
				z[i] = complex((first[i]-firstMean)*w, 0)
			}
		}
		clear(z[g.length:])
		spectrum := fft.FFT(z)
		for _, s := range g.shares {
			sum := 0.0
			for i, weight := range s.weights {
				k := s.first + i
				sum += float64(weight * (power(spectrum[k]) + power(spectrum[(len(z)-k)&(len(z)-1)])))
			}
			l.values[s.band][frame-1] += sum / 2
		}
	}
	for _, s := range g.shares {
		v := &l.values[s.band][frame-1]
		// Rounding may leave an exact share of nothing a trace below 0.
		*v = quantise(math.Sqrt(max(0, *v) * g.scale / float64(len(l.channels))))
	}
}

// mean is the steady part of a stretch of samples under a window. Taken off before the transform, it leaks into
// no bin.
func mean(x, hann []float64, sumOfHann float64) float64 {
	sum := 0.0
	for i, w := range hann {
		sum += float64(w * x[i])
	}
	return sum / sumOfHann
}

func power(z complex128) float64 { return float64(real(z)*real(z)) + float64(imag(z)*imag(z)) }

// window is the stretch of the group's stage that begins with sample from.
func (p *pyramid) window(g *group, from int64) []float64 {
	s := &p.stages[g.stage]
	return s.samples[from-s.first:][:g.length]
}

// forget drops the samples that no frame to come needs, nor the reflection at the end.
func (l *listener) forget() {
	keep := make([]int64, l.plan.stages)
	for s := range keep {
		keep[s] = l.channels[0].stages[s].end()
	}
	keep[0] -= l.plan.margin
	for i, g := range l.plan.groups {
		// A last frame whose middle is moved forward once the end is known still begins behind the end, for no window is
		// longer than twice the lookahead.
		first, _ := l.place(g, l.next[i])
		keep[g.stage] = min(keep[g.stage], first)
	}
	for _, channel := range l.channels {
		channel.forget(keep)
	}
}

// parallel calls do(worker, i) for every i below count, on as many goroutines as there are workers.
func (l *listener) parallel(count int, do func(worker, i int)) {
	var next atomic.Int64
	var wait sync.WaitGroup
	for worker := range min(l.workers, count) {
		wait.Go(func() {
			for {
				i := int(next.Add(1)) - 1
				if i >= count {
					return
				}
				do(worker, i)
			}
		})
	}
	wait.Wait()
}
