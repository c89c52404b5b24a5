package sound

import (
	"io"
	"math"
	"runtime"
	"sync"
	"sync/atomic"

	"colonnade/analyze/timing"
)

// Bank is a song's power in narrow cells of frequency, once a frame, read with windows of several lengths. The power of a
// band is the sum of its cells in the reading whose window is as long as the one that package envelope gives the band;
// between two lengths it is taken from both.
type Bank struct {
	Edges    []float64 // Hz; cell i lies from Edges[i] to Edges[i+1]
	Step     float64   // dB from one code to the next
	Loudest  float64   // dB of code 255; code 0 is silence
	Readings []Reading // from the shortest window to the longest
}

// Reading is what one length of window tells.
type Reading struct {
	Seconds float64
	First   int       // index of the first cell
	Codes   [][]uint8 // Codes[cell-First][frame-1]
}

const (
	// codeStep, in dB: half a step is the most that a cell alone is off.
	codeStep = 0.4
	// lengthsPerOctave of windows' lengths.
	lengthsPerOctave = 4
	// longestWindow, framesPerWindow and periodsPerWindow are package envelope's.
	longestWindow, framesPerWindow, periodsPerWindow = 0.5, 2.0, 5.5
	// highestSlow is the frequency up to which long windows are read, from a copy of the song of about slowRate samples a
	// second. Bands that need them lie below; what they have above comes from the shortest window.
	highestSlow, slowRate = 500.0, 2000
	// blockSamples is how much is read at a time.
	blockSamples = 1 << 16
	// unknown is the length of a song whose end has not been seen.
	unknown = math.MaxInt64 / 4
)

// listener reads a song and measures the frames whose windows are complete.
type listener struct {
	rate       timing.Rate
	sampleRate int
	fast       *reading
	channels   [][]float32 // from sample first on
	first      int64
	decimators []*decimator
	slow       [][]float32
	power      [][]float32 // power[frame][cell] of the fast reading
}

// Measure reads a song to its end. edges are those of the cells, at least two. The first and last frames hear the song
// mirrored, as in package envelope.
func Measure(source Source, sampleRate, channels int, edges []float64, rate timing.Rate) (*Bank, error) {
	seconds := windowLengths(rate)
	l := &listener{rate: rate, sampleRate: sampleRate, channels: make([][]float32, channels), slow: make([][]float32, channels)}
	l.fast = newReading(seconds[0], float64(sampleRate), edges, 0, len(edges)-1, 2)
	factor := max(1, sampleRate/slowRate)
	for range channels {
		l.decimators = append(l.decimators, newDecimator(factor))
	}
	block := make([][]float32, channels)
	for c := range block {
		block[c] = make([]float32, blockSamples)
	}
	total := int64(0)
	for {
		n, err := source.Read(block)
		for c := range block {
			l.channels[c] = append(l.channels[c], block[c][:n]...)
			l.slow[c] = l.decimators[c].push(l.slow[c], block[c][:n])
		}
		total += int64(n)
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, err
		}
		l.measure(l.complete(total), unknown)
		l.forget()
	}
	frames := rate.FrameCount(total, sampleRate)
	l.measure(frames, total)
	bank := &Bank{Edges: edges, Step: codeStep}
	powers := [][][]float32{l.power}
	readings := []*reading{l.fast}
	for c := range l.slow {
		l.slow[c] = l.decimators[c].finish(l.slow[c])
	}
	slowest := 0 // the number of cells that the slow copy holds
	for slowest < len(edges)-1 && edges[slowest] < highestSlow {
		slowest++
	}
	for i, length := range seconds {
		first := 0
		if i > 0 && i+1 < len(seconds) {
			for first < slowest && edges[first+1] <= periodsPerWindow/seconds[i+1] {
				first++
			}
		}
		if first == slowest {
			continue
		}
		r := newReading(length, float64(sampleRate)/float64(factor), edges, first, slowest, 4)
		power := make([][]float32, frames)
		l.each(1, frames, r, func(n int, row []float32, z []complex128, t *transform) {
			power[n-1] = row
			middle := rate.MiddleSample(n, int64(sampleRate), int64(factor))
			read(r, l.slow, middle-int64(r.length/2), 0, int64(len(l.slow[0])), row, z, t)
		})
		if i > 0 {
			readings, powers = append(readings, r), append(powers, power)
			continue
		}
		for n, row := range power { // read more finely than by the fast one
			copy(l.power[n], row)
		}
	}
	bank.code(readings, powers)
	return bank, nil
}

// windowLengths are the lengths that windows are read with, in seconds, from the shortest that a frame rate has.
func windowLengths(rate timing.Rate) []float64 {
	shortest := min(framesPerWindow/rate.PerSecond(), longestWindow)
	lengths := []float64{shortest}
	for i := 1; ; i++ {
		next := shortest * math.Exp2(float64(i)/lengthsPerOctave)
		if next >= longestWindow {
			break
		}
		lengths = append(lengths, next)
	}
	if shortest < longestWindow {
		lengths = append(lengths, longestWindow)
	}
	return lengths
}

// start is the sample at which a frame's window begins.
func (l *listener) start(n int) int64 {
	return l.rate.MiddleSample(n, int64(l.sampleRate), 1) - int64(l.fast.length/2)
}

// complete is the last frame whose window ends before sample total.
func (l *listener) complete(total int64) int {
	n := len(l.power)
	for l.start(n+1)+int64(l.fast.length) <= total {
		n++
	}
	return n
}

// measure reads the frames up to last of a song of total samples.
func (l *listener) measure(last int, total int64) {
	from := len(l.power) + 1
	if last < from {
		return
	}
	l.power = append(l.power, make([][]float32, last+1-from)...)
	l.each(from, last, l.fast, func(n int, row []float32, z []complex128, t *transform) {
		l.power[n-1] = row
		read(l.fast, l.channels, l.start(n), l.first, total, row, z, t)
	})
}

// forget drops what no frame to come hears. Enough stays for the mirrored end.
func (l *listener) forget() {
	keep := l.start(len(l.power)+1) - 2*int64(l.fast.length)
	if drop := keep - l.first; drop > blockSamples {
		for c := range l.channels {
			l.channels[c] = append(l.channels[c][:0], l.channels[c][drop:]...)
		}
		l.first = keep
	}
}

// each calls do for every frame, on all cores.
func (l *listener) each(from, to int, r *reading, do func(n int, row []float32, z []complex128, t *transform)) {
	var next atomic.Int64
	next.Store(int64(from))
	var group sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		group.Go(func() {
			t, z := newTransform(r.size), make([]complex128, r.size)
			for {
				n := int(next.Add(1)) - 1
				if n > to {
					return
				}
				do(n, make([]float32, len(r.cells)), z, t)
			}
		})
	}
	group.Wait()
}

// read reads one frame. The window begins at sample from; channels begin at sample first of a song of total samples.
func read(r *reading, channels [][]float32, from, first, total int64, row []float32, z []complex128, t *transform) {
	power := make([]float64, len(row))
	sample := func(c int) func(int) float64 {
		if c >= len(channels) {
			return func(int) float64 { return 0 }
		}
		samples := channels[c]
		if from >= first && from+int64(r.length) <= min(total, first+int64(len(samples))) {
			samples = samples[from-first:]
			return func(i int) float64 { return float64(samples[i]) }
		}
		return func(i int) float64 {
			at := mirrored(from+int64(i), total) - first
			if at < 0 || at >= int64(len(samples)) {
				return 0
			}
			return float64(samples[at])
		}
	}
	for c := 0; c < len(channels); c += 2 {
		r.window(z, sample(c), sample(c+1))
		r.add(power, t.of(z))
	}
	for i, v := range power {
		row[i] = float32(v / float64(len(channels)))
	}
}

// mirrored is the sample that is heard at index i of a song of n samples; see package envelope.
func mirrored(i, n int64) int64 {
	if n < 1 {
		return -1
	}
	if i < 0 {
		i = -1 - i
	}
	if i %= 2 * n; i >= n {
		return 2*n - 1 - i
	}
	return i
}

// code turns powers into codes of so many decibels.
func (b *Bank) code(readings []*reading, powers [][][]float32) {
	b.Loudest = -60
	for _, power := range powers {
		for _, row := range power {
			for _, v := range row {
				b.Loudest = max(b.Loudest, 10*math.Log10(float64(v)))
			}
		}
	}
	b.Loudest = math.Ceil(b.Loudest)
	for i, r := range readings {
		out := Reading{Seconds: r.seconds, First: r.first}
		for c := range r.cells {
			codes := make([]uint8, len(powers[i]))
			for n, row := range powers[i] {
				code := 255 + math.Round((10*math.Log10(float64(row[c]))-b.Loudest)/codeStep)
				if code > 0 { // silence is minus infinity
					codes[n] = uint8(code)
				}
			}
			out.Codes = append(out.Codes, codes)
		}
		b.Readings = append(b.Readings, out)
	}
}
