package envelope

import (
	"math"
	"testing"
)

// TestNoiseReadsItsShareInEveryBand: the power of white noise goes with the width of a band, that of pink noise
// with the logarithm of the ratio of its edges (their definitions), for noise from 0 to 24 kHz and from 16 Hz to
// 16 kHz. The shares in dB are worked out from that.
func TestNoiseReadsItsShareInEveryBand(t *testing.T) {
	const sampleRate = 48000
	white := coloured(1<<22, sampleRate, func(hz float64) float64 { return 1 })
	pink := coloured(1<<22, sampleRate, func(hz float64) float64 {
		if hz < 16 || hz > 16000 {
			return 0
		}
		return 1 / hz
	})
	w := hear(t, sampleRate, usualBands, pal, white)
	p := hear(t, sampleRate, usualBands, pal, pink)
	shares := []struct{ white, pink float64 }{
		{-27.37, -7.18}, {-21.02, -6.85}, {-19.82, -9.99}, {-12.04, -6.98}, {-10.79, -9.99}, {-10.79, -12.31}, {-3.80, -8.48},
	}
	for b, band := range usualBands {
		within := 0.1
		if b == 0 {
			within = 0.2 // the window blurs the noise's own lower end, and few waves pass even in a minute and a half
		}
		wantDecibels(t, "white noise in "+band.String(), rootMeanSquare(w.Values[b])*8, math.Pow(10, shares[b].white/20), within)
		wantDecibels(t, "pink noise in "+band.String(), rootMeanSquare(p.Values[b])*8, math.Pow(10, shares[b].pink/20), within)
	}
}
