package main

import (
	"encoding/binary"
	"encoding/json"
	"math"
	"os/exec"
	"strconv"
	"strings"
	"testing"

	"colonnade/analyze/timing"
)

// video is what a decoder of its own finds in a file: ffprobe and ffmpeg, as any player would.
type video struct {
	path           string
	picture, sound probed
	times          []float64 // of the frames, seconds
	frames         [][]byte  // in the file's own pixel format, plane by plane
	heard          []int16   // of the first channel, at clickRate
}

// probed is what ffprobe tells of a stream.
type probed struct {
	Type      string `json:"codec_type"`
	Codec     string `json:"codec_name"`
	Pixels    string `json:"pix_fmt"`
	Width     int    `json:"width"`
	Height    int    `json:"height"`
	Rate      string `json:"r_frame_rate"`
	Average   string `json:"avg_frame_rate"`
	Start     string `json:"start_time"`
	Range     string `json:"color_range"`
	Matrix    string `json:"color_space"`
	Transfer  string `json:"color_transfer"`
	Primaries string `json:"color_primaries"`
}

// tags is the colour of a picture as players are told of it.
func (p probed) tags() string {
	return strings.Join([]string{p.Range, p.Matrix, p.Primaries, p.Transfer}, " ")
}

// output runs a program that must succeed.
func output(t *testing.T, name string, arguments ...string) []byte {
	t.Helper()
	var told strings.Builder
	command := exec.Command(name, arguments...)
	command.Stderr = &told
	out, err := command.Output()
	if err != nil {
		t.Fatalf("%s %q: %v\n%s", name, arguments, err, told.String())
	}
	return out
}

func readVideo(t *testing.T, path string) *video {
	t.Helper()
	v := &video{path: path}
	var found struct{ Streams []probed }
	if err := json.Unmarshal(output(t, "ffprobe", "-v", "error", "-show_streams", "-of", "json", path), &found); err != nil {
		t.Fatal(err)
	}
	for _, s := range found.Streams {
		switch s.Type {
		case "video":
			v.picture = s
		case "audio":
			v.sound = s
		}
	}
	for _, line := range strings.Fields(string(output(t, "ffprobe", "-v", "error", "-select_streams", "v", "-show_entries", "frame=pts_time", "-of", "csv=p=0", path))) {
		seconds, err := strconv.ParseFloat(strings.Trim(line, ","), 64)
		if err != nil {
			t.Fatal(err)
		}
		v.times = append(v.times, seconds)
	}
	raw := output(t, "ffmpeg", "-v", "error", "-nostdin", "-i", path, "-map", "0:v", "-fps_mode", "passthrough", "-f", "rawvideo", "-")
	if len(v.times) == 0 || len(raw)%len(v.times) != 0 {
		t.Fatalf("%s: %d frames have times, %d bytes were decoded", path, len(v.times), len(raw))
	}
	size := len(raw) / len(v.times)
	for begin := 0; begin < len(raw); begin += size {
		v.frames = append(v.frames, raw[begin:begin+size])
	}
	v.heard = hear16(t, path)
	return v
}

// hear16 decodes a file's sound. Options stand before the file.
func hear16(t *testing.T, path string, options ...string) []int16 {
	t.Helper()
	arguments := append([]string{"-v", "error", "-nostdin"}, options...)
	raw := output(t, "ffmpeg", append(arguments, "-i", path, "-map", "0:a", "-af", "pan=mono|c0=c0", "-ar", strconv.Itoa(clickRate), "-f", "s16le", "-")...)
	samples := make([]int16, len(raw)/2)
	for i := range samples {
		samples[i] = int16(binary.LittleEndian.Uint16(raw[2*i:]))
	}
	return samples
}

// onsets are the seconds at which sound sets in after a tenth of a second without.
func (v *video) onsets() []float64 { return onsetsOf(v.heard) }

func onsetsOf(heard []int16) []float64 {
	const loud = 8000 // a quarter of full scale: clicks have 0.9 of it, the noise between them 0.0001, pre-echoes some hundredths
	var found []float64
	last := -clickRate
	for i, v := range heard {
		if v > loud || v < -loud {
			if i-last > clickRate/10 {
				found = append(found, float64(i)/clickRate)
			}
			last = i
		}
	}
	return found
}

// layouts are how pixel formats lay out a frame: samples of the two chroma planes to one of luma, and bytes a sample.
var layouts = map[string]struct{ across, down, bytes int }{
	"yuv420p": {2, 2, 1}, "yuv444p": {1, 1, 1}, "yuv422p10le": {2, 1, 2},
}

// rgbAt is the mean colour of a rectangle of a frame, in codes of 8 bits, by the formulas of ITU-R BT.709-6, items 3.2 to
// 3.5, solved for R'G'B'.
func (v *video) rgbAt(t *testing.T, n int, x0, y0, x1, y1 int) [3]float64 {
	t.Helper()
	layout, known := layouts[v.picture.Pixels]
	if !known {
		t.Fatalf("%s: pixel format %s is none that is known", v.path, v.picture.Pixels)
	}
	w, h := v.picture.Width, v.picture.Height
	cw, ch := w/layout.across, h/layout.down
	frame := v.frames[n]
	if len(frame) != (w*h+2*cw*ch)*layout.bytes {
		t.Fatalf("%s: a frame has %d bytes", v.path, len(frame))
	}
	mean := func(begin, width, x0, y0, x1, y1 int) float64 {
		var sum, count float64
		for y := y0; y < y1; y++ {
			for x := x0; x < x1; x++ {
				i := begin + y*width + x
				if layout.bytes == 2 {
					sum += float64(binary.LittleEndian.Uint16(frame[2*i:])) / 4
				} else {
					sum += float64(frame[i])
				}
				count++
			}
		}
		return sum / count
	}
	ax, ay := layout.across, layout.down
	luma := (mean(0, w, x0, y0, x1, y1) - 16) / 219
	cb := (mean(w*h, cw, x0/ax, y0/ay, x1/ax, y1/ay) - 128) / 224
	cr := (mean(w*h+cw*ch, cw, x0/ax, y0/ay, x1/ax, y1/ay) - 128) / 224
	r, b := luma+1.5748*cr, luma+1.8556*cb
	g := (luma - 0.2126*r - 0.0722*b) / 0.7152
	return [3]float64{255 * r, 255 * g, 255 * b}
}

// raised are the numbers, from 0, of the frames in which the column comes up. In every pixel format used the first
// plane, or the first bytes of a pixel, are brighter then.
func (v *video) raised() []int {
	w, bytes := v.picture.Width, 1
	switch v.picture.Pixels {
	case "yuv422p10le":
		bytes = 2
	case "bgr0":
		bytes = 4
	}
	at := func(frame []byte) float64 {
		x, y := (clickColumn.Min.X+clickColumn.Max.X)/2*w/chartWidth, v.picture.Height/2
		i := (y*w + x) * bytes
		if bytes == 2 {
			return float64(binary.LittleEndian.Uint16(frame[i:])) / 4
		}
		return float64(frame[i])
	}
	var found []int
	up := false
	for n, frame := range v.frames {
		if now := at(frame) > 65; now != up { // 40 or 50 below, 90 or 187 above
			if up = now; up {
				found = append(found, n)
			}
		}
	}
	return found
}

// expected is what a video must hold.
type expected struct {
	rate   timing.Rate
	frames int
	clicks int
}

// holdTogether checks the frame rate, the lengths of picture and sound, and every click: the sound must set in while the
// first frame with the column up is shown, which is within half a frame of that frame's middle.
func (v *video) holdTogether(t *testing.T, want expected) {
	t.Helper()
	frame := float64(want.rate.Den) / float64(want.rate.Num)
	ratio := strconv.FormatInt(want.rate.Num, 10) + "/" + strconv.FormatInt(want.rate.Den, 10)
	if v.picture.Rate != ratio || v.picture.Average != ratio {
		t.Errorf("%s: the rate is %s, on average %s; want %s", v.path, v.picture.Rate, v.picture.Average, ratio)
	}
	if len(v.times) != want.frames {
		t.Errorf("%s: %d frames, want %d", v.path, len(v.times), want.frames)
	}
	for n, at := range v.times {
		if math.Abs(at-float64(n)*frame) > 0.0011 { // Matroska counts milliseconds
			t.Fatalf("%s: frame %d is shown at %g s, want %g", v.path, n+1, at, float64(n)*frame)
		}
	}
	start, _ := strconv.ParseFloat(v.sound.Start, 64)
	length := v.times[len(v.times)-1] + frame
	if sound := start + float64(len(v.heard))/clickRate; math.Abs(sound-length) > frame {
		t.Errorf("%s: the picture has %.4f s, the sound %.4f", v.path, length, sound)
	}
	heard, seen := v.onsets(), v.raised()
	if len(heard) != want.clicks || len(seen) != want.clicks {
		t.Fatalf("%s: %d clicks are heard and %d seen, want %d: %v %v", v.path, len(heard), len(seen), want.clicks, heard, seen)
	}
	worst := 0.0
	for i, n := range seen {
		apart := (start + heard[i] - v.times[n] - frame/2) / frame
		worst = max(worst, math.Abs(apart))
		if math.Abs(apart) > 0.5 {
			t.Errorf("%s: click %d is heard %.2f frames from the middle of the frame that shows it", v.path, i+1, apart)
		}
	}
	t.Logf("%s: %s, %d frames, %d clicks, at most %.2f frames from the middle of their frames", v.path, ratio, len(v.times), len(seen), worst)
}

// showsFlats checks the chart in the first frame, within so many codes of 8 bits.
func (v *video) showsFlats(t *testing.T, limit float64) {
	t.Helper()
	worst := 0.0
	for i, want := range flats {
		p := patch(i)
		got := v.rgbAt(t, 0, p.Min.X, p.Min.Y, p.Max.X, p.Max.Y)
		for c, code := range []uint8{want.R, want.G, want.B} {
			off := math.Abs(got[c] - float64(code))
			worst = max(worst, off)
			if off > limit {
				t.Errorf("%s: colour %v is shown as %.1f", v.path, want, got)
			}
		}
	}
	t.Logf("%s: %s %s, flat colours at most %.2f of 255 off", v.path, v.picture.Codec, v.picture.Pixels, worst)
}
