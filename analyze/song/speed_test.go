package song

import (
	"bytes"
	"io"
	"testing"
)

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
