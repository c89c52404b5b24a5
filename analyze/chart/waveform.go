package chart

// bucketSeconds is the finest that a waveform is kept: a quarter of a frame at 25 frames a second.
const bucketSeconds = 0.01

// Source is a song as a stream; see envelope.Source.
type Source interface {
	Read(dst [][]float32) (int, error)
}

// Waveform keeps a song's least and greatest sample in every hundredth of a second, over all channels. It is a Source that
// passes another one on.
type Waveform struct {
	source    Source
	rate      int
	position  int64
	low, high []float32
}

// Watch gives source back with its waveform kept as it is read.
func Watch(source Source, sampleRate int) *Waveform {
	return &Waveform{source: source, rate: sampleRate}
}

// Read reads on.
func (w *Waveform) Read(dst [][]float32) (int, error) {
	n, err := w.source.Read(dst)
	perBucket := max(int64(float64(w.rate)*bucketSeconds), 1)
	for i := range n {
		bucket := int(w.position / perBucket)
		if bucket == len(w.low) {
			w.low, w.high = append(w.low, 0), append(w.high, 0)
		}
		for _, channel := range dst {
			w.low[bucket], w.high[bucket] = min(w.low[bucket], channel[i]), max(w.high[bucket], channel[i])
		}
		w.position++
	}
	return n, err
}

// between is the least and the greatest sample between two times.
func (w *Waveform) between(from, to float64) (low, high float32) {
	perBucket := max(int64(float64(w.rate)*bucketSeconds), 1)
	bucket := func(seconds float64) int { return int(seconds * float64(w.rate) / float64(perBucket)) }
	for i := max(bucket(from), 0); i <= bucket(to) && i < len(w.low); i++ {
		low, high = min(low, w.low[i]), max(high, w.high[i])
	}
	return max(low, -1), min(high, 1)
}
