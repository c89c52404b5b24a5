package envelope

import (
	"math"
	"sync"
	"sync/atomic"
)

// framesPerTask: a few frames at a time keep the workers evenly busy at little cost. It is even, for the sake of pairs.
const framesPerTask = 8

// listener takes the song block by block and measures every frame whose window is complete.
type listener struct {
	plan     *plan
	workers  int
	channels []*pyramid
	next     []int       // for each group the frame to be measured next
	takes    [][]float64 // takes[part][channel] is the share of the channel's power
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
		largest = max(largest, g.length)
		if g.transform != nil {
			largest = max(largest, g.transform.size)
		}
	}
	l.values = make([][]float64, len(p.parts))
	for _, part := range p.parts {
		l.takes = append(l.takes, takes(part.Channel, channels))
	}
	for range l.workers {
		l.scratch = append(l.scratch, make([]complex128, largest))
	}
	return l
}

// takes is how much a part takes of the power of each channel.
func takes(channel Channel, channels int) []float64 {
	share := make([]float64, channels)
	switch {
	case channel == Both || channels == 1:
		for c := range share {
			share[c] = 1 / float64(channels)
		}
	case channel == Left:
		share[0] = 1
	default:
		share[1] = 1
	}
	return share
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
	if len(l.channels) == 1 && frame < last {
		frame -= frame % 2 // frames go in pairs, and always in the same ones
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
		l.measure(t.group, t.first, t.last, l.scratch[worker])
	})
}

// measure measures the frames first to last of a group. Two signals share a transform, one as the real and one as the
// imaginary part: two channels of a frame or, where there is but one channel, two frames.
func (l *listener) measure(g *group, first, last int, z []complex128) {
	if len(l.channels) == 1 {
		for frame := first; frame <= last; frame += 2 {
			pair := [2]signal{l.signal(g, 0, frame)}
			if frame < last {
				pair[1] = l.signal(g, 0, frame+1)
			}
			l.measurePair(g, pair, z)
		}
	} else {
		for frame := first; frame <= last; frame++ {
			for c := 0; c < len(l.channels); c += 2 {
				pair := [2]signal{l.signal(g, c, frame)}
				if c+1 < len(l.channels) {
					pair[1] = l.signal(g, c+1, frame)
				}
				l.measurePair(g, pair, z)
			}
		}
	}
	for _, s := range g.shares {
		for frame := first; frame <= last; frame++ {
			v := &l.values[s.band][frame-1]
			// Rounding may leave an exact share of nothing a trace below 0.
			*v = quantise(math.Sqrt(max(0, *v) * g.scale))
		}
	}
}

// signal is what a frame hears of a channel.
type signal struct {
	samples, hann  []float64
	channel, frame int // frame 0 where there is no signal
}

func (l *listener) signal(g *group, channel, frame int) signal {
	from, shift := l.place(g, frame)
	return signal{l.channels[channel].window(g, from), g.hann[shift], channel, frame}
}

// measurePair adds the weighted sums of two signals' spectra to their frames. With Z the transform of the first and i
// times the second, in bin k the sum of their powers is (|Z[k]|^2 + |Z[N-k]|^2) / 2, and the first less the second the
// real part of Z[k] Z[N-k].
func (l *listener) measurePair(g *group, pair [2]signal, z []complex128) {
	first, second := pair[0], pair[1]
	windowPair(z, first, second, g.sum)
	var place []int32
	if g.transform != nil {
		z, place = z[:g.transform.size], g.transform.place
		clear(z[g.length:])
		g.transform.of(z)
	}
	for _, s := range g.shares {
		sum, difference := 0.0, 0.0
		if g.transform == nil {
			for _, v := range z[:g.length] {
				one, two := float64(real(v)*real(v)), float64(imag(v)*imag(v))
				sum, difference = sum+one+two, difference+one-two
			}
		}
		for i, weight := range s.weights {
			k := s.first + i
			one, twin := z[place[k]], z[place[(len(place)-k)&(len(place)-1)]]
			sum += float64(weight * ((power(one) + power(twin)) / 2))
			difference += float64(weight * (float64(real(one)*real(twin)) - float64(imag(one)*imag(twin))))
		}
		values, takes := l.values[s.band], l.takes[s.band]
		if second.frame == 0 {
			values[first.frame-1] += float64(takes[first.channel] * sum)
		} else {
			values[first.frame-1] += float64(takes[first.channel] * ((sum + difference) / 2))
			values[second.frame-1] += float64(takes[second.channel] * ((sum - difference) / 2))
		}
	}
}

// windowPair puts two signals under their windows, without their steady parts.
func windowPair(z []complex128, first, second signal, sumOfHann float64) {
	x, hann := first.samples, first.hann[:len(first.samples)]
	z = z[:len(x)]
	steady := mean(x, hann, sumOfHann)
	if second.frame == 0 {
		for i, w := range hann {
			z[i] = complex((x[i]-steady)*w, 0)
		}
		return
	}
	y, otherHann := second.samples[:len(x)], second.hann[:len(x)]
	otherSteady := mean(y, otherHann, sumOfHann)
	for i, w := range hann {
		z[i] = complex((x[i]-steady)*w, (y[i]-otherSteady)*otherHann[i])
	}
}

// mean is the steady part of a stretch of samples, an even number, under a window. Taken off before the transform, it
// leaks into no bin.
func mean(x, hann []float64, sumOfHann float64) float64 {
	even, odd := 0.0, 0.0
	x = x[:len(hann)]
	for i := 1; i < len(hann); i += 2 {
		even += float64(hann[i-1] * x[i-1])
		odd += float64(hann[i] * x[i])
	}
	return (even + odd) / sumOfHann
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
