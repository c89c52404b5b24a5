package response

import (
	"fmt"
	"math"

	"colonnade/analyze/levels"
)

// Limits beyond which a measure is poor. They were set on nineteen pieces of electronic, orchestral, piano and folk-like
// music and speech, in six bands each, so that what is remarked on also looks poor.
const (
	longTop       = 0.15  // share of the time at the top: a peak is no peak any more
	shortTop      = 0.002 // and so rarely that it seems never to be reached
	longRest      = 0.75  // share of the time at the bottom
	shortRest     = 0.005
	crowded       = 0.8 // share of the time at the two lowest levels, of four or more
	manyChanges   = 8.0 // a second: flicker
	fewChanges    = 0.4
	looseMatch    = 0.4
	smallRange    = 0.6
	shown         = 0.01 // of the time: a level that is shown less is not used
	hardlyHeard   = 38.0 // dB below the loudest column
	longRelease   = 300. // ms: a release that may be what keeps a column from moving
	gentleRelease = 250. // ms: beyond it hold is the key against flicker
)

// atBottom is the share of the frames at the lowest level.
func (s Summary) atBottom() float64 { return s.Share[0] }

// atTop is the share of the frames at the highest level.
func (s Summary) atTop() float64 { return s.Share[len(s.Share)-1] }

// Remark says in what a column dances poorly, and what to change in the column file.
type Remark struct{ What, Remedy string }

// Remarks holds the measures of a column against what looks well. loudest is the greatest Reference of all columns.
// There are none for a column that is silent, or has but one level.
func (s Summary) Remarks(settings Settings, loudest float64) []Remark {
	var remarks []Remark
	say := func(remedy, what string, values ...any) {
		remarks = append(remarks, Remark{fmt.Sprintf(what, values...), remedy})
	}
	if s.Silent || len(s.Share) < 2 {
		return nil
	}
	if below := 20 * math.Log10(loudest/s.Reference); below > hardlyHeard {
		say(`follow a band with more sound, or write scale = "shared"`, "its top is %.0f dB below the loudest column's, so that it moves to what is hardly heard", below)
	}
	switch top := s.atTop(); {
	case top > longTop:
		say("lower its gain, by 3 dB to begin with", "it stands at its top %.0f %% of the time", 100*top)
	case top < shortTop && settings.Attack > 0:
		say("lower its attack", "it hardly ever reaches its top")
	case top < shortTop:
		say("raise its gain", "it hardly ever reaches its top")
	}
	switch rest := s.atBottom(); {
	case rest > longRest:
		say("write a curve below 1, such as 0.6", "it rests %.0f %% of the time", 100*rest)
	case len(s.Share) >= 4 && rest+s.Share[1] > crowded:
		say(fmt.Sprintf("raise its clip, to %g to begin with", math.Max(0.03, 2*settings.Clip)), "it spends %.0f %% of the time at its two lowest levels", 100*(rest+s.Share[1]))
	case rest < shortRest:
		say(fmt.Sprintf("raise its floor, to %g to begin with", math.Round(settings.Floor*2/3)), "it hardly ever rests")
	}
	switch changes := s.ChangesPerSecond; {
	case changes > manyChanges && settings.Release < gentleRelease:
		say(fmt.Sprintf("raise its release, to %g to begin with", math.Max(50, math.Round(settings.Release*2))), "it changes %.1f times a second, which flickers", changes)
	case changes > manyChanges:
		say(fmt.Sprintf("raise its hold, to %d to begin with", settings.Hold+2), "it changes %.1f times a second, which flickers", changes)
	case changes < fewChanges && settings.Release > longRelease:
		say("lower its release", "it changes only %.1f times a second", changes)
	case changes < fewChanges:
		say(`follow another band, or write follow = "onset"`, "it changes only %.1f times a second", changes)
	}
	if s.Match < looseMatch {
		key := "hold"
		if longer := math.Max(settings.Attack, settings.Release); longer > 100 {
			key = "release"
			if settings.Attack > settings.Release {
				key = "attack"
			}
		}
		say("lower its "+key, "it follows its sound loosely, by %.2f", s.Match)
	}
	if s.Range < smallRange && len(remarks) == 0 {
		say("raise its release, so that it passes through the levels between", "it uses %.0f %% of its levels", 100*s.Range)
	}
	return remarks
}

// measure fills in what is told from the levels shown: how much of the time they are shown, how often they change, and how
// they go with the envelope.
func (s *Summary) measure(shownLevels []levels.Level, envelope []float64, settings Settings, perSecond float64) {
	s.Share = make([]float64, max(0, settings.Top-settings.Bottom)+1)
	changes := 0
	for n, level := range shownLevels {
		// A level set by hand may lie outside the column's own.
		s.Share[min(max(int((level+levels.One/2)/levels.One)-settings.Bottom, 0), len(s.Share)-1)]++
		if n > 0 && level != shownLevels[n-1] {
			changes++
		}
	}
	frames := float64(max(1, len(shownLevels)))
	used := 0
	for i := range s.Share {
		if s.Share[i] /= frames; s.Share[i] >= shown {
			used++
		}
	}
	s.ChangesPerSecond = float64(changes) / frames * perSecond
	s.Range = float64(used) / float64(len(s.Share))
	s.Match = s.match(shownLevels, envelope)
}

// match is Pearson's correlation of the levels with the envelope, held at the top; 0 where one of them never changes.
func (s *Summary) match(shownLevels []levels.Level, envelope []float64) float64 {
	frames := float64(len(envelope))
	sound := func(n int) float64 { return math.Min(envelope[n], s.Reference) }
	var levelMean, soundMean float64
	for n, level := range shownLevels {
		levelMean += float64(level) / frames
		soundMean += sound(n) / frames
	}
	var both, levelSpread, soundSpread float64
	for n, level := range shownLevels {
		l, e := float64(level)-levelMean, sound(n)-soundMean
		both, levelSpread, soundSpread = both+float64(l*e), levelSpread+float64(l*l), soundSpread+float64(e*e)
	}
	if levelSpread == 0 || soundSpread == 0 {
		return 0
	}
	return both / math.Sqrt(levelSpread*soundSpread)
}
