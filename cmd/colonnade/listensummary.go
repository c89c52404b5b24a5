package main

import (
	"fmt"
	"io"
	"math"
	"strings"

	"colonnade/analyze/envelope"
	"colonnade/analyze/flash"
	"colonnade/cmd/columnfile"
	"colonnade/compose/photos"
)

// summarise prints what the columns will do, and what of it looks poor. Decibels are 20 log10 of the RMS amplitude: a
// full-scale sine is -3.0. The window is the time that a frame hears: the longer, the more it blurs an attack. Match is
// the correlation of levels and sound.
func summarise(w io.Writer, file *columnfile.File, h *heard) {
	name := photos.Quote(file.Song)
	if h.info.Title != "" {
		name += ": " + h.info.Title
	}
	channels := fmt.Sprintf("%d channels", h.info.Channels)
	if h.info.Channels <= 2 {
		channels = []string{"mono", "stereo"}[h.info.Channels-1]
	}
	fmt.Fprintf(w, "%s: %s, %s, %d Hz, %s: %d frames at %s a second\n", name, h.info.Encoding, channels, h.info.Rate,
		flash.Clock(h.info.Seconds()), len(h.envelopes.Values[0]), file.Rate)
	if h.levels != "" {
		fmt.Fprintf(w, "levels: those of %s, frames %d to %d\n", photos.Quote(h.levels), h.table.First, h.table.First+len(h.table.Rows)-1)
	}
	fmt.Fprintln(w)
	width, followed := len("column"), len("follows, Hz")
	highest := 0
	for i, column := range file.Columns {
		width = max(width, len([]rune(column.Name)))
		followed = max(followed, len(follows(column)))
		highest = max(highest, len(h.summaries[i].Share)+column.Response.Bottom-1)
	}
	var shares strings.Builder
	for level := range highest + 1 {
		fmt.Fprintf(&shares, "%5d", level)
	}
	fmt.Fprintf(w, "%-*s  %*s  %6s  %7s  %7s  %8s  %5s  %6s  share of the time, in %%, at level\n", width, "column", followed, "follows, Hz",
		"window", "loudest", "top at", "changes", "match", "levels")
	fmt.Fprintf(w, "%-*s  %*s  %6s  %7s  %7s  %8s  %5s  %6s %s\n", width, "", followed, "", "ms", "dB", "dB", "a second", "", "used,%", shares.String())
	loudest := 0.0
	for i, column := range file.Columns {
		s := h.summaries[i]
		loudest = max(loudest, s.Reference)
		fmt.Fprintf(w, "%-*s  %*s  %6.0f  %7s  %7s  %8.1f  %5.2f  %6.0f ", width, column.Name, followed, follows(column), 1000*h.envelopes.Windows[i].Seconds,
			decibels(s.Loudest), decibels(s.Reference), s.ChangesPerSecond, s.Match, 100*s.Range)
		for range column.Response.Bottom {
			fmt.Fprintf(w, "%5s", "")
		}
		for _, share := range s.Share {
			fmt.Fprintf(w, "%5.0f", 100*share)
		}
		if s.Silent {
			fmt.Fprint(w, "  silent: the band holds no sound")
		}
		fmt.Fprintln(w)
	}
	if h.levels != "" {
		return // the keys that a remark names do not move them
	}
	remarks := false
	for i, column := range file.Columns {
		for _, remark := range h.summaries[i].Remarks(h.settings[i], loudest) {
			if !remarks {
				fmt.Fprintln(w)
				remarks = true
			}
			fmt.Fprintf(w, "%s: %s; %s\n", column.Name, remark.What, remark.Remedy)
		}
	}
}

// follows is what a column follows, in few letters.
func follows(column columnfile.Column) string {
	text := strings.TrimSuffix(column.Band.String(), " Hz")
	if column.Channel != envelope.Both {
		text = map[envelope.Channel]string{envelope.Left: "left ", envelope.Right: "right "}[column.Channel] + text
	}
	if column.Onset {
		text = "onsets " + text
	}
	return text
}

// decibels writes an RMS amplitude in dB, in a word where there is no number for it.
func decibels(amplitude float64) string {
	if amplitude <= 0 {
		return "silence"
	}
	return fmt.Sprintf("%.1f", 20*math.Log10(amplitude))
}
