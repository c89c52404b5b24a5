package song

import (
	"bytes"
	"encoding/binary"
	"io"
	"unicode/utf16"
)

const (
	id3HeaderSize = 10
	id3v1Size     = 128
	// maxID3Frames bounds the walk through a tag.
	maxID3Frames = 200
	// maxID3Tags is how many tags one behind the other are passed over.
	maxID3Tags = 16
)

// id3Size is the length of the ID3v2 tag that head begins, or 0 (ID3v2.4.0, section 3.1: ten bytes, the last
// four of them a length with seven bits a byte; ten more where bit 4 of the flags tells of a footer).
func id3Size(head []byte) int64 {
	if len(head) < id3HeaderSize || !begins("ID3")(head) {
		return 0
	}
	size, ok := sevenBits(head[6:10])
	if !ok {
		return 0
	}
	if head[5]&0x10 != 0 {
		size += id3HeaderSize
	}
	return size + id3HeaderSize
}

// sevenBits reads a number that has seven bits in each byte, so that no byte looks like the sync of a frame.
func sevenBits(b []byte) (n int64, ok bool) {
	for _, c := range b {
		if c >= 0x80 {
			return 0, false
		}
		n = n<<7 | int64(c)
	}
	return n, true
}

// id3Title is the title in the ID3v2 tag at the beginning of r (ID3v2.2.0, ID3v2.3.0 and ID3v2.4.0-structure), or
// empty. Whatever is odd about a tag is no reason to refuse a song.
func id3Title(r io.ReaderAt) string {
	head := make([]byte, id3HeaderSize)
	if _, err := r.ReadAt(head, 0); err != nil {
		return ""
	}
	end := id3Size(head)
	version, flags := head[3], head[5]
	if end == 0 || version < 2 || version > 4 {
		return ""
	}
	tag, at := r, int64(id3HeaderSize)
	if flags&0x80 != 0 && version < 4 { // the whole tag has zeros put behind each 0xff; in version 4 each frame tells for itself
		body := make([]byte, min(maxTags, end-id3HeaderSize))
		if err := readFull(r, body, id3HeaderSize); err != nil {
			return ""
		}
		body = synchronised(body)
		tag, at, end = bytes.NewReader(body), 0, int64(len(body))
	}
	if flags&0x40 != 0 && version >= 3 { // an extended header
		size := make([]byte, 4)
		if _, err := tag.ReadAt(size, at); err != nil {
			return ""
		}
		if version == 4 {
			n, _ := sevenBits(size)
			at += n
		} else {
			at += 4 + int64(binary.BigEndian.Uint32(size))
		}
	}
	return id3FrameTitle(tag, at, end, version)
}

// id3FrameTitle walks through the frames of a tag from byte at to byte end.
func id3FrameTitle(tag io.ReaderAt, at, end int64, version byte) string {
	nameSize, headerSize, title := 4, 10, "TIT2"
	if version == 2 {
		nameSize, headerSize, title = 3, 6, "TT2"
	}
	header := make([]byte, headerSize)
	for range maxID3Frames {
		if at+int64(headerSize) > end {
			return ""
		}
		if _, err := tag.ReadAt(header, at); err != nil || header[0] == 0 { // zeros fill up a tag
			return ""
		}
		at += int64(headerSize)
		var size int64
		switch version {
		case 2:
			size = int64(header[3])<<16 | int64(header[4])<<8 | int64(header[5])
		case 3:
			size = int64(binary.BigEndian.Uint32(header[4:]))
		default:
			size, _ = sevenBits(header[4:8])
		}
		if size > end-at {
			return ""
		}
		if string(header[:nameSize]) != title {
			at += size
			continue
		}
		text := make([]byte, min(size, maxTags))
		if err := readFull(tag, text, at); err != nil {
			return ""
		}
		if version >= 3 {
			text = id3FrameBody(text, version, header[9])
		}
		return id3Text(text)
	}
	return ""
}

// id3FrameBody is what a frame holds, by the flags of its header. A frame that is compressed or encrypted gives
// nothing.
func id3FrameBody(b []byte, version, flags byte) []byte {
	const (
		grouped3, opaque3                      = 0x20, 0xc0
		grouped4, opaque4, unsynced4, counted4 = 0x40, 0x0c, 0x02, 0x01
	)
	skip := 0
	if version == 3 {
		if flags&opaque3 != 0 {
			return nil
		}
		if flags&grouped3 != 0 {
			skip++
		}
		return b[min(skip, len(b)):]
	}
	if flags&opaque4 != 0 {
		return nil
	}
	if flags&grouped4 != 0 {
		skip++
	}
	if flags&counted4 != 0 {
		skip += 4
	}
	b = b[min(skip, len(b)):]
	if flags&unsynced4 != 0 {
		b = synchronised(b)
	}
	return b
}

// synchronised takes out the zeros that unsynchronisation puts behind each 0xff (ID3v2.4.0-structure, 6.1).
func synchronised(b []byte) []byte {
	return bytes.ReplaceAll(b, []byte{0xff, 0}, []byte{0xff})
}

// id3Text decodes a text frame: a byte that tells the coding, then the text, of which the first of several
// strings is taken.
func id3Text(b []byte) string {
	if len(b) == 0 {
		return ""
	}
	coding, b := b[0], b[1:]
	var order binary.ByteOrder = binary.BigEndian
	switch coding {
	case 0:
		return cleanTitle(latin1(b))
	case 1: // UTF-16 with a byte order mark
		switch {
		case bytes.HasPrefix(b, []byte{0xff, 0xfe}):
			order, b = binary.LittleEndian, b[2:]
		case bytes.HasPrefix(b, []byte{0xfe, 0xff}):
			b = b[2:]
		}
	case 2: // UTF-16, big-endian
	default:
		return cleanTitle(string(b))
	}
	units := make([]uint16, 0, len(b)/2)
	for ; len(b) >= 2; b = b[2:] {
		units = append(units, order.Uint16(b))
	}
	return cleanTitle(string(utf16.Decode(units)))
}

// id3v1Title is the title in the tag that the last 128 bytes of a file may be (common practice: "TAG", then 30
// bytes of title), and whether they are one.
func id3v1Title(r io.ReaderAt, size int64) (title string, found bool) {
	if size < id3v1Size {
		return "", false
	}
	tag := make([]byte, id3v1Size)
	if readFull(r, tag, size-id3v1Size) != nil || !begins("TAG")(tag) {
		return "", false
	}
	return cleanTitle(string(bytes.TrimRight(tag[3:33], " \x00"))), true
}
