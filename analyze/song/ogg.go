package song

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
)

const (
	oggHeaderSize = 27 // of a page, before its table of lengths
	oggPageMost   = oggHeaderSize + 255 + 255*255
	// maxPacket bounds what is kept of a packet. It is more than an Opus packet of 120 ms has, which is 48 frames
	// of up to 1275 bytes (RFC 6716, 3.2.5); of the comments the beginning is enough.
	maxPacket = maxTags

	oggContinued, oggFirst, oggLast = 1, 2, 4 // the flags of a page
)

// oggPage is the header of a page (RFC 3533, section 6).
type oggPage struct {
	at       int64
	flags    byte
	granule  int64 // where the sound stands at the end of the page; -1: no packet ends on it
	serial   uint32
	sequence uint32
	lengths  []byte // of the segments: valid until the window moves
	size     int64  // bytes, header included
}

var errCutPage = errors.New("the file ends within a page")

// oggPageAt reads the header of the page at byte at. io.EOF: the file ends there; errCutPage: it ends before the page does.
func oggPageAt(w *window, at int64) (oggPage, error) {
	b, err := w.peek(at, oggHeaderSize+255)
	switch {
	case err != nil:
		return oggPage{}, err
	case len(b) == 0:
		return oggPage{}, io.EOF
	case len(b) >= 4 && string(b[:4]) != "OggS":
		return oggPage{}, fmt.Errorf("has %q at byte %d, where a page should begin; %s", b[:4], at, convertAgain)
	case len(b) < oggHeaderSize || len(b) < oggHeaderSize+int(b[26]):
		return oggPage{}, errCutPage
	}
	p := oggPage{
		at:       at,
		flags:    b[5],
		granule:  int64(binary.LittleEndian.Uint64(b[6:])),
		serial:   binary.LittleEndian.Uint32(b[14:]),
		sequence: binary.LittleEndian.Uint32(b[18:]),
		lengths:  b[oggHeaderSize : oggHeaderSize+int(b[26])],
	}
	p.size = oggHeaderSize + int64(len(p.lengths))
	for _, n := range p.lengths {
		p.size += int64(n)
	}
	if at+p.size > w.end {
		return p, errCutPage
	}
	return p, nil
}

// oggReader puts the packets of one stream together.
type oggReader struct {
	window   *window
	at       int64 // of the next page
	serial   uint32
	sequence uint32 // that the next page of the stream must have
	anew     bool   // the next page may have any: a recording of a broadcast begins somewhere
	table    *[256]uint32
	page     []byte // what is left of the page in hand
	lengths  []byte
	granule  int64
	packet   []byte
	dropped  bool // the beginning of the packet is not there
	sounds   bool // a page of sound was turned to
}

func newOggReader(w *window, serial uint32) *oggReader {
	return &oggReader{window: w, serial: serial, table: oggTable(), granule: -1}
}

// next gives the next packet, valid until the next call, cut to maxPacket bytes. ends tells that it is the last
// on its page, of which granule is the place. io.EOF: there is none.
func (o *oggReader) next() (packet []byte, granule int64, ends bool, err error) {
	o.packet = o.packet[:0]
	for {
		for len(o.lengths) > 0 {
			n := int(o.lengths[0])
			o.lengths = o.lengths[1:]
			o.packet = append(o.packet, o.page[:min(n, maxPacket-len(o.packet))]...)
			o.page = o.page[n:]
			if n < 255 {
				if o.dropped {
					o.dropped, o.packet = false, o.packet[:0]
					continue
				}
				return o.packet, o.granule, !o.endsMore(), nil
			}
		}
		if err := o.turn(); err != nil {
			return nil, 0, false, err
		}
	}
}

// endsMore tells whether another packet ends on the page in hand.
func (o *oggReader) endsMore() bool {
	for _, n := range o.lengths {
		if n < 255 {
			return true
		}
	}
	return false
}

// turn takes the next page of the stream in hand.
func (o *oggReader) turn() error {
	for {
		p, err := oggPageAt(o.window, o.at)
		if err == errCutPage {
			return io.EOF
		}
		if err != nil {
			return err
		}
		o.at += p.size
		if p.serial != o.serial {
			if p.flags&oggFirst != 0 && o.sounds {
				return io.EOF // behind sound another song begins
			}
			continue
		}
		b, err := o.window.peek(p.at, int(p.size))
		if err != nil {
			return err
		}
		if o.sum(b) != binary.LittleEndian.Uint32(b[22:]) {
			return fmt.Errorf("the page at byte %d does not have the checksum that it tells", p.at)
		}
		if p.sequence != o.sequence && !o.anew {
			return fmt.Errorf("page %d is missing before byte %d", o.sequence, p.at)
		}
		o.sequence, o.anew = p.sequence+1, false
		o.granule = p.granule
		o.sounds = o.sounds || p.granule > 0
		o.lengths = b[oggHeaderSize : oggHeaderSize+int(b[26])]
		o.page = b[oggHeaderSize+len(o.lengths):]
		switch continued := p.flags&oggContinued != 0; {
		case !continued:
			o.packet = o.packet[:0] // what was begun is not gone on with
		case len(o.packet) == 0:
			o.dropped = true
		}
		return nil
	}
}

// sum is the checksum of a page, taken as if it had none itself: x^32 + x^26 + x^23 + x^22 + x^16 + x^12 + x^11 + x^10 +
// x^8 + x^7 + x^5 + x^4 + x^2 + x + 1, from 0 (RFC 3533, section 6).
func (o *oggReader) sum(page []byte) (sum uint32) {
	for i, v := range page {
		if i >= 22 && i < 26 {
			v = 0
		}
		sum = sum<<8 ^ o.table[byte(sum>>24)^v]
	}
	return sum
}

func oggTable() *[256]uint32 {
	var table [256]uint32
	for i := range table {
		sum := uint32(i) << 24
		for range 8 {
			if sum&(1<<31) != 0 {
				sum = sum<<1 ^ 0x04c11db7
			} else {
				sum <<= 1
			}
		}
		table[i] = sum
	}
	return &table
}
