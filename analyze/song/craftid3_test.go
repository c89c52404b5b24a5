package song

import "encoding/binary"

// sevens is a number with seven bits in each of four bytes.
func sevens(n int) []byte {
	return []byte{byte(n >> 21 & 127), byte(n >> 14 & 127), byte(n >> 7 & 127), byte(n & 127)}
}

// id3Tag is an ID3v2 tag of frames.
func id3Tag(version, flags byte, frames ...[]byte) []byte {
	var body []byte
	for _, f := range frames {
		body = append(body, f...)
	}
	return append(append([]byte{'I', 'D', '3', version, 0, flags}, sevens(len(body))...), body...)
}

// id3Frame is a text frame of a tag.
func id3Frame(version byte, name string, coding byte, text string) []byte {
	return id3Raw(version, name, 0, append([]byte{coding}, text...))
}

func id3Raw(version byte, name string, flags byte, body []byte) []byte {
	b := []byte(name)
	switch n := len(body); version {
	case 2:
		return append(append(b, byte(n>>16), byte(n>>8), byte(n)), body...)
	case 3:
		b = binary.BigEndian.AppendUint32(b, uint32(n))
	default:
		b = append(b, sevens(n)...)
	}
	return append(append(b, 0, flags), body...)
}
