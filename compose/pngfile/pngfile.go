// Package pngfile writes the parts of a PNG file around its picture: signature, header, colour and key chunks,
// in the order that the PNG Recommendation (Third Edition, W3C 2025, section 5.6) asks for. Section numbers
// below are that document's.
package pngfile

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"hash/crc32"
)

// Signature begins every PNG file (5.2).
const Signature = "\x89PNG\r\n\x1a\n"

// KeyWord heads the text chunk that holds a frame's key (11.3.3.2).
const KeyWord = "colonnade-key"

// AppendChunk adds a whole chunk: length, type, data and CRC (5.3). kind is the type, four letters.
func AppendChunk(dst []byte, kind string, data []byte) []byte {
	dst = binary.BigEndian.AppendUint32(dst, uint32(len(data)))
	start := len(dst)
	dst = append(dst, kind...)
	dst = append(dst, data...)
	return binary.BigEndian.AppendUint32(dst, crc32.ChecksumIEEE(dst[start:]))
}

// AppendHead adds all that comes before a frame's picture: signature, header of an 8-bit RGB picture of width x
// height pixels without interlace, the colour chunks and a text chunk with the key, KeyLength hexadecimal digits.
func AppendHead(dst []byte, width, height int, colour Colour, key string) []byte {
	dst = append(dst, Signature...)
	header := binary.BigEndian.AppendUint32(nil, uint32(width))
	header = binary.BigEndian.AppendUint32(header, uint32(height))
	header = append(header, 8, 2, 0, 0, 0) // bits, RGB, deflate, filters of section 9, no interlace
	dst = AppendChunk(dst, "IHDR", header)
	dst = append(dst, colour...)
	return AppendChunk(dst, "tEXt", append(append([]byte(KeyWord), 0), key...))
}

// AppendEnd adds the last chunk.
func AppendEnd(dst []byte) []byte { return AppendChunk(dst, "IEND", nil) }

// Colour is the chunks that say what the codes of a picture mean, whole and ready to be written.
type Colour []byte

// NewColour makes the colour chunks: one that holds the ICC profile, byte for byte (11.3.2.3), or, when it is nil, those
// that say sRGB, with the gAMA and cHRM chunks that section 11.3.2.5 recommends beside it.
func NewColour(profile []byte) Colour {
	if profile == nil {
		c := AppendChunk(nil, "cHRM", numbers(31270, 32900, 64000, 33000, 30000, 60000, 15000, 6000))
		c = AppendChunk(c, "gAMA", numbers(45455))
		return AppendChunk(c, "sRGB", []byte{0}) // intent 0: perceptual, for photographs
	}
	data := bytes.NewBufferString("icc\x00\x00") // name, compression method 0 (11.3.2.3)
	deflater := zlib.NewWriter(data)
	deflater.Write(profile) // a bytes.Buffer takes all
	deflater.Close()
	return AppendChunk(nil, "iCCP", data.Bytes())
}

func numbers(values ...uint32) []byte {
	var out []byte
	for _, v := range values {
		out = binary.BigEndian.AppendUint32(out, v)
	}
	return out
}
