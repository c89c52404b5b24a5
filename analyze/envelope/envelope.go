// Package envelope measures how loud a song is in each band, once a frame.
package envelope

// Band is a range of frequencies in Hz.
type Band struct{ LowHz, HighHz float64 }
