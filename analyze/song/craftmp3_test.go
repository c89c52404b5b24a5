package song

import "encoding/binary"

// The MP3 files of the tests are put together by ISO/IEC 11172-3: frames whose side information is zero, which is
// silence, or one that has a single line of the spectrum.

// mp3Header is 44.1 kHz, 128 kbit/s, joint stereo.
var mp3Header = []byte{0xff, 0xfb, 0x90, 0x44}

// mp3Frames are count silent frames with the given header, or mp3Header.
func mp3Frames(count int, header ...byte) (b []byte) {
	if len(header) == 0 {
		header = mp3Header
	}
	size := 100 // for those that are not read
	if f, ok := parseMPEG(header); ok && f.size > 0 {
		size = f.size
	}
	for range count {
		b = append(b, header...)
		b = append(b, make([]byte, size-len(header))...)
	}
	return b
}

// mp3Info is the frame with LAME's tag: frames follow it, with a delay and padding.
func mp3Info(frames, delay, padding int) []byte {
	b := mp3Frames(1)
	tag := b[4+32:]
	copy(tag, "Info\x00\x00\x00\x0f")
	binary.BigEndian.PutUint32(tag[8:], uint32(frames))
	lame := tag[8+4+4+100+4:]
	copy(lame, "LAME3.100")
	both := delay<<12 | padding
	lame[21], lame[22], lame[23] = byte(both>>16), byte(both>>8), byte(both)
	return b
}

// mp3Knock is a mono frame of 44.1 kHz and 64 kbit/s that has a low tone in its first granule.
func mp3Knock() []byte {
	b := mp3Frames(1, 0xff, 0xfb, 0x50, 0xc4)
	side := bitWriter{}
	side.put(0, 9+5+4)
	side.put(3, 12)     // part2_3_length: the three bits of main data
	side.put(1, 9)      // big_values: one pair
	side.put(230, 8)    // global_gain: 2^5
	side.put(0, 4+1)    // no scale factors, long blocks
	side.put(1<<10, 15) // table 1 for the first region
	side.put(0, 4+3+3)
	side.put(0, 17*8-(9+5+4+12+9+8+4+1+15+4+3+3))
	copy(b[4:], side.b)
	b[4+17] = 0b01_0_00000 // 1, 0 by table 1 (ISO/IEC 11172-3, table B.7), positive
	return b
}
