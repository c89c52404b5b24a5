package song

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"testing"
)

// readAll reads a song to its end, size sample frames at a time, and gives its samples by channel.
func readAll(s *Song, size int) ([][]float32, error) {
	got := make([][]float32, s.channels)
	dst := make([][]float32, s.channels)
	for i := range dst {
		dst[i] = make([]float32, size)
	}
	for {
		n, err := s.Read(dst)
		for i := range got {
			got[i] = append(got[i], dst[i][:n]...)
		}
		if err == io.EOF {
			return got, nil
		}
		if err != nil {
			return got, err
		}
		if n == 0 {
			return got, fmt.Errorf("read nothing without an error after %d frames", len(got[0]))
		}
	}
}

// readable is a crafted file and what it must give.
type readable struct {
	name string
	file []byte
	want Info
	pcm  [][]float32 // by channel
}

func pairWith(notes ...string) Info {
	info := pairInfo
	info.Notes = notes
	return info
}

// The samples follow from full scale being 2^(bits-1), and unsigned 8-bit samples being centred on 128
// (Multimedia Programming Interface and Data Specifications 1.0, "PCM data format").
func readables() []readable {
	const open2 = "its header leaves the length open; everything up to the end of the file is read, 2 sample frames"
	bext := chunkOf("bext", make([]byte, 603))
	list := chunkOf("LIST", []byte("INFOISFT\x01\x00\x00\x00x"))
	stereo := func(encoding string, notes ...string) Info {
		return Info{Rate: 44100, Channels: 2, Frames: 2, Encoding: encoding, Notes: notes}
	}
	mono := func(frames int64, encoding string, notes ...string) Info {
		return Info{Rate: 44100, Channels: 1, Frames: frames, Encoding: encoding, Notes: notes}
	}
	ambisonic := extensibleBody(2, 44100, 16, 16, []byte{1, 0, 0, 0}, []byte{0x21, 0x07, 0xd3, 0x11, 0x86, 0x44, 0xc8, 0xc1, 0xca, 0, 0, 0})
	nan, inf := float32(math.NaN()), float32(math.Inf(1))
	return []readable{
		// Codings.
		{"8 bit is unsigned", riffFile("RIFF", fmtChunk(1, 2, 44100, 8), chunkOf("data", []byte{0, 128, 255, 64})),
			stereo("8-bit integer"), [][]float32{{-1, 127.0 / 128}, {0, -0.5}}},
		{"16 bit", riffFile("RIFF", fmtChunk(1, 2, 44100, 16), chunkOf("data", []byte{0, 0x80, 0xff, 0x7f, 1, 0, 0, 0xc0})),
			stereo("16-bit integer"), [][]float32{{-1, 1.0 / 32768}, {32767.0 / 32768, -0.5}}},
		{"24 bit", riffFile("RIFF", fmtChunk(1, 2, 44100, 24), chunkOf("data", []byte{0, 0, 0x80, 0xff, 0xff, 0x7f, 1, 0, 0, 0, 0, 0xc0})),
			stereo("24-bit integer"), [][]float32{{-1, 1.0 / (1 << 23)}, {1 - 1.0/(1<<23), -0.5}}},
		{"32 bit", riffFile("RIFF", fmtChunk(1, 2, 44100, 32), chunkOf("data", []byte{0, 0, 0, 0x80, 0, 0, 0, 0x60, 1, 0, 0, 0, 0, 0, 0, 0xc0})),
			stereo("32-bit integer"), [][]float32{{-1, 1.0 / (1 << 31)}, {0.75, -0.5}}},
		{"16 bit EXTENSIBLE", riffFile("RIFF", extensibleChunk(1, 2, 44100, 16, 16), chunkOf("data", []byte{0, 0x80, 0xff, 0x7f, 1, 0, 0, 0xc0})),
			stereo("16-bit integer"), [][]float32{{-1, 1.0 / 32768}, {32767.0 / 32768, -0.5}}},
		{"8 bit EXTENSIBLE is unsigned", riffFile("RIFF", extensibleChunk(1, 2, 44100, 8, 8), chunkOf("data", []byte{0, 128, 255, 64})),
			stereo("8-bit integer"), [][]float32{{-1, 127.0 / 128}, {0, -0.5}}},
		{"20 in 24 bits has its bits at the top", riffFile("RIFF", extensibleChunk(1, 1, 44100, 24, 20), chunkOf("data", []byte{0xf0, 0xff, 0x7f, 0, 0, 0xc0})),
			mono(2, "20-bit integer in 24 bits"), [][]float32{{1 - 1.0/(1<<19), -0.5}}},
		{"24 in 32 bits has its bits at the top", riffFile("RIFF", extensibleChunk(1, 1, 44100, 32, 24), chunkOf("data", []byte{0, 0xff, 0xff, 0x7f, 0, 0, 0, 0xc0})),
			mono(2, "24-bit integer in 32 bits"), [][]float32{{1 - 1.0/(1<<23), -0.5}}},
		{"12 bit without EXTENSIBLE lies in 16", riffFile("RIFF", fmtChunk(1, 1, 44100, 12), chunkOf("data", []byte{0xf0, 0x7f, 0, 0xc0})),
			mono(2, "12-bit integer in 16 bits"), [][]float32{{1 - 1.0/(1<<11), -0.5}}},
		{"no valid bits means all of them", riffFile("RIFF", extensibleChunk(1, 1, 44100, 16, 0), chunkOf("data", pair)),
			mono(2, "16-bit integer"), pairPCM},
		{"more valid bits than bits", riffFile("RIFF", extensibleChunk(1, 1, 44100, 16, 24), chunkOf("data", pair)),
			mono(2, "16-bit integer", "its header tells of 24 valid bits in samples of 16; all 16 are read"), pairPCM},
		{"ambisonic sub-format", riffFile("RIFF", chunkOf("fmt ", ambisonic), chunkOf("data", []byte{0, 0x80, 0xff, 0x7f, 1, 0, 0, 0xc0})),
			stereo("16-bit integer"), [][]float32{{-1, 1.0 / 32768}, {32767.0 / 32768, -0.5}}},
		{"32-bit float goes beyond 1", riffFile("RIFF", fmtChunk(3, 2, 44100, 32), chunkOf("data", float32s(0.1, -1, 3.5, 1e-40))),
			stereo("32-bit float"), [][]float32{{0.1, 3.5}, {-1, 1e-40}}},
		{"32-bit float EXTENSIBLE", riffFile("RIFF", extensibleChunk(3, 2, 44100, 32, 32), chunkOf("data", float32s(0.1, -1, 3.5, 0))),
			stereo("32-bit float"), [][]float32{{0.1, 3.5}, {-1, 0}}},
		{"64-bit float", riffFile("RIFF", fmtChunk(3, 2, 44100, 64), chunkOf("data", float64s(0.1, -1, 3.5, 0))),
			stereo("64-bit float"), [][]float32{{0.1, 3.5}, {-1, 0}}},
		{"64-bit float EXTENSIBLE", riffFile("RIFF", extensibleChunk(3, 2, 44100, 64, 64), chunkOf("data", float64s(0.1, -1, 3.5, 0))),
			stereo("64-bit float"), [][]float32{{0.1, 3.5}, {-1, 0}}},
		{"floats that are no numbers are silence", riffFile("RIFF", fmtChunk(3, 2, 44100, 32), chunkOf("data", float32s(0.5, nan, -inf, 0.25))),
			stereo("32-bit float", "2 samples read as silence, being no number below 144 dB of full scale, the first at 0.000 s"), [][]float32{{0.5, 0}, {0, 0.25}}},
		{"floats too great for sound are silence", riffFile("RIFF", fmtChunk(3, 2, 1000, 64), chunkOf("data", float64s(0.5, 0.25, math.MaxFloat32, 1<<24))),
			Info{Rate: 1000, Channels: 2, Frames: 2, Encoding: "64-bit float", Notes: []string{"1 sample read as silence, being no number below 144 dB of full scale, the first at 0.001 s"}},
			[][]float32{{0.5, 0}, {0.25, 1 << 24}}},
		{"lowest rate, most channels", riffFile("RIFF", fmtChunk(1, 64, 1000, 8), chunkOf("data", bytes.Repeat([]byte{192}, 64))),
			Info{Rate: 1000, Channels: 64, Frames: 1, Encoding: "8-bit integer"}, slices.Repeat([][]float32{{0.5}}, 64)},
		{"highest rate", riffFile("RIFF", fmtChunk(1, 1, 1_000_000, 16), chunkOf("data", pair)),
			Info{Rate: 1_000_000, Channels: 1, Frames: 2, Encoding: "16-bit integer"}, pairPCM},

		// Chunks.
		{"fmt with an empty extension", riffFile("RIFF", chunkOf("fmt ", append(fmtBody(1, 1, 48000, 16), 0, 0)), chunkOf("data", pair)), pairInfo, pairPCM},
		{"fmt longer than any", riffFile("RIFF", chunkOf("fmt ", append(fmtBody(1, 1, 48000, 16), make([]byte, 100)...)), chunkOf("data", pair)), pairInfo, pairPCM},
		{"odd chunks before fmt and data", riffFile("RIFF", bext, list, mono16, list, chunkOf("data", pair)), pairInfo, pairPCM},
		{"odd sound has its padding left out", riffFile("RIFF", fmtChunk(1, 1, 44100, 8), chunkOf("data", []byte{0, 128, 64}), list),
			mono(3, "8-bit integer"), [][]float32{{-1, 0, -0.5}}},
		{"odd sound at the end without padding", riffFile("RIFF", fmtChunk(1, 1, 44100, 8), chunkHeader("data", 3), []byte{0, 128, 64}),
			mono(3, "8-bit integer"), [][]float32{{-1, 0, -0.5}}},
		{"second data chunk", riffFile("RIFF", mono16, chunkOf("data", pair), list, chunkOf("data", pair)),
			pairWith("a second data chunk of 4 bytes, at byte 70, is not read"), pairPCM},
		{"empty data chunk before the real one", riffFile("RIFF", mono16, chunkHeader("data", 0), chunkOf("data", pair)), pairInfo, pairPCM},
		{"chunk cut off after the sound", riffFile("RIFF", mono16, chunkOf("data", pair), list[:15]),
			pairWith("what follows the sound makes no whole chunk and is not read: 15 bytes from byte 48 on"), pairPCM},
		{"more sound than the header has", riffFile("RIFF", mono16, chunkHeader("data", 4), pair, make([]byte, 9), []byte{0xff, 0xff, 0xff}),
			pairWith("what follows the sound makes no whole chunk and is not read: 12 bytes from byte 48 on"), pairPCM},

		// Lengths.
		{"length 0 with sound behind", riffFile("RIFF", mono16, chunkHeader("data", 0), pair), pairWith(open2), pairPCM},
		{"greatest length, as pipes have", riffFile("RIFF", list, mono16, chunkHeader("data", 0xffffffff), pair), pairWith(open2), pairPCM},
		{"greatest signed length", riffFile("RIFF", mono16, chunkHeader("data", 0x7fffffff), pair), pairWith(open2), pairPCM},
		{"length that leaves room for a header", riffFile("RIFF", mono16, chunkHeader("data", 0x7ffff000), pair), pairWith(open2), pairPCM},
		{"open length and half a sample", riffFile("RIFF", mono16, chunkHeader("data", 0xffffffff), pair, []byte{0x7f}),
			pairWith(open2, "the sound ends within a sample frame; 1 byte of 2 left out"), pairPCM},
		{"cut off", riffFile("RIFF", mono16, chunkHeader("data", 2000), pair),
			pairWith("the file is cut off: its header promises 1000 sample frames, 2 are there"), pairPCM},
		{"cut off within a sample", riffFile("RIFF", mono16, chunkHeader("data", 2000), pair, []byte{0x7f}),
			pairWith("the file is cut off: its header promises 1000 sample frames, 2 are there", "the sound ends within a sample frame; 1 byte of 2 left out"), pairPCM},
		{"whole chunk that ends within a sample frame", riffFile("RIFF", fmtChunk(1, 2, 44100, 24), chunkOf("data", append(make([]byte, 12), 1, 2, 3, 4, 5))),
			stereo("24-bit integer", "the sound ends within a sample frame; 5 bytes of 6 left out"), [][]float32{{0, 0}, {0, 0}}},
		{"RF64", wide("RF64", 4), pairInfo, pairPCM},
		{"BW64", wide("BW64", 4), pairInfo, pairPCM},
		{"RF64 of length 0", wide("RF64", 0), pairWith(open2), pairPCM},
		{"RF64 of the greatest length", wide("RF64", math.MaxUint64), pairWith(open2), pairPCM},
		{"RF64 cut off", wide("RF64", 1<<33), pairWith("the file is cut off: its header promises 4294967296 sample frames, 2 are there"), pairPCM},
		{"RF64 with its padding in the length", riffFile("RF64", chunkOf("ds64", append(le.AppendUint64(le.AppendUint64(make([]byte, 8), 4), 3), 0, 0, 0, 0)),
			fmtChunk(1, 1, 44100, 8), chunkHeader("data", 0xffffffff), []byte{0, 128, 64, 0}), mono(3, "8-bit integer"), [][]float32{{-1, 0, -0.5}}},
		{"RF64 without ds64", riffFile("RF64", mono16, chunkHeader("data", 0xffffffff), pair), pairWith(open2), pairPCM},
		{"RF64 with a short length", riffFile("RF64", mono16, chunkOf("data", pair)), pairInfo, pairPCM},
	}
}

func TestCraftedFilesGiveTheirSamples(t *testing.T) {
	for _, c := range readables() {
		t.Run(c.name, func(t *testing.T) {
			s, err := open("song.wav", bytes.NewReader(c.file), int64(len(c.file)))
			if err != nil {
				t.Fatal(err)
			}
			got, err := readAll(s, 7)
			if err != nil {
				t.Fatal(err)
			}
			if info := s.Info(); fmt.Sprintf("%+v", info) != fmt.Sprintf("%+v", c.want) {
				t.Errorf("info\n got %+v\nwant %+v", info, c.want)
			}
			if fmt.Sprint(got) != fmt.Sprint(c.pcm) {
				t.Errorf("samples\n got %v\nwant %v", got, c.pcm)
			}
			for _, note := range s.Info().Notes {
				if strings.ContainsAny(note, "\n\x1b") || strings.HasSuffix(note, ".") {
					t.Errorf("note %q is not a line without a full stop", note)
				}
			}
		})
	}
}

func TestSecondsAreFramesOverRate(t *testing.T) {
	if got := (Info{Rate: 44100, Frames: 66150}).Seconds(); got != 1.5 {
		t.Errorf("66150 frames at 44100 Hz last %v s, want 1.5", got)
	}
}
