// Package timing turns frame numbers into song time and back.
//
// A frame rate is an exact ratio, and every boundary is computed from the frame's number alone: nothing
// accumulates, so a part of a song has the same frames as the whole. Frames are numbered from 1; frame n
// is shown from (n-1)/fps to n/fps seconds.
package timing

import (
	"fmt"
	"math"
	"math/big"
	"strconv"
	"strings"
)

// Rate is a number of frames a second as the ratio Num/Den, both positive and without a common factor.
type Rate struct{ Num, Den int64 }

// maxRate is the fastest rate taken: no display shows more frames a second.
const maxRate = 1000

// shorthand rates are decimals that mean an exact ratio over 1001 (SMPTE ST 12-1 rates and their halves and doubles).
var shorthand = map[string]Rate{
	"11.988": {12000, 1001}, "14.985": {15000, 1001},
	"23.976": {24000, 1001}, "23.98": {24000, 1001},
	"29.97": {30000, 1001}, "47.952": {48000, 1001}, "47.95": {48000, 1001},
	"59.94": {60000, 1001}, "119.88": {120000, 1001},
}

// ParseRate reads "25", "12.5", "23.976" (which means 24000/1001) or "24000/1001".
func ParseRate(text string) (Rate, error) {
	text = strings.TrimSpace(text)
	if strings.Contains(text, ".") {
		if r, ok := shorthand[strings.TrimRight(text, "0")]; ok { // 29.970 is 29.97
			return r, nil
		}
	}
	bad := func() (Rate, error) {
		return Rate{}, fmt.Errorf("frame rate %q is not a number or a ratio; write it as 25, 23.976 or 24000/1001", text)
	}
	for _, c := range text { // big.Rat also takes signs, exponents and hexadecimal
		if (c < '0' || c > '9') && c != '.' && c != '/' {
			return bad()
		}
	}
	if len(text) > 20 {
		return bad()
	}
	// In a ratio big.Rat takes a leading 0 for an octal number's.
	num, den, ratio := strings.Cut(text, "/")
	if ratio {
		text = strings.TrimLeft(num, "0") + "/" + strings.TrimLeft(den, "0")
	}
	q, ok := new(big.Rat).SetString(text)
	if !ok {
		return bad()
	}
	if q.Sign() <= 0 || q.Cmp(big.NewRat(maxRate, 1)) > 0 {
		return Rate{}, fmt.Errorf("frame rate %s is not above 0 and at most %d frames a second; 25 is a common choice", text, maxRate)
	}
	if !q.Num().IsInt64() || !q.Denom().IsInt64() || q.Denom().Int64() > 1_000_000 {
		return Rate{}, fmt.Errorf("frame rate %s has too many digits; write it as a ratio such as 24000/1001", text)
	}
	return Rate{q.Num().Int64(), q.Denom().Int64()}, nil
}

// String is "25" or "24000/1001".
func (r Rate) String() string {
	if r.Den == 1 {
		return strconv.FormatInt(r.Num, 10)
	}
	return fmt.Sprintf("%d/%d", r.Num, r.Den)
}

// PerSecond is the rate as a decimal number, for words and charts only.
func (r Rate) PerSecond() float64 { return float64(r.Num) / float64(r.Den) }

// FrameCount is the fewest frames that cover samples at sampleRate a second: ceil(duration x fps). It is 0 where
// any of the three is 0 or less.
func (r Rate) FrameCount(samples int64, sampleRate int) int {
	if samples <= 0 || sampleRate <= 0 || r.Num <= 0 {
		return 0
	}
	return r.LastBefore(big.NewRat(samples, int64(sampleRate)))
}

// Start is the second at which frame n begins to be shown, (n-1)/fps, rounded once.
func (r Rate) Start(n int) float64 {
	if r.Num <= 0 {
		return 0
	}
	top := new(big.Int).Mul(big.NewInt(int64(n)-1), big.NewInt(r.Den))
	v, _ := new(big.Rat).SetFrac(top, big.NewInt(r.Num)).Float64()
	return v
}

// MiddleSample is the sample nearest to the frame's middle, (n-1/2)/fps, at a rate of num/den samples a second, the later
// of two that are as near.
func (r Rate) MiddleSample(n int, num, den int64) int64 {
	if r.Num <= 0 || den <= 0 {
		return 0
	}
	// (2n-1)/2 * Den/Num * num/den, and a half to round it
	top := big.NewInt(int64(n))
	top.Lsh(top, 1).Sub(top, big.NewInt(1))
	top.Mul(top, big.NewInt(r.Den)).Mul(top, big.NewInt(num))
	bottom := new(big.Int).Mul(big.NewInt(r.Num), big.NewInt(den))
	top.Add(top, bottom)
	return clamp(top.Div(top, bottom.Lsh(bottom, 1)))
}

// FrameAt is the number of the frame shown at t, floor(t x fps) + 1. t is in seconds and exact.
func (r Rate) FrameAt(t *big.Rat) int {
	q := r.frames(t)
	n := new(big.Int).Div(q.Num(), q.Denom())
	return int(clamp(n.Add(n, big.NewInt(1))))
}

// LastBefore is the number of the last frame that begins before t, ceil(t x fps).
func (r Rate) LastBefore(t *big.Rat) int {
	q := r.frames(t)
	n := new(big.Int).Add(q.Num(), new(big.Int).Sub(q.Denom(), big.NewInt(1)))
	return int(clamp(n.Div(n, q.Denom())))
}

// frames is t x fps.
func (r Rate) frames(t *big.Rat) *big.Rat {
	return new(big.Rat).Mul(t, big.NewRat(r.Num, max(1, r.Den)))
}

// clamp keeps what no song reaches within what can be counted.
func clamp(n *big.Int) int64 {
	switch {
	case n.IsInt64():
		return n.Int64()
	case n.Sign() < 0:
		return math.MinInt64
	}
	return math.MaxInt64
}

// longestTime in hours: no song is longer, and what it counts in frames fits any integer.
const longestTime = 1_000_000

// ParseTime reads a song time: seconds ("62.5"), minutes and seconds ("1:02.5") or with hours ("1:00:00").
func ParseTime(text string) (*big.Rat, error) {
	text = strings.TrimSpace(text)
	bad := fmt.Errorf("time %q is not understood; write seconds as 62.5 or minutes as 1:02.5", text)
	parts := strings.Split(text, ":")
	if len(parts) > 3 || len(text) > 20 {
		return nil, bad
	}
	total := new(big.Rat)
	for i, part := range parts {
		for _, c := range part {
			if (c < '0' || c > '9') && (c != '.' || i != len(parts)-1) {
				return nil, bad
			}
		}
		q, ok := new(big.Rat).SetString(part)
		if !ok || (i > 0 && q.Cmp(big.NewRat(60, 1)) >= 0) {
			return nil, bad
		}
		total.Mul(total, big.NewRat(60, 1)).Add(total, q)
	}
	if total.Cmp(big.NewRat(longestTime*3600, 1)) > 0 {
		return nil, fmt.Errorf("time %q is more than %d hours; write seconds as 62.5 or minutes as 1:02.5", text, longestTime)
	}
	return total, nil
}
