package song

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"runtime"
	"testing"
)

// obvious decodes one sample by the definition of its coding, without the library and without a block.
func obvious(float bool, coded []byte) float32 {
	var bits uint64
	for i, b := range coded {
		bits |= uint64(b) << (8 * i)
	}
	switch {
	case float && len(coded) == 4:
		return math.Float32frombits(uint32(bits))
	case float:
		return float32(math.Float64frombits(bits))
	case len(coded) == 1:
		return float32((float64(bits) - 128) / 128)
	}
	fullScale := math.Pow(2, float64(8*len(coded)-1))
	v := float64(bits)
	if v >= fullScale {
		v -= 2 * fullScale // two's complement
	}
	return float32(v / fullScale)
}

func TestEveryCodingEqualsTheObviousLoop(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	for _, coded := range []struct{ tag, bits int }{{1, 8}, {1, 16}, {1, 24}, {1, 32}, {3, 32}, {3, 64}} {
		for _, channels := range []int{1, 2, 3, 64} {
			t.Run(fmt.Sprintf("tag %d, %d bits, %d channels", coded.tag, coded.bits, channels), func(t *testing.T) {
				size := coded.bits / 8
				frames := 2*blockSamples/channels + 5 // more than two blocks, and not a whole number of them
				sound := make([]byte, frames*channels*size)
				for i := 0; i < len(sound); i += size {
					switch {
					case coded.tag == 1:
						for k := range size {
							sound[i+k] = byte(random.Uint32())
						}
					case size == 4:
						le.PutUint32(sound[i:], math.Float32bits(random.Float32()*4-2))
					default:
						le.PutUint64(sound[i:], math.Float64bits(random.Float64()*4-2))
					}
				}
				file := riffFile("RIFF", fmtChunk(coded.tag, channels, 44100, coded.bits), chunkOf("data", sound))
				for _, at := range []int{1000, blockSamples/channels - 1, frames + 10} {
					s, err := open("song.wav", bytes.NewReader(file), int64(len(file)))
					if err != nil {
						t.Fatal(err)
					}
					got, err := readAll(s, at)
					if err != nil {
						t.Fatal(err)
					}
					if len(got[0]) != frames || s.Info().Frames != int64(frames) {
						t.Fatalf("%d sample frames read, %d told, want %d", len(got[0]), s.Info().Frames, frames)
					}
					for k := range frames {
						for i := range channels {
							place := (k*channels + i) * size
							if want := obvious(coded.tag == 3, sound[place:place+size]); got[i][k] != want {
								t.Fatalf("read %d at a time: channel %d, sample %d is %v, want %v", at, i, k, got[i][k], want)
							}
						}
					}
				}
			})
		}
	}
}

func TestReadFillsWhatItIsGiven(t *testing.T) {
	const frames = 3*blockSamples + 1
	file := riffFile("RIFF", mono16, chunkOf("data", make([]byte, 2*frames)))
	s, err := open("song.wav", bytes.NewReader(file), int64(len(file)))
	if err != nil {
		t.Fatal(err)
	}
	dst := [][]float32{make([]float32, 2*blockSamples)}
	for _, want := range []struct {
		n   int
		err error
	}{{2 * blockSamples, nil}, {blockSamples + 1, nil}, {0, io.EOF}, {0, io.EOF}} {
		if n, err := s.Read(dst); n != want.n || err != want.err {
			t.Fatalf("read gives %d, %v, want %d, %v", n, err, want.n, want.err)
		}
	}
}

// long is a file of any size: a header, and silence behind it. It keeps the longest read asked of it.
type long struct {
	head    []byte
	size    int64
	longest int
}

func (f *long) ReadAt(p []byte, at int64) (int, error) {
	f.longest = max(f.longest, len(p))
	clear(p)
	if at < int64(len(f.head)) {
		copy(p, f.head[at:])
	}
	if at+int64(len(p)) > f.size {
		return int(max(0, f.size-at)), io.EOF
	}
	return len(p), nil
}

func TestLengthsAreNotHeldIn32Bits(t *testing.T) {
	const data = 6 << 30
	ds64 := le.AppendUint64(nil, 0)
	ds64 = le.AppendUint64(ds64, data)
	ds64 = append(ds64, make([]byte, 12)...)
	for name, head := range map[string][]byte{
		"RF64":                      riffFile("RF64", chunkOf("ds64", ds64), mono16, chunkHeader("data", 0xffffffff)),
		"RIFF with its length open": riffFile("RIFF", mono16, chunkHeader("data", 0xffffffff)),
	} {
		f := &long{head: head, size: int64(len(head)) + data}
		s, err := open("song.wav", f, f.size)
		if err != nil {
			t.Fatal(err)
		}
		if got := s.Info().Frames; got != data/2 {
			t.Errorf("%s: %d sample frames in 6 GiB of 16-bit mono, want %d", name, got, data/2)
		}
	}
}

func TestMemoryDoesNotGrowWithTheSong(t *testing.T) {
	for _, coded := range [][2]int{{1, 16}, {1, 24}, {3, 64}} {
		var held [2]int64
		for i, blocks := range []int64{2, 60} {
			head := riffFile("RIFF", fmtChunk(coded[0], 2, 44100, coded[1]), chunkHeader("data", 0xffffffff))
			f := &long{head: head, size: int64(len(head)) + blocks*blockSamples*int64(coded[1]/8)}
			before := heap()
			s, err := open("song.wav", f, f.size)
			if err != nil {
				t.Fatal(err)
			}
			dst := [][]float32{make([]float32, 512), make([]float32, 512)}
			for err == nil {
				_, err = s.Read(dst)
			}
			held[i] = heap() - before
			if s.Info().Frames != blocks*blockSamples/2 || err != io.EOF {
				t.Fatalf("%d sample frames, %v", s.Info().Frames, err)
			}
			if most := blockSamples * coded[1] / 8; f.longest > most {
				t.Errorf("%d bytes were read at once, at most %d are expected", f.longest, most)
			}
		}
		if held[1] > held[0]+64<<10 {
			t.Errorf("%d bits: 60 blocks held %d bytes, 2 blocks held %d", coded[1], held[1], held[0])
		}
	}
}

// heap is what is reachable, in bytes.
func heap() int64 {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return int64(m.HeapAlloc)
}

func TestReadingTakesFewAllocations(t *testing.T) {
	head := riffFile("RIFF", fmtChunk(1, 2, 44100, 16), chunkHeader("data", 0xffffffff))
	f := &long{head: head, size: int64(len(head)) + 1<<40}
	s, err := open("song.wav", f, f.size)
	if err != nil {
		t.Fatal(err)
	}
	dst := [][]float32{make([]float32, blockSamples/2), make([]float32, blockSamples/2)}
	// The library makes a buffer and a reader anew for each block.
	const most = 8
	if got := testing.AllocsPerRun(10, func() { s.Read(dst) }); got > most {
		t.Errorf("a block of %d samples took %v allocations, at most %d are expected", blockSamples, got, most)
	}
}

// BenchmarkFourMinutes reads four minutes of 44.1 kHz stereo, a common length of song.
func BenchmarkFourMinutes(b *testing.B) {
	for _, coded := range []struct {
		name      string
		tag, bits int
	}{{"8 bit", 1, 8}, {"16 bit", 1, 16}, {"24 bit", 1, 24}, {"32 bit", 1, 32}, {"32-bit float", 3, 32}} {
		b.Run(coded.name, func(b *testing.B) {
			const frames = 240 * 44100
			sound := make([]byte, frames*2*coded.bits/8)
			for i := range sound {
				sound[i] = byte(i * i >> 3)
			}
			file := riffFile("RIFF", fmtChunk(coded.tag, 2, 44100, coded.bits), chunkOf("data", sound))
			dst := [][]float32{make([]float32, 4096), make([]float32, 4096)}
			b.SetBytes(int64(len(sound)))
			b.ReportAllocs()
			for b.Loop() {
				s, err := open("song.wav", bytes.NewReader(file), int64(len(file)))
				if err != nil {
					b.Fatal(err)
				}
				for err == nil {
					_, err = s.Read(dst)
				}
				if err != io.EOF {
					b.Fatal(err)
				}
			}
		})
	}
}
