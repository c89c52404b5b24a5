package envelope

import (
	"math"
	"testing"
)

// TestBurstIsHalfRisenWithinAFrame: a tone that sets in at once reads half of what it will read no more than a frame, 40 ms,
// before or after it sets in, in every usual band, wherever in a frame that is. Half of an envelope whose window is as
// long as two frames is reached sooner than half a frame before.
func TestBurstIsHalfRisenWithinAFrame(t *testing.T) {
	for _, sampleRate := range []int{44100, 22050} {
		for _, band := range usualBands {
			for _, hz := range []float64{band.LowHz * 1.25, math.Sqrt(band.LowHz * band.HighHz), band.HighHz * 0.9} {
				if hz > float64(sampleRate)/2.5 {
					continue
				}
				earliest, latest := math.Inf(1), math.Inf(-1)
				for part := range 5 {
					start := sampleRate/2 + sampleRate/25*part/5
					x := sine(1, hz, 0.2*float64(part), 1, sampleRate)
					clear(x[:start])
					values := hear(t, sampleRate, []Band{band}, pal, x).Values[0]
					for n, v := range values {
						if v < 0.5*math.Sqrt(0.5) {
							continue
						}
						// Between this frame and the one before, on a straight line.
						back := (v - 0.5*math.Sqrt(0.5)) / (v - values[n-1])
						risen := (float64(n)+0.5-back)/25 - float64(start)/float64(sampleRate)
						earliest, latest = min(earliest, risen), max(latest, risen)
						break
					}
				}
				if !(earliest >= -0.040 && latest <= 0.040) {
					t.Errorf("%d Hz, %v: a tone of %.0f Hz is half risen at %.1f to %.1f ms", sampleRate, band, hz, 1000*earliest, 1000*latest)
				}
			}
		}
	}
}
