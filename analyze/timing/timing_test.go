package timing

import (
	"math"
	"math/big"
	"testing"
)

var (
	film = Rate{24000, 1001}
	pal  = Rate{25, 1}
	ntsc = Rate{30000, 1001}
	fast = Rate{60, 1}
)

// TestFrameCountIsTheFewestThatCoverTheSong: the unrounded counts, such as 5400000/1001 = 5394.6 frames in 180 s, are
// arithmetic; at 24000/1001 a frame is exactly 2002 samples of 48 kHz.
func TestFrameCountIsTheFewestThatCoverTheSong(t *testing.T) {
	for _, c := range []struct {
		name       string
		rate       Rate
		samples    int64
		sampleRate int
		want       int
	}{
		{"three minutes", ntsc, 180 * 44100, 44100, 5395},
		{"a minute", ntsc, 60 * 44100, 44100, 1799},
		{"192 seconds", film, 192 * 48000, 48000, 4604},
		{"a whole number of film frames", film, 2002 * 1000, 48000, 1000},
		{"and a sample more", film, 2002*1000 + 1, 48000, 1001},
		{"and a sample less", film, 2002*1000 - 1, 48000, 1000},
		{"four minutes", pal, 240 * 44100, 44100, 6000},
		{"ten seconds", fast, 441000, 44100, 600},
		{"ten seconds and a sample", fast, 441001, 44100, 601},
		{"three hours", ntsc, 3 * 3600 * 48000, 48000, 323677},                                    // 323676.32
		{"an hour of drop-frame labels, less a part of a sample", ntsc, 172799827, 48000, 107892}, // 172799827.2
		{"an hour of drop-frame labels, and the rest of it", ntsc, 172799828, 48000, 107893},
		{"one sample", pal, 1, 44100, 1},
		{"nothing", pal, 0, 44100, 0},
		{"a length below nothing", pal, -5, 44100, 0},
		{"no sample rate", pal, 100, 0, 0},
		{"no frame rate", Rate{}, 100, 44100, 0},
		{"more than can be counted", Rate{1000, 1}, math.MaxInt64, 1, math.MaxInt},
	} {
		if got := c.rate.FrameCount(c.samples, c.sampleRate); got != c.want {
			t.Errorf("%s: %d frames, not %d", c.name, got, c.want)
		}
	}
}

func TestStartIsRoundedOnceHoweverLongTheSong(t *testing.T) {
	for _, c := range []struct {
		rate  Rate
		frame int
		want  float64
	}{
		{pal, 1, 0}, {pal, 2, 0.04}, {ntsc, 107893, 3599.9964}, {film, 24001, 1001}, {fast, 7, 0.1}, {pal, 90000001, 3600000},
		{Rate{}, 5, 0},
	} {
		if got := c.rate.Start(c.frame); got != c.want { // 107892 frames at 29.97 are 3599.9964 s: SMPTE drop-frame arithmetic
			t.Errorf("frame %d at %v begins at %v, not %v", c.frame, c.rate, got, c.want)
		}
	}
}

func TestClickBelongsToTheFrameThatShowsIt(t *testing.T) {
	for _, c := range []struct {
		name string
		rate Rate
		at   *big.Rat // seconds
		want int
	}{
		{"the beginning", pal, big.NewRat(0, 1), 1},
		{"just within the first frame", pal, big.NewRat(1763, 44100), 1},
		{"the first sample of the second", pal, big.NewRat(1764, 44100), 2},
		{"half a second", film, big.NewRat(1, 2), 12},                                         // 11.99 frames
		{"a film frame's last sample", film, big.NewRat(2001, 48000), 1},                      // 2002 samples a frame
		{"a film frame's first sample", film, big.NewRat(2002, 48000), 2},                     //
		{"drop-frame's first dropped label", ntsc, big.NewRat(1800*1001, 30000), 1801},        // exactly frame 1800 from 0
		{"a nanosecond before it", ntsc, big.NewRat(1800*1001*1e5-1, 30000*1e5), 1800},        //
		{"an hour", fast, big.NewRat(3600, 1), 216001},                                        //
		{"before the song", pal, big.NewRat(-1, 100), 0},                                      //
		{"later than can be counted", pal, new(big.Rat).SetInt64(math.MaxInt64), math.MaxInt}, //
	} {
		if got := c.rate.FrameAt(c.at); got != c.want {
			t.Errorf("%s: frame %d, not %d", c.name, got, c.want)
		}
	}
}

// TestEveryFrameBeginsWhereTheOneBeforeEnds holds FrameAt, LastBefore and the definition of a frame together.
func TestEveryFrameBeginsWhereTheOneBeforeEnds(t *testing.T) {
	for _, rate := range []Rate{film, pal, ntsc, fast, {25, 2}} {
		for _, n := range []int{1, 2, 3, 1000, 123457, 9999999} {
			start := big.NewRat(int64(n-1)*rate.Den, rate.Num)
			within := new(big.Rat).Add(start, big.NewRat(1, 1e9))
			for _, c := range []struct {
				name string
				got  int
				want int
			}{
				{"the frame at its start", rate.FrameAt(start), n},
				{"the frame within", rate.FrameAt(within), n},
				{"the last that begins before its start", rate.LastBefore(start), n - 1},
				{"the last that begins before a point within", rate.LastBefore(within), n},
			} {
				if c.got != c.want {
					t.Errorf("%v, frame %d: %s is %d", rate, n, c.name, c.got)
				}
			}
			if v, _ := start.Float64(); rate.Start(n) != v {
				t.Errorf("%v, frame %d begins at %v, not %v", rate, n, rate.Start(n), v)
			}
		}
	}
}

// TestMiddleSampleIsTheNearest: samples a frame at 44.1 kHz are 1764 at 25, 735 at 60, 147147/100 at 30000/1001, and
// 2002 of 48 kHz at 24000/1001 (arithmetic).
func TestMiddleSampleIsTheNearest(t *testing.T) {
	for _, c := range []struct {
		rate     Rate
		frame    int
		num, den int64
		want     int64
	}{
		{pal, 1, 44100, 1, 882}, {pal, 2, 44100, 1, 2646}, {pal, 6000, 44100, 1, 10583118},
		{fast, 1, 44100, 1, 368}, // 367.5, the later of two as near
		{fast, 2, 44100, 1, 1103},
		{film, 1, 48000, 1, 1001}, {film, 1001, 48000, 1, 2003001},
		{ntsc, 1, 44100, 1, 736},           // 735.735
		{ntsc, 100, 44100, 1, 146411},      // 146411.265
		{pal, 1, 44100, 32, 28},            // 27.5625 at 1378.125 a second
		{pal, 100, 44100, 32, 5485},        // 5484.9375
		{film, 500, 8 * 48000, 1, 7999992}, // eighths of a sample
		{Rate{}, 1, 44100, 1, 0},
	} {
		if got := c.rate.MiddleSample(c.frame, c.num, c.den); got != c.want {
			t.Errorf("%v: the middle of frame %d at %d/%d is sample %d, not %d", c.rate, c.frame, c.num, c.den, got, c.want)
		}
	}
	// Nothing accumulates: a thousand hours on, frames still stand a frame apart.
	for n := 90_000_000; n < 90_000_100; n++ {
		if got := pal.MiddleSample(n, 44100, 1); got != int64(n-1)*1764+882 {
			t.Fatalf("the middle of frame %d is sample %d", n, got)
		}
	}
}

func TestRatesAsPeopleWriteThem(t *testing.T) {
	for _, c := range []struct {
		text string
		want Rate
	}{
		{"25", pal}, {" 25 ", pal}, {"25.0", pal}, {"25.", pal}, {"025", pal}, {"50/2", pal}, {"025/01", pal},
		{"12.5", Rate{25, 2}}, {".5", Rate{1, 2}}, {"1000", Rate{1000, 1}}, {"24", Rate{24, 1}}, {"010/1", Rate{10, 1}},
		// The rates over 1001 of SMPTE ST 12-1, and the decimals they go by (common practice, no source).
		{"23.976", film}, {"23.98", film}, {"23.9760", film}, {"24000/1001", film}, {"48000/2002", film},
		{"29.97", ntsc}, {"29.970", ntsc}, {"30000/1001", ntsc},
		{"59.94", Rate{60000, 1001}}, {"59.940", Rate{60000, 1001}}, {"47.952", Rate{48000, 1001}},
		{"119.88", Rate{120000, 1001}}, {"14.985", Rate{15000, 1001}},
	} {
		if got, err := ParseRate(c.text); err != nil || got != c.want {
			t.Errorf("%q is read as %v (%v), not %v", c.text, got, err, c.want)
		}
	}
	for _, text := range []string{
		"", " ", ".", "/", "25/", "/25", "1/2/3", "25/0", "0/0", "0", "0.0", "-25", "+25", "25fps", "1e2", "0x19", "0b11", "1_000", "NaN", "inf",
		"1001", "24000", "24.5/2", "25,5", "2 5", "٢٥", "25\x00", "1/9999999", "0.0000001", "99999999999999999999",
		"99999999999999999999999999999", "1.5.2", "25/1/", "../..",
	} {
		if got, err := ParseRate(text); err == nil {
			t.Errorf("%q is taken for %v", text, got)
		}
	}
}

func TestRateReadsItselfBack(t *testing.T) {
	for _, rate := range []Rate{film, pal, ntsc, fast, {25, 2}, {1, 1000}} {
		if got, err := ParseRate(rate.String()); err != nil || got != rate {
			t.Errorf("%v is written as %q and read as %v (%v)", rate, rate.String(), got, err)
		}
	}
	if got := film.PerSecond(); math.Abs(got-23.976023976) > 1e-9 { // as published for 24000/1001
		t.Errorf("24000/1001 is %v frames a second", got)
	}
}

func TestTimesAsPeopleWriteThem(t *testing.T) {
	for _, c := range []struct {
		text string
		want *big.Rat
	}{
		{"0", big.NewRat(0, 1)}, {"62.5", big.NewRat(125, 2)}, {"1:02.5", big.NewRat(125, 2)}, {"01:02.500", big.NewRat(125, 2)},
		{" 1:02.5\t", big.NewRat(125, 2)}, {"1:00:00", big.NewRat(3600, 1)}, {"90:00", big.NewRat(5400, 1)}, {"0:08", big.NewRat(8, 1)},
		{"100", big.NewRat(100, 1)}, {"0.1", big.NewRat(1, 10)}, {".5", big.NewRat(1, 2)}, {"1:", nil}, {"5.", big.NewRat(5, 1)},
		{"", nil}, {" ", nil}, {":", nil}, {"::", nil}, {".", nil}, {":30", nil}, {"1:60", nil}, {"1:60:00", nil}, {"1:5.5:00", nil}, {"1.5:30", nil},
		{"-1", nil}, {"+1", nil}, {"1:-2", nil}, {"1e3", nil}, {"0x10", nil}, {"1/2", nil}, {"1_0", nil}, {"NaN", nil}, {"inf", nil}, {"1:2:3:4", nil},
		{"1,5", nil}, {"1 5", nil}, {"12s", nil}, {"1;02", nil}, {"٣", nil}, {"1:02\x00", nil}, {"99999999999999999999", nil}, {"1000001:00:00", nil},
		{"0000000000000000000000001", nil},
	} {
		got, err := ParseTime(c.text)
		switch {
		case c.want == nil && err == nil:
			t.Errorf("%q is taken for %v seconds", c.text, got)
		case c.want != nil && (err != nil || got.Cmp(c.want) != 0):
			t.Errorf("%q is read as %v (%v), not %v", c.text, got, err, c.want)
		}
	}
}

// FuzzParse: whatever is written, it is refused or makes a rate and a time that can be reckoned with.
func FuzzParse(f *testing.F) {
	for _, text := range []string{"25", "24000/1001", "1:02.5", "1000/3", "0.001", "::", "9999:59:59.999"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if rate, err := ParseRate(text); err == nil {
			if rate.Num < 1 || rate.Den < 1 || rate.PerSecond() > maxRate {
				t.Errorf("%q gives %v", text, rate)
			}
			if again, err := ParseRate(rate.String()); err != nil || again != rate {
				t.Errorf("%q gives %v, which reads as %v (%v)", text, rate, again, err)
			}
		}
		if at, err := ParseTime(text); err == nil {
			if n := (Rate{maxRate, 1}).FrameAt(at); at.Sign() < 0 || n < 1 || n == math.MaxInt {
				t.Errorf("%q gives %v, frame %d", text, at, n)
			}
		}
	})
}
