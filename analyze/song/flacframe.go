package song

import (
	"errors"
	"fmt"
	"io"

	"github.com/mewkiz/flac/frame"
	"github.com/mewkiz/flac/meta"
)

// flacSource gives the library the bytes of a FLAC file from at on.
type flacSource struct {
	window *window
	at     int64
	header []byte // what the library is given next in place of as many bytes of the file
	ended  bool   // more was asked for than the file has
	failed error  // the file could not be read
	table  *crc16
}

// Read is called for a byte or two at a time.
func (s *flacSource) Read(p []byte) (int, error) {
	if len(s.header) > 0 {
		n := copy(p, s.header)
		s.header = s.header[n:]
		s.at += int64(n)
		return n, nil
	}
	got, err := s.window.peek(s.at, min(len(p), windowSize))
	if err != nil {
		s.failed = err
		return 0, err
	}
	if len(got) == 0 && len(p) > 0 {
		s.ended = true
		return 0, io.EOF
	}
	s.at += int64(len(got))
	return copy(p, got), nil
}

// parse decodes the frame that begins at s.at, and leaves s.at behind it.
//
// The library checks what it reads, but not all that follows from it. Should it panic over a damaged file, that
// is an error of the file; nothing of it outlives the frame.
func (s *flacSource) parse(stream *meta.StreamInfo) (f *frame.Frame, err error) {
	defer func() {
		if fault := recover(); fault != nil {
			err = fmt.Errorf("the FLAC library failed: %v", fault)
		}
	}()
	start := s.at
	s.ended = false
	head, err := s.window.peek(start, flacHeaderMost)
	if err != nil {
		s.failed = err
		return nil, err
	}
	if s.header, err = quiet(head); err != nil {
		return nil, err
	}
	replaced := s.header != nil
	if f, err = frame.New(s); err != nil {
		return nil, err
	}
	if f.BitsPerSample == 0 { // as in StreamInfo, which the library does not look at
		f.BitsPerSample = stream.BitsPerSample
	}
	if err = f.Parse(); err != nil && replaced && s.failed == nil && s.whole(f, start) {
		err = nil // the sum was not that of the header that the library was given
	}
	return f, err
}

// flacHeaderMost is the length of the longest frame header (RFC 9639, 9.1): 4 bytes, up to 7 for a number, 2 for
// a block size, 2 for a rate, and a checksum.
const flacHeaderMost = 16

// quiet gives another header for a frame where the library would print a line to the standard log for every frame
// of its rate, 24 and 176.4 kHz. It refers to StreamInfo for the rate and says the same otherwise. nil: the frame
// may stay as it is.
func quiet(head []byte) ([]byte, error) {
	const rate176400, rate24000 = 2, 7 // RFC 9639, 9.1.2
	if len(head) < 6 || !flacSync(head) {
		return nil, nil
	}
	if rate := head[2] & 0x0f; rate != rate176400 && rate != rate24000 {
		return nil, nil
	}
	h, ok := parseFLACHead(head)
	if !ok {
		return nil, errors.New("a frame header that is damaged")
	}
	header := append([]byte(nil), head[:h.length]...)
	header[2] &= 0xf0
	header[h.length-1] = crc8(header[:h.length-1])
	return header, nil
}

// flacHead is what is needed here of a frame header (RFC 9639, 9.1).
type flacHead struct {
	variable bool  // number is that of a sample frame, not of a frame
	number   int64 // of the first sample frame in it, or of itself among frames of one length
	block    int   // sample frames in it
	length   int   // bytes of the header, its checksum included
}

// parseFLACHead reads the header that head begins. ok is false where there is none.
func parseFLACHead(head []byte) (h flacHead, ok bool) {
	if len(head) < 6 || !flacSync(head) {
		return h, false
	}
	h.variable = head[1]&1 != 0
	h.length = 5                                         // sync, sizes, channels and the first byte of the number
	for ones := head[4]; ones&0xc0 == 0xc0; ones <<= 1 { // each bit set behind the first stands for a byte more
		h.length++
	}
	if h.length > len(head) {
		return h, false
	}
	h.number = int64(head[4])
	if more := h.length - 5; more > 0 {
		h.number &= 0x3f >> more
		for _, b := range head[5:h.length] {
			h.number = h.number<<6 | int64(b&0x3f)
		}
	}
	size, own := int(head[2]>>4), 0 // own: bytes of the block size behind the number
	switch {
	case size == 0: // reserved
		return h, false
	case size == 1:
		h.block = 192
	case size <= 5:
		h.block = 576 << (size - 2)
	case size <= 7:
		own = size - 5
	default:
		h.block = 256 << (size - 8)
	}
	rest := own + 1
	switch head[2] & 0x0f { // a rate of its own
	case 12:
		rest++
	case 13, 14:
		rest += 2
	}
	if h.length+rest > len(head) {
		return h, false
	}
	if own > 0 {
		for _, b := range head[h.length : h.length+own] {
			h.block = h.block<<8 | int(b)
		}
		h.block++
	}
	h.length += rest
	return h, crc8(head[:h.length-1]) == head[h.length-1]
}

// place is the number of the first sample frame of a frame.
func (h flacHead) place(stream *meta.StreamInfo) int64 {
	if h.variable {
		return h.number
	}
	return h.number * int64(stream.BlockSizeMax)
}

// lengthByFrames is how many sample frames a file has by the numbers of its first and its last frame, or 0. The last is
// that whose checksum ends the file.
func (s *flacSource) lengthByFrames(stream *meta.StreamInfo, longest int64) int64 {
	head, err := s.window.peek(s.at, flacHeaderMost)
	if err != nil {
		return 0
	}
	first, ok := parseFLACHead(head)
	if !ok {
		return 0
	}
	look := min(longest, windowSize, s.window.end-s.at)
	b, err := s.window.peek(s.window.end-look, int(look))
	if err != nil {
		return 0
	}
	table := newCRC16()
	for at := len(b) - flacHeaderMost/2; at >= 0; at-- {
		h, ok := parseFLACHead(b[at:min(len(b), at+flacHeaderMost)])
		if ok && table.add(0, b[at:]) == 0 {
			return max(0, h.place(stream)+int64(h.block)-first.place(stream))
		}
	}
	return 0
}

// whole tells whether all samples of the frame are decoded and its bytes in the file have their sum.
func (s *flacSource) whole(f *frame.Frame, start int64) bool {
	if len(f.Subframes) != f.Channels.Count() {
		return false
	}
	for _, channel := range f.Subframes {
		if channel == nil || len(channel.Samples) != int(f.BlockSize) {
			return false
		}
	}
	if s.table == nil {
		s.table = newCRC16()
	}
	var sum uint16
	for at := start; at < s.at; {
		b, err := s.window.peek(at, int(min(s.at-at, windowSize)))
		if err != nil || len(b) == 0 {
			return false
		}
		sum = s.table.add(sum, b)
		at += int64(len(b))
	}
	return sum == 0 // as a sum that is taken over what has its own sum at the end
}

// crc8 is the checksum of a frame header: x^8 + x^2 + x + 1, from 0 (RFC 9639, 9.1.8).
func crc8(b []byte) (sum byte) {
	for _, v := range b {
		sum ^= v
		for range 8 {
			if sum&0x80 != 0 {
				sum = sum<<1 ^ 0x07
			} else {
				sum <<= 1
			}
		}
	}
	return sum
}

// crc16 makes the checksum of a frame: x^16 + x^15 + x^2 + 1, from 0 (RFC 9639, 9.3).
type crc16 [256]uint16

func newCRC16() *crc16 {
	var table crc16
	for i := range table {
		sum := uint16(i) << 8
		for range 8 {
			if sum&0x8000 != 0 {
				sum = sum<<1 ^ 0x8005
			} else {
				sum <<= 1
			}
		}
		table[i] = sum
	}
	return &table
}

func (t *crc16) add(sum uint16, b []byte) uint16 {
	for _, v := range b {
		sum = sum<<8 ^ t[byte(sum>>8)^v]
	}
	return sum
}
