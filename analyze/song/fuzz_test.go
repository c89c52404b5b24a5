package song

import (
	"bytes"
	"encoding/binary"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// listen opens any bytes and, where they make a song, reads it to its end.
func listen(t *testing.T, file []byte) {
	oneLine := func(err error) {
		if text := err.Error(); !strings.HasPrefix(text, "song.wav: ") || !strings.Contains(text, "; ") || strings.ContainsAny(text, "\n\r\x1b") {
			t.Fatalf("the error is not one line that names the file and says what to do: %q", text)
		}
	}
	s, err := open("song.wav", bytes.NewReader(file), int64(len(file)))
	if err != nil {
		oneLine(err)
		return
	}
	info := s.Info()
	if info.Rate < minRate || info.Rate > maxRate || info.Channels < 1 || info.Channels > maxChannels || info.Frames < 0 {
		t.Fatalf("taken for a song: %+v", info)
	}
	wav := strings.HasSuffix(info.Encoding, "integer") || strings.HasSuffix(info.Encoding, "float")
	if wav && (info.Frames < 1 || info.Frames*int64(info.Channels) > int64(len(file))) {
		t.Fatalf("%+v in %d bytes: no samples, or more than bytes", info, len(file))
	}
	if info.Title != cleanTitle(info.Title) {
		t.Fatalf("the title is %q", info.Title)
	}
	dst := make([][]float32, info.Channels)
	for i := range dst {
		dst[i] = make([]float32, 100)
	}
	var frames int64
	for {
		n, err := s.Read(dst)
		if err == io.EOF && n == 0 {
			break
		}
		if err != nil && !wav && err != io.EOF {
			oneLine(err)
			return
		}
		if err != nil || n == 0 {
			t.Fatalf("read gives %d, %v after %d sample frames of %d", n, err, frames, info.Frames)
		}
		frames += int64(n)
		for _, channel := range dst {
			for _, v := range channel[:n] {
				if !(math.Abs(float64(v)) <= math.MaxFloat32) {
					t.Fatalf("a sample is %v", v)
				}
				if !strings.Contains(info.Encoding, "float") && !strings.Contains(info.Encoding, "Opus") && (v < -1 || v > 1) {
					t.Fatalf("a sample of %s is %v", info.Encoding, v)
				}
			}
		}
	}
	if got := s.Info().Frames; frames != got || wav && frames != info.Frames {
		t.Fatalf("%d sample frames were read, %d were told and then %d", frames, info.Frames, got)
	}
}

// FuzzOpen opens any bytes.
func FuzzOpen(f *testing.F) {
	for _, c := range readables() {
		f.Add(c.file)
	}
	f.Add(flacFile(ramp(44100, 16, 2, 50)))
	f.Add(silentSong(312, 2))
	for _, c := range refusals() {
		if len(c.file) < 1<<12 { // long files make for slow fuzzing
			f.Add(c.file)
		}
	}
	f.Fuzz(func(t *testing.T, file []byte) {
		listen(t, file)
	})
}

// seed is the beginning of a file of testdata.
func seed(f *testing.F, name string, bytes int) []byte {
	f.Helper()
	b, err := os.ReadFile(filepath.Join("testdata", name))
	if err != nil {
		f.Fatal(err)
	}
	return b[:min(bytes, len(b))]
}

// FuzzFLAC decodes a frame whose header is sound and whose rest is any bytes.
func FuzzFLAC(f *testing.F) {
	file := seed(f, "tone-24000.flac", 2000)
	body := file[bytes.Index(file, []byte{0xff, 0xf8})+8:]
	f.Add(uint16(2400), byte(0), byte(0), body)
	f.Add(uint16(15), byte(10), byte(6), []byte{2, 1, 2, 3})
	f.Add(uint16(99), byte(7), byte(4), bytes.Repeat([]byte{0x10, 0, 0, 0x03}, 50))
	f.Fuzz(func(t *testing.T, block uint16, channels, bits byte, body []byte) {
		channels %= 11
		count := int(channels) + 1
		if channels > 7 {
			count = 2 // left and side, side and right, mid and side
		}
		depth := []int{13, 8, 12, 23, 16, 20, 24, 24}[bits%8]
		song := flacSong{rate: 24000, bits: depth, pcm: make([][]int32, count), block: 16, unsummed: true}
		frame := []byte{0xff, 0xf8, 0x77, channels<<4 | bits%8<<1, 0, byte(block >> 8), byte(block)}
		frame = append(append(frame, crc8(frame)), body...)
		listen(t, slices.Concat(flacFile(song), frame))
		summed := binary.BigEndian.AppendUint16(frame, newCRC16().add(0, frame))
		listen(t, slices.Concat(flacFile(song), summed, summed))
	})
}

// FuzzMP3 reads any bytes behind a sound frame of MPEG-1 or, where lower is set, of MPEG-2.
func FuzzMP3(f *testing.F) {
	f.Add(false, mp3Knock())
	f.Add(false, seed(f, "clicks.mp3", 3*209)[2*209:])
	f.Add(true, seed(f, "tones-22050.mp3", 900)[261:])
	f.Add(false, append(id3Tag(4, 0, id3Frame(4, "TIT2", 3, "Stones")), mp3Info(2, 576, 700)...))
	f.Add(true, mp3Frames(2, 0xff, 0xf3, 0x10, 0xc4))
	f.Fuzz(func(t *testing.T, lower bool, b []byte) {
		front := mp3Frames(1)
		if lower {
			front = mp3Frames(1, 0xff, 0xf3, 0x10, 0x44)
		}
		listen(t, slices.Concat(front, b))
	})
}

// FuzzOpus decodes any packets, each with its length in front.
func FuzzOpus(f *testing.F) {
	tones := seed(f, "tones.opus", 5000)
	var packets []byte
	r := newOggReader(newWindow(bytes.NewReader(tones), int64(len(tones))), le.Uint32(tones[14:]))
	for i := 0; i < 6; i++ {
		packet, _, _, err := r.next()
		if err != nil {
			f.Fatal(err)
		}
		if i >= 2 && len(packet) < 256 {
			packets = append(append(packets, byte(len(packet))), packet...)
		}
	}
	f.Add(byte(2), packets)
	f.Add(byte(1), append([]byte{3}, opusSilence...))
	f.Add(byte(2), []byte{4, 0x08, 1, 2, 3, 4, 0x6b, 2, 3, 4, 2, 0xff, 0x05})
	f.Fuzz(func(t *testing.T, channels byte, packets []byte) {
		stream := [][]byte{opusHeader(int(channels%2)+1, 0, 0, 0), opusTags()}
		for len(packets) > 0 && len(stream) < 50 {
			n := min(int(packets[0]), len(packets)-1)
			stream = append(stream, packets[1:1+n])
			packets = packets[1+n:]
		}
		listen(t, opusStream(stream...))
	})
}
