package chart

// bucketSeconds is the finest that a waveform is kept: a quarter of a frame at 25 frames a second.
const bucketSeconds = 0.01

// Source is a song as a stream; see envelope.Source.
type Source interface {
	Read(dst [][]float32) (int, error)
}

// Waveform keeps a song's least and greatest sample, Low and High, in every hundredth of a second, over all channels. It is
// a Source that passes another one on, and stays what it is when that has ended.
type Waveform struct {
	SampleRate int
	Low, High  []float32

	source   Source
	position int64
}

// Watch gives source back with its waveform kept as it is read.
func Watch(source Source, sampleRate int) *Waveform {
	return &Waveform{source: source, SampleRate: sampleRate}
}

// Read reads on.
func (w *Waveform) Read(dst [][]float32) (int, error) {
	n, err := w.source.Read(dst)
	perBucket := max(int64(float64(w.SampleRate)*bucketSeconds), 1)
	for i := range n {
		bucket := int(w.position / perBucket)
		if bucket == len(w.Low) {
			w.Low, w.High = append(w.Low, 0), append(w.High, 0)
		}
		for _, channel := range dst {
			w.Low[bucket], w.High[bucket] = min(w.Low[bucket], channel[i]), max(w.High[bucket], channel[i])
		}
		w.position++
	}
	return n, err
}

// between is the least and the greatest sample between two times.
func (w *Waveform) between(from, to float64) (low, high float32) {
	perBucket := max(int64(float64(w.SampleRate)*bucketSeconds), 1)
	bucket := func(seconds float64) int { return int(seconds * float64(w.SampleRate) / float64(perBucket)) }
	for i := max(bucket(from), 0); i <= bucket(to) && i < len(w.Low); i++ {
		low, high = min(low, w.Low[i]), max(high, w.High[i])
	}
	return max(low, -1), min(high, 1)
}
