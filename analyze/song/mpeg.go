package song

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
)

// mpegFrame is what the header of an MPEG audio frame of layer III tells (ISO/IEC 11172-3, 2.4.1.3 and 2.4.2.3;
// ISO/IEC 13818-3, 2.4.2.3, for the lower rates).
type mpegFrame struct {
	header  uint32
	version int // 1, 2, or 25 for the 2.5 that no standard has
	rate    int
	bitrate int // a second; 0: free format
	mono    bool
	checked bool // two bytes of checksum stand behind the header
	size    int  // bytes, all in all; 0 in free format
}

const mpegHeaderSize = 4

// samples is how many sample frames come of a frame.
func (f mpegFrame) samples() int64 {
	if f.version == 1 {
		return 1152
	}
	return 576
}

// sideAt is the byte at which the side information begins.
func (f mpegFrame) sideAt() int {
	if f.checked {
		return mpegHeaderSize + 2
	}
	return mpegHeaderSize
}

// sideSize is the length of the side information (ISO/IEC 11172-3, 2.4.1.7; ISO/IEC 13818-3, 2.4.1.7).
func (f mpegFrame) sideSize() int {
	switch {
	case f.version == 1 && !f.mono:
		return 32
	case f.version == 1 || !f.mono:
		return 17
	}
	return 9
}

// mainAt is the byte at which the main data begin.
func (f mpegFrame) mainAt() int { return f.sideAt() + f.sideSize() }

// alike tells whether a frame may follow another within a song.
func (f mpegFrame) alike(g mpegFrame) bool { return f.version == g.version && f.rate == g.rate }

// Kilobits a second by the four bits of the header.
var (
	mpeg1Bitrates = [15]int{0, 32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320}
	mpeg2Bitrates = [15]int{0, 8, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 144, 160}
	mpegRates     = [3]int{44100, 48000, 32000} // halved in version 2, quartered in 2.5
)

// parseMPEG reads the header of a frame. ok is false where there is none.
func parseMPEG(head []byte) (f mpegFrame, ok bool) {
	if !isMP3(head) || head[3]&0x03 == 2 { // that emphasis is reserved
		return mpegFrame{}, false
	}
	f = mpegFrame{
		header:  binary.BigEndian.Uint32(head),
		version: [4]int{25, 0, 2, 1}[head[1]>>3&3],
		rate:    mpegRates[head[2]>>2&3],
		mono:    head[3]>>6 == 3,
		checked: head[1]&1 == 0,
	}
	bitrates := mpeg1Bitrates
	switch f.version {
	case 2:
		f.rate, bitrates = f.rate/2, mpeg2Bitrates
	case 25:
		f.rate, bitrates = f.rate/4, mpeg2Bitrates
	}
	f.bitrate = 1000 * bitrates[head[2]>>4]
	if f.bitrate > 0 {
		f.size = int(f.samples())/8*f.bitrate/f.rate + int(head[2]>>1&1)
	}
	return f, f.bitrate == 0 || f.size >= f.mainAt()
}

// mpegScanner goes from frame to frame.
type mpegScanner struct {
	window  *window
	at, end int64
	first   mpegFrame // the frame that the others are like
	found   bool      // first is set
	frames  int64
	strange int64 // bytes between frames that are no frame
	placeOf int64 // where the first of those are
	pending int64 // bytes passed over since the last frame, which are strange if another frame follows
	pendAt  int64
	cut     int64 // bytes of a frame that is not whole at the end
}

// confirming is how many frames must follow one that is not where it was expected.
const confirming = 2

var errNoMPEG = errors.New("holds no MP3 frame where the sound should begin; " + convertAgain)

// next gives the next frame and its bytes, which are valid until the next call, or io.EOF.
func (s *mpegScanner) next() (mpegFrame, []byte, error) {
	for {
		head, err := s.window.peek(s.at, id3HeaderSize)
		if err != nil {
			return mpegFrame{}, nil, err
		}
		if len(head) < mpegHeaderSize {
			s.pass(int64(len(head)))
			return mpegFrame{}, nil, io.EOF
		}
		if tag := id3Size(head); tag > 0 {
			s.at += tag
			continue
		}
		f, ok := parseMPEG(head)
		if ok && s.found && f.alike(s.first) && f.size > 0 {
			if s.at+int64(f.size) > s.end {
				s.cut = s.end - s.at
				return mpegFrame{}, nil, io.EOF
			}
			// A frame that follows a frame is taken at its word; one that is come upon must be confirmed.
			if s.pending == 0 || s.confirmed(f) {
				return s.take(f)
			}
		} else if ok && s.confirmed(f) {
			if s.found {
				return mpegFrame{}, nil, fmt.Errorf("changes from %d to %d Hz at byte %d; convert it to WAV or FLAC", s.first.rate, f.rate, s.at)
			}
			s.found, s.first = true, f
			return s.take(f)
		}
		if err := s.step(); err != nil {
			return mpegFrame{}, nil, err
		}
	}
}

// take gives the frame at s.at and goes on behind it.
func (s *mpegScanner) take(f mpegFrame) (mpegFrame, []byte, error) {
	b, err := s.window.peek(s.at, f.size)
	if err != nil {
		return mpegFrame{}, nil, err
	}
	if s.pending > 0 && s.frames > 0 {
		if s.strange == 0 {
			s.placeOf = s.pendAt
		}
		s.strange += s.pending
	}
	s.pending = 0
	s.frames++
	s.at += int64(f.size)
	return f, b, nil
}

// confirmed tells whether frames like f follow the one at s.at, or the end does.
func (s *mpegScanner) confirmed(f mpegFrame) bool {
	at := s.at
	for range confirming {
		if f.size == 0 {
			return false
		}
		if at += int64(f.size); at == s.end {
			return true
		}
		head, err := s.window.peek(at, mpegHeaderSize)
		if err != nil {
			return false
		}
		g, ok := parseMPEG(head)
		if !ok || !g.alike(f) {
			return false
		}
		f = g
	}
	return true
}

// step passes over bytes that begin no frame, up to the next that may.
func (s *mpegScanner) step() error {
	const look = 4096
	s.pass(1)
	b, err := s.window.peek(s.at, look)
	if err != nil {
		return err
	}
	n := bytes.IndexByte(b, 0xff)
	if tag := bytes.Index(b, []byte("ID3")); tag >= 0 && (n < 0 || tag < n) {
		n = tag
	}
	if n < 0 {
		n = max(0, len(b)-len("ID")) // a tag may begin in the last two
	}
	s.pass(int64(n))
	return nil
}

func (s *mpegScanner) pass(n int64) {
	if s.pending == 0 {
		s.pendAt = s.at
	}
	s.pending += n
	s.at += n
}

// soundEnd is the byte at which the tags behind the sound begin (common practice: ID3v1; APEv2, of which a footer
// of 32 bytes tells the length without a header).
func soundEnd(r io.ReaderAt, size int64) (int64, error) {
	const footer = 32
	if _, found := id3v1Title(r, size); found {
		size -= id3v1Size
	}
	if size < footer {
		return size, nil
	}
	tail := make([]byte, footer)
	if err := readFull(r, tail, size-footer); err != nil {
		return 0, err
	}
	if !begins("APETAGEX")(tail) {
		return size, nil
	}
	tag := int64(binary.LittleEndian.Uint32(tail[12:]))
	if binary.LittleEndian.Uint32(tail[20:])&(1<<31) != 0 {
		tag += footer // there is a header as well
	}
	if tag < footer || tag > size {
		return size, nil
	}
	return size - tag, nil
}

// likelyMP3 tells whether a file that begins with something else has MP3 frames close to its beginning, as a
// recording of a broadcast has: it begins within a frame.
func likelyMP3(r io.ReaderAt, size int64) bool {
	const within = 4096
	s := mpegScanner{window: newWindow(r, size), end: size}
	for s.at < min(within, size) {
		if head, err := s.window.peek(s.at, mpegHeaderSize); err != nil {
			return false
		} else if f, ok := parseMPEG(head); ok && s.at+int64(f.size) < size && s.confirmed(f) {
			return true
		}
		if s.step() != nil {
			return false
		}
	}
	return false
}
