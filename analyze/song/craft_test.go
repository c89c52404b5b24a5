package song

import (
	"encoding/binary"
	"math"
)

// The files of the tests are put together byte by byte, by the standards named in the package's comment.

var le = binary.LittleEndian

// chunkHeader is a chunk's name and the size it claims.
func chunkHeader(name string, size uint32) []byte { return le.AppendUint32([]byte(name), size) }

// chunkOf is a whole chunk, with the byte of padding where its body is odd.
func chunkOf(name string, body []byte) []byte {
	b := append(chunkHeader(name, uint32(len(body))), body...)
	return append(b, make([]byte, len(body)&1)...)
}

// riffFile puts chunks behind a RIFF, RF64, ... header.
func riffFile(magic string, chunks ...[]byte) []byte {
	body := []byte("WAVE")
	for _, c := range chunks {
		body = append(body, c...)
	}
	return append(chunkHeader(magic, uint32(len(body))), body...)
}

// fmtBody is the 16 bytes that every fmt chunk begins with.
func fmtBody(tag, channels, rate, bits int) []byte {
	frame := channels * ((bits + 7) / 8)
	b := le.AppendUint16(nil, uint16(tag))
	b = le.AppendUint16(b, uint16(channels))
	b = le.AppendUint32(b, uint32(rate))
	b = le.AppendUint32(b, uint32(rate*frame))
	b = le.AppendUint16(b, uint16(frame))
	return le.AppendUint16(b, uint16(bits))
}

func fmtChunk(tag, channels, rate, bits int) []byte {
	return chunkOf("fmt ", fmtBody(tag, channels, rate, bits))
}

// extensibleChunk is a WAVEFORMATEXTENSIBLE of the Windows sub-format tag.
func extensibleChunk(tag, channels, rate, bits, valid int) []byte {
	return chunkOf("fmt ", extensibleBody(channels, rate, bits, valid, le.AppendUint32(nil, uint32(tag)),
		[]byte{0, 0, 0x10, 0, 0x80, 0, 0, 0xaa, 0, 0x38, 0x9b, 0x71}))
}

func extensibleBody(channels, rate, bits, valid int, guid ...[]byte) []byte {
	b := fmtBody(0xfffe, channels, rate, bits)
	b = le.AppendUint16(b, 22) // bytes that follow
	b = le.AppendUint16(b, uint16(valid))
	b = le.AppendUint32(b, 0) // no speaker named
	for _, part := range guid {
		b = append(b, part...)
	}
	return b
}

func float32s(values ...float32) []byte {
	var b []byte
	for _, v := range values {
		b = le.AppendUint32(b, math.Float32bits(v))
	}
	return b
}

func float64s(values ...float64) []byte {
	var b []byte
	for _, v := range values {
		b = le.AppendUint64(b, math.Float64bits(v))
	}
	return b
}

// wide is an RF64 file of two 16-bit sample frames whose ds64 chunk gives the data chunk size bytes.
func wide(magic string, size uint64) []byte {
	ds64 := le.AppendUint64(nil, 0)
	ds64 = le.AppendUint64(ds64, size)
	ds64 = le.AppendUint64(ds64, 2)
	ds64 = le.AppendUint32(ds64, 1) // a table of one entry
	ds64 = le.AppendUint64(append(ds64, "LIST"...), 6)
	list := append(chunkHeader("LIST", 0xffffffff), "INFO\x00\x00"...)
	return riffFile(magic, chunkOf("ds64", ds64), list, fmtChunk(1, 1, 48000, 16),
		chunkHeader("data", 0xffffffff), pair)
}

// pair is a mono sound of two 16-bit samples, half of full scale up and down.
var (
	pair     = []byte{0x00, 0x40, 0x00, 0xc0}
	pairPCM  = [][]float32{{0.5, -0.5}}
	mono16   = fmtChunk(1, 1, 48000, 16)
	pairInfo = Info{Rate: 48000, Channels: 1, Frames: 2, Encoding: "16-bit integer"}
)
