// Package response turns envelopes into levels: how high each column stands in each frame.
package response

// Settings say how one column answers its band.
type Settings struct {
	Shared  bool    // the loudest column sets the scale for all; otherwise each column's own loudest part does
	Clip    float64 // share of the frames, 0 to 1, that may pass the top and are held there
	Floor   float64 // dB below the top, negative, at which the column is at its bottom level
	Curve   float64 // exponent on the 0..1 height
	Gain    float64 // dB
	Attack  float64 // ms, time constant of a rise
	Release float64 // ms, time constant of a fall
	Hold    int     // frames for which a level is shown at the least
	Top     int     // highest level used; TopOfSet for the highest there is
	Bottom  int     // lowest level used
}

// TopOfSet as Settings.Top stands for the highest level of the photo set.
const TopOfSet = -1

// Default is the response of a column about which nothing is said.
func Default() Settings {
	return Settings{Clip: 0.01, Floor: -30, Curve: 1, Release: 120, Hold: 2, Top: TopOfSet}
}
