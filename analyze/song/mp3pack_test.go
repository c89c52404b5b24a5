package song

import (
	"bytes"
	"math/rand/v2"
	"testing"
)

// setMain writes into a stereo frame of MPEG-2 that its main data begin so many bytes before its own and are so many bytes long
// (ISO/IEC 13818-3, 2.4.1.7: main_data_begin, and part2_3_length of both channels).
func setMain(b []byte, begin, need int) {
	side := bitWriter{}
	side.put(int64(begin), 8)
	side.put(0, 2)
	for _, bytes := range []int{need / 2, need - need/2} {
		side.put(8*int64(bytes), 12)
		side.put(0, 9+8+9+1+22+1+1)
	}
	copy(b[mpegHeaderSize:], side.b)
}

// mp3Full is a song of 22.05 kHz, 160 kbit/s, whose second frame uses every byte of its own, one of padding too: the longest frame
// without padding has room for 522 - 4 - 17 = 501.
func mp3Full() []byte {
	b := mp3Frames(4, 0xff, 0xf3, 0xe2, 0x04)
	setMain(b[523:], 0, 502)
	return b
}

// TestRepackedFramesHoldTheirMainData, those too whose main data are longer than the longest frame has room for, as encoders make
// them that save bytes for loud moments. What a decoder takes for a frame's main data (ISO/IEC 13818-3, 2.4.2.7) is put
// together here as it does it: from where main_data_begin points in what it had before.
func TestRepackedFramesHoldTheirMainData(t *testing.T) {
	random := rand.New(rand.NewPCG(22, 50))
	long, leaning := 0, 0
	packer := mp3Packer{}
	var before []byte // main data that a decoder had for the frame before
	saved := 0        // bytes of main data before this frame that no frame has used
	var stream []byte // main data of all frames
	type used struct{ from, to int }
	var frames [][]byte
	var needs []used
	for i := range 400 {
		b := mp3Frames(1, 0xff, 0xf3, 0xc0|byte(i%2<<1), 0x04) // 128 kbit/s, every second one padded
		f, _ := parseMPEG(b)
		begin := min(saved, f.reach())
		area := f.size - f.mainAt()
		need := begin + area - random.IntN(300)
		if i%7 == 3 { // a quiet moment
			need = random.IntN(100)
		}
		from := len(stream) - begin
		needs = append(needs, used{from, from + need})
		saved = begin + area - need
		for range area {
			stream = append(stream, byte(random.IntN(256)))
		}
		setMain(b, begin, need)
		copy(b[f.mainAt():], stream[len(stream)-area:])
		frames = append(frames, b)
	}
	for i, b := range frames {
		f, _ := parseMPEG(b)
		frame, good := packer.pack(f, b)
		g, ok := parseMPEG(frame)
		if !good || !ok || packer.tooLong > 0 || g.size != len(frame) {
			t.Fatalf("frame %d: good %v, %d bytes too long, its header says %d bytes of %d", i, good, packer.tooLong, g.size, len(frame))
		}
		begin := mainBegin(g, frame)
		if begin > len(before) {
			t.Fatalf("frame %d begins %d bytes before itself, where there are %d", i, begin, len(before))
		}
		main := append(bytes.Clone(before[len(before)-begin:]), frame[g.mainAt():]...)
		want := stream[needs[i].from:needs[i].to]
		if len(main) < len(want) || !bytes.Equal(main[:len(want)], want) {
			t.Fatalf("frame %d: not the %d bytes of its main data", i, len(want))
		}
		if len(want) > repackedRoom(f) {
			long++
		}
		if begin > 0 {
			leaning++
		}
		before = main
	}
	if long < 5 || leaning < 100 {
		t.Errorf("only %d frames are longer than the longest, and %d lean on the one before", long, leaning)
	}
}
