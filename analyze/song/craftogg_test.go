package song

// The Ogg files of the tests are put together by RFC 3533 and RFC 7845.

// opusSilence is a packet of 20 ms: CELT, mono, with nothing coded.
var opusSilence = []byte{0xf8, 0xff, 0xfe}

// opusHeader is the first packet of a stream. gain is in 1/256 dB.
func opusHeader(channels, preSkip, gain, family int) []byte {
	b := append([]byte("OpusHead\x01"), byte(channels))
	b = le.AppendUint16(b, uint16(preSkip))
	b = le.AppendUint32(b, 48000)
	b = le.AppendUint16(b, uint16(gain))
	return append(b, byte(family))
}

func opusTags(fields ...string) []byte {
	return append([]byte("OpusTags"), vorbisComment(fields...)...)
}

// oggPage1 is a page that holds packets, each of which is whole.
func oggPage1(flags byte, granule int64, serial, sequence uint32, packets ...[]byte) []byte {
	b := append([]byte("OggS\x00"), flags)
	b = le.AppendUint64(b, uint64(granule))
	b = le.AppendUint32(b, serial)
	b = le.AppendUint32(b, sequence)
	b = append(b, 0, 0, 0, 0, 0)
	var body []byte
	for _, p := range packets {
		for n := len(p); ; n -= 255 {
			b = append(b, byte(min(n, 255)))
			b[26]++
			if n < 255 {
				break
			}
		}
		body = append(body, p...)
	}
	return resummed(append(b, body...))
}

// resummed is a run of pages with the checksums that they should have.
func resummed(pages []byte) []byte {
	table := oggTable()
	for b := pages; len(b) >= 27; {
		size := 27 + int(b[26])
		for _, n := range b[27:size] {
			size += int(n)
		}
		le.PutUint32(b[22:], (&oggReader{table: table}).sum(b[:size]))
		b = b[size:]
	}
	return pages
}

// oggPages is a stream with a page for each packet. From the third packet on it is sound, and the places follow from
// it; the last ends the stream.
func oggPages(serial uint32, packets ...[]byte) (file []byte) {
	place := int64(0)
	for i, p := range packets {
		flags := byte(0)
		if i == 0 {
			flags |= oggFirst
		}
		if i == len(packets)-1 {
			flags |= oggLast
		}
		if i >= 2 {
			place += opusDuration(p)
		}
		file = append(file, oggPage1(flags, place, serial, uint32(i), p)...)
	}
	return file
}

// opusStream is a stream of these packets.
func opusStream(packets ...[]byte) []byte { return oggPages(0x73746f6e, packets...) }
