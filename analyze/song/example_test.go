package song_test

import (
	"encoding/binary"
	"fmt"
	"io"
	"log"
	"math"
	"os"
	"path/filepath"

	"colonnade/analyze/song"
)

// writeTone writes one second of a sine of amplitude 0.5 as a WAV file of one channel, 16 bits and 8000 samples a second.
func writeTone(path string) error {
	const rate, bytesPerSample = 8000, 2
	file := []byte("RIFF\x00\x00\x00\x00WAVEfmt \x10\x00\x00\x00\x01\x00\x01\x00")
	file = binary.LittleEndian.AppendUint32(file, rate)
	file = binary.LittleEndian.AppendUint32(file, rate*bytesPerSample)
	file = append(file, bytesPerSample, 0, 8*bytesPerSample, 0)
	file = binary.LittleEndian.AppendUint32(append(file, "data"...), rate*bytesPerSample)
	for i := range rate {
		sample := int16(math.Round(1 << 14 * math.Sin(2*math.Pi*440*float64(i)/rate)))
		file = binary.LittleEndian.AppendUint16(file, uint16(sample))
	}
	binary.LittleEndian.PutUint32(file[4:], uint32(len(file)-8))
	return os.WriteFile(path, file, 0o600)
}

// A song is read a block at a time; what it is does not depend on the name of its file.
func ExampleOpen() {
	folder, err := os.MkdirTemp("", "song")
	if err != nil {
		log.Fatal(err)
	}
	defer os.RemoveAll(folder)
	path := filepath.Join(folder, "tone")
	if err := writeTone(path); err != nil {
		log.Fatal(err)
	}

	s, err := song.Open(path)
	if err != nil {
		log.Fatal(err)
	}
	defer s.Close()
	info := s.Info()
	fmt.Printf("%s, %d Hz, channels %d, %.1f s\n", info.Encoding, info.Rate, info.Channels, info.Seconds())

	block := [][]float32{make([]float32, 1024)}
	loudest := 0.0
	for {
		n, err := s.Read(block)
		for _, sample := range block[0][:n] {
			loudest = max(loudest, math.Abs(float64(sample)))
		}
		if err == io.EOF {
			break
		}
		if err != nil {
			log.Fatal(err)
		}
	}
	fmt.Printf("loudest sample %.3f\n", loudest)
	// Output:
	// 16-bit integer, 8000 Hz, channels 1, 1.0 s
	// loudest sample 0.500
}
