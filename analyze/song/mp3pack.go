package song

import "encoding/binary"

// mp3Packer makes what the library is given of the frames of a file.
//
// The main data of a frame may begin in the frames before it (ISO/IEC 11172-3, 2.4.2.7, main_data_begin). Where those are
// not there, the library would take other bytes for them and make noise; such a frame is made silent here.
type mp3Packer struct {
	frame []byte
	held  int    // bytes of main data that the library has kept of the frames before
	tail  []byte // the main data of the frames before, as far as a repacked one can go back

	carried int // bytes of tail, its last, that the last repacked frame ends with
	tooLong int // bytes of main data for which it had no room, or 0
}

// bitReader reads bits from the front of bytes, zeros behind their end.
type bitReader struct {
	b  []byte
	at int
}

func (r *bitReader) read(bits int) (n int) {
	for range bits {
		n <<= 1
		if r.at>>3 < len(r.b) {
			n |= int(r.b[r.at>>3] >> (7 - r.at&7) & 1)
		}
		r.at++
	}
	return n
}

// reach is the longest way back that a frame's main_data_begin can tell: it has 9 bits in MPEG-1, 8 in MPEG-2.
func (f mpegFrame) reach() int {
	if f.version == 1 {
		return 1<<9 - 1
	}
	return 1<<8 - 1
}

// mainBegin is how many bytes before its own main data those of a frame begin.
func mainBegin(f mpegFrame, b []byte) int {
	side := bitReader{b: b[f.sideAt():]}
	if f.version == 1 {
		return side.read(9)
	}
	return side.read(8)
}

// setMainBegin changes that in side information.
func setMainBegin(f mpegFrame, side []byte, begin int) {
	if f.version == 1 {
		side[0] = byte(begin >> 1)
		side[1] = side[1]&0x7f | byte(begin<<7)
		return
	}
	side[0] = byte(begin)
}

// pack gives the frame that stands for the frame b of the file, valid until the next call. good is false where
// it is silent though b was not meant to be.
func (p *mp3Packer) pack(f mpegFrame, b []byte) (frame []byte, good bool) {
	if f.repacked() {
		return p.repack(f, b)
	}
	begin := mainBegin(f, b)
	if begin > p.held {
		return p.mute(f, b), false
	}
	p.held = begin + len(b) - f.mainAt()
	return append(p.frame[:0], b...), true
}

// mute gives frame b without its sound. Its main data stay, since the next frame may need them.
func (p *mp3Packer) mute(f mpegFrame, b []byte) []byte {
	p.frame = append(p.frame[:0], b...)
	side := p.frame[f.sideAt():f.mainAt()]
	clear(side) // no bits for any granule
	begin := min(p.held, f.reach())
	setMainBegin(f, side, begin)
	p.held = begin + len(b) - f.mainAt()
	return p.frame
}

// silence gives a frame like f that holds nothing.
func (p *mp3Packer) silence(f mpegFrame) []byte {
	if f.repacked() {
		return p.fitted(f, 0)
	}
	b := make([]byte, f.size)
	binary.BigEndian.PutUint32(b, f.header)
	return p.mute(f, b)
}

// reset forgets the frames before, as the library does when it begins anew.
func (p *mp3Packer) reset() { p.held, p.carried = 0, 0 }

// repacked tells the frames whose length the library gets wrong: at 22050 Hz it takes half of a rounded number and
// so loses the last byte of many a frame with a byte of padding. They are given to it without padding, and with what
// their main data need within them or at the end of the frame before.
func (f mpegFrame) repacked() bool { return f.version == 2 && f.rate == 22050 }

// repackedSize is the length of a frame of 22050 Hz without padding, by the number of its bit rate in the header.
// The library and the standard agree on it.
func repackedSize(bitrate int) int { return 72 * 1000 * mpeg2Bitrates[bitrate] / 22050 }

// repackedRoom is how many bytes of main data the longest frame has room for, when it has no checksum.
func repackedRoom(f mpegFrame) int {
	return repackedSize(len(mpeg2Bitrates)-1) - mpegHeaderSize - f.sideSize()
}

// neededMain is how many bytes of main data a frame of MPEG-2 uses: the sum of part2_3_length over its channels
// (ISO/IEC 13818-3, 2.4.1.7).
func neededMain(f mpegFrame, b []byte) int {
	side := bitReader{b: b[f.sideAt():f.mainAt()], at: 8 + 2}
	channels := 2
	if f.mono {
		side.at, channels = 8+1, 1
	}
	const ofChannel = 12 + 9 + 8 + 9 + 1 + 22 + 1 + 1
	bits := 0
	for range channels {
		bits += side.read(12)
		side.at += ofChannel - 12
	}
	return (bits + 7) / 8
}

// repack gives a frame that begins with the main data of frame b, or, where those began in the frame before, with the rest of them.
// It ends with what main data came since, for the next frame may lean on them. tooLong is set where a frame has no room.
func (p *mp3Packer) repack(f mpegFrame, b []byte) (frame []byte, good bool) {
	begin, need := mainBegin(f, b), neededMain(f, b)
	good = begin <= len(p.tail)
	main := append(p.tail, b[f.mainAt():]...)
	room := repackedRoom(f)
	var own []byte
	next := main
	p.tooLong = 0
	if good {
		from := len(p.tail) - begin
		to := min(len(main), from+need)
		own, next = main[from:to], main[to:]
		if begin > p.carried {
			begin = 0
		}
		if own = own[min(begin, len(own)):]; len(own) > room {
			p.tooLong, own, good = len(own), nil, false
		}
	}
	next = next[max(0, len(next)-min(f.reach(), room-len(own))):]
	frame = p.fitted(f, len(own)+len(next))
	if good {
		side := frame[mpegHeaderSize:]
		copy(side, b[f.sideAt():f.mainAt()])
		setMainBegin(f, side, begin)
		copy(side[f.sideSize():], own)
	}
	copy(frame[len(frame)-len(next):], next)
	p.carried = len(next)
	p.tail = append(p.tail[:0], main[max(0, len(main)-f.reach()):]...)
	return frame, good
}

// fitted gives an empty frame like f, without padding and checksum, that has room for at least need bytes of main data.
func (p *mp3Packer) fitted(f mpegFrame, need int) []byte {
	bitrate := 1
	for bitrate < len(mpeg2Bitrates)-1 && repackedSize(bitrate)-mpegHeaderSize-f.sideSize() < need {
		bitrate++
	}
	header := f.header&^(0xf<<12|1<<9) | uint32(bitrate)<<12 | 1<<16
	p.frame = append(p.frame[:0], make([]byte, repackedSize(bitrate))...)
	binary.BigEndian.PutUint32(p.frame, header)
	return p.frame
}
