package sound

import (
	"bytes"
	"io"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/mewkiz/flac"
)

// unpack decodes a track with the library's decoder, which checks both sums of every block.
func unpack(t *testing.T, track *Track) [][]float64 {
	t.Helper()
	stream, err := flac.New(bytes.NewReader(track.FLAC))
	if err != nil {
		t.Fatal(err)
	}
	if int(stream.Info.SampleRate) != track.Rate || int(stream.Info.NChannels) != track.Channels || int(stream.Info.NSamples) != track.Samples {
		t.Fatalf("the file says %+v, the track %d Hz, %d channels, %d samples", stream.Info, track.Rate, track.Channels, track.Samples)
	}
	out := make([][]float64, track.Channels)
	for {
		block, err := stream.ParseNext()
		if err == io.EOF {
			return out
		}
		if err != nil {
			t.Fatal(err)
		}
		for c, s := range block.Subframes {
			for _, v := range s.Samples {
				out[c] = append(out[c], float64(v)/fullScale)
			}
		}
	}
}

// record keeps a part of a song.
func record(t *testing.T, channels [][]float32, rate int, from, to int64, budget int) *Track {
	t.Helper()
	r := Record(&memory{channels: channels}, rate, len(channels), from, to, budget)
	block := make([][]float32, len(channels))
	for c := range block {
		block[c] = make([]float32, 1000)
	}
	for {
		if _, err := r.Read(block); err == io.EOF {
			break
		}
	}
	track, err := r.Track(budget)
	if err != nil {
		t.Fatal(err)
	}
	return track
}

// TestTrackKeepsEverySample where there is room: music, silence, noise at full scale and a last block of three samples.
func TestTrackKeepsEverySample(t *testing.T) {
	music, rate := example(t)
	left := append(append([]float32{}, music[0][:9000]...), make([]float32, 5000)...)
	for _, v := range bursts(8 * blockLength / 4)[0] {
		left = append(left, 2*v)
	}
	for len(left)%blockLength != 3 {
		left = append(left, 0.25)
	}
	right := make([]float32, len(left))
	copy(right, music[1])
	track := record(t, [][]float32{left, right}, rate, 100, int64(len(left)), 1<<30)
	got := unpack(t, track)
	if track.Rate != rate || track.Channels != 2 || track.Samples != len(left)-100 || len(got[0]) != track.Samples {
		t.Fatalf("%d Hz, %d channels, %d samples, %d decoded; there are %d", track.Rate, track.Channels, track.Samples, len(got[0]), len(left)-100)
	}
	for i := range got[0] {
		for c, channel := range [][]float32{left, right} {
			want := min(max(float64(channel[100+i]), -1), 32767./32768)
			if math.Abs(got[c][i]-want) > 0.5/fullScale {
				t.Fatalf("sample %d of channel %d is %v, not %v", i, c, got[c][i], want)
			}
		}
	}
	if plain := 4 * track.Samples; len(track.FLAC) > plain*9/10 {
		t.Errorf("%d bytes of plain samples take %d as FLAC", plain, len(track.FLAC))
	}
}

// TestTrackFitsItsBudgetInTime: rate and channels go down until it fits, and a click stays where it was.
func TestTrackFitsItsBudgetInTime(t *testing.T) {
	const rate, length, click = 48000, 96000, 60000
	for _, c := range []struct{ budget, rate, channels int }{{1 << 20, 48000, 2}, {150_000, 24000, 2}, {70_000, 24000, 1}, {40_000, 16000, 1}, {1, 8000, 1}} {
		x := bursts(length / 4)[0]
		for i := range x {
			x[i] *= 0.05
		}
		for i := range 40 {
			x[click-20+i] = 0.9
		}
		track := record(t, [][]float32{x, x}, rate, 0, length, c.budget)
		got := unpack(t, track)
		if track.Channels > c.channels || track.Rate > c.rate || c.budget > 10 && len(track.FLAC) > c.budget {
			t.Errorf("into %d bytes: %d Hz, %d channels, %d bytes", c.budget, track.Rate, track.Channels, len(track.FLAC))
		}
		loudest := 0
		for i, v := range got[0] {
			if math.Abs(v) > math.Abs(got[0][loudest]) {
				loudest = i
			}
		}
		if at := float64(loudest) / float64(track.Rate); math.Abs(at-click/float64(rate)) > 0.0005 {
			t.Errorf("at %d Hz the click is at %.4f s, not %.4f", track.Rate, at, click/float64(rate))
		}
		if want := length * track.Rate / rate; track.Samples != want {
			t.Errorf("at %d Hz there are %d samples, not %d", track.Rate, track.Samples, want)
		}
	}
}

// TestTrackIsCoarserBeforeItIsSlower: what is a little too large loses its lowest bits, and nothing else.
func TestTrackIsCoarserBeforeItIsSlower(t *testing.T) {
	x := bursts(22050)[0]
	full := record(t, [][]float32{x}, 22050, 0, int64(len(x)), 1<<30)
	coarse := record(t, [][]float32{x}, 22050, 0, int64(len(x)), len(full.FLAC)*9/10)
	if coarse.Rate != 22050 || coarse.Samples != len(x) || len(coarse.FLAC) > len(full.FLAC)*9/10 {
		t.Fatalf("%d Hz, %d samples in %d bytes, of %d", coarse.Rate, coarse.Samples, len(coarse.FLAC), len(full.FLAC))
	}
	const step = 1 << coarsest // of 2^-15, at the most
	for i, got := range unpack(t, coarse)[0] {
		if math.Abs(got-float64(x[i])) > 0.5*step/fullScale {
			t.Fatalf("sample %d is %v, not %v", i, got, x[i])
		}
	}
}

// TestLowerRateLetsNothingFold: of a tone of 1 kHz all is left at half the rate, of one above the new rate's half nothing
// (definition of decimation).
func TestLowerRateLetsNothingFold(t *testing.T) {
	for _, c := range []struct{ hertz, want float64 }{{1000, math.Sqrt2 / 4}, {14800, 0}} {
		d := newDecimator(2)
		x := make([]float32, 44100)
		for i := range x {
			x[i] = float32(0.5 * math.Sin(2*math.Pi*c.hertz*float64(i)/44100))
		}
		out := d.finish(d.push(nil, x))
		sum := 0.0
		for _, v := range out[500:20000] {
			sum += float64(v) * float64(v)
		}
		if got := math.Sqrt(sum / 19500); math.Abs(got-c.want) > 0.001 {
			t.Errorf("%g Hz: %.4f RMS is left, not %.4f", c.hertz, got, c.want)
		}
	}
}

// The size of a Rice code is that of RFC 9639, 9.2.7.1: k bits, a one, and as many zeros as the folded remainder has left.
func TestTheRiceParameterIsTheBestThereIs(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 6))
	for _, spread := range []int{1, 3, 50, 1000, 30_000} {
		remainders := make([]int32, 200)
		for i := range remainders {
			remainders[i] = int32(random.IntN(2*spread+1) - spread)
		}
		best := -1
		for k := range highestRice + 1 {
			size := 0
			for _, v := range remainders {
				folded := 2 * int(v)
				if v < 0 {
					folded = -2*int(v) - 1
				}
				size += k + 1 + folded>>k
			}
			if best < 0 || size < best {
				best = size
			}
		}
		if k, size := rice(remainders); size != best {
			t.Errorf("up to %d: parameter %d takes %d bits, the best takes %d", spread, k, size, best)
		}
	}
}
