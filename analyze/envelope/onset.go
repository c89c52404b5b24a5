package envelope

import (
	"math"

	"colonnade/analyze/timing"
)

const (
	// stripRatio is the least ratio of a strip's edges, a third of an octave: about what the ear takes together.
	stripRatio = 1.2599
	// cellsPerStrip is the least width of a strip in what the band's window can tell apart. Noise in fewer cells swells and
	// ebbs so much by itself that each swell would seem to set in.
	cellsPerStrip = 4
	// lowestStrip, in Hz, is where the strips of everything begin: lower ones would take longer windows and hold few notes.
	lowestStrip = 40
)

// strips are the parts of a band that its onsets are told from. They meet, and fill it.
func strips(band Band, sampleRate int, rate timing.Rate) []Band {
	if band.IsEverything() {
		band = Band{lowestStrip, float64(sampleRate) / 2}
	}
	if band.LowHz <= 0 || band.HighHz <= band.LowHz {
		return []Band{band}
	}
	least := cellsPerStrip / windowSeconds(band, float64(rate.Den)/float64(rate.Num))
	next := func(edge float64) float64 { return math.Max(edge*stripRatio, edge+least) }
	var all []Band
	for low := band.LowHz; ; low = all[len(all)-1].HighHz {
		high := next(low)
		if next(high) > band.HighHz { // no room for another
			return append(all, Band{low, band.HighHz})
		}
		all = append(all, Band{low, high})
	}
}

// onsets is the spectral flux of a band whose strips have the levels strips[strip][n-1] in frame n: the root of the sum of
// the squares of the strips' rises in two frames. It is the RMS amplitude of what has set in since then, so that a sound in
// silence reads what its level reads, and one that goes on reads nothing. Before the first frame is silence.
//
// Two frames apart windows of two frames do not overlap. Of a stroke that falls into two windows, one frame apart, the rise
// from the first to the second may be the smaller one, and it would seem to set in a frame early.
func onsets(strips [][]float64) []float64 {
	const apart = framesPerWindow
	if len(strips) == 0 {
		return nil
	}
	onsets := make([]float64, len(strips[0]))
	for n := range onsets {
		sum := 0.0
		for _, levels := range strips {
			rise := levels[n]
			if n >= apart {
				rise = math.Max(0, levels[n]-levels[n-apart])
			}
			sum += float64(rise * rise)
		}
		onsets[n] = quantise(math.Sqrt(sum))
	}
	return onsets
}
