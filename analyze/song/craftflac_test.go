package song

import (
	"crypto/md5"
	"encoding/binary"
)

// The FLAC files of the tests are put together by RFC 9639: samples as they are, in frames without prediction.

// bitWriter puts numbers of any width one behind the other, from the highest bit on.
type bitWriter struct {
	b    []byte
	free int // bits of the last byte that are not used yet
}

func (w *bitWriter) put(value int64, bits int) {
	for i := bits - 1; i >= 0; i-- {
		if w.free == 0 {
			w.b = append(w.b, 0)
			w.free = 8
		}
		w.free--
		w.b[len(w.b)-1] |= byte(value>>i&1) << w.free
	}
}

// flacSong is what a crafted file holds.
type flacSong struct {
	rate, bits int
	pcm        [][]int32 // by channel
	block      int       // sample frames in a frame; the last one has what is left
	promised   int64     // sample frames by the header
	unsummed   bool      // the header has no MD5 sum
	comment    []byte    // the body of a comment block, or nil
	inHeader   bool      // frames tell rate and bits by a code of their own where there is one
}

func (s flacSong) frames() int { return len(s.pcm[0]) }

// file is the whole file. heads are where its frames begin.
func (s flacSong) file() (file []byte, heads []int) {
	file = append([]byte("fLaC"), s.streamInfo()...)
	if s.comment != nil {
		file = append(file, byte(4), 0, byte(len(s.comment)>>8), byte(len(s.comment)))
		file = append(file, s.comment...)
	}
	file = append(file, 0x81, 0, 0, 3, 0, 0, 0) // padding, and the last block
	for k, number := 0, 0; k < s.frames(); k, number = k+s.block, number+1 {
		heads = append(heads, len(file))
		file = append(file, s.frame(number, k, min(k+s.block, s.frames()))...)
	}
	return file, heads
}

// flacFile is the file without the places of its frames.
func flacFile(s flacSong) []byte {
	file, _ := s.file()
	return file
}

func (s flacSong) streamInfo() []byte {
	w := bitWriter{b: []byte{0, 0, 0, 34}}
	w.put(int64(s.block), 16)
	w.put(int64(s.block), 16)
	w.put(0, 24)
	w.put(0, 24)
	w.put(int64(s.rate), 20)
	w.put(int64(len(s.pcm)-1), 3)
	w.put(int64(s.bits-1), 5)
	w.put(s.promised, 36)
	sum := [16]byte{}
	if !s.unsummed {
		sum = s.sum()
	}
	return append(w.b, sum[:]...)
}

func (s flacSong) sum() [16]byte {
	var b []byte
	for k := range s.frames() {
		for _, channel := range s.pcm {
			b = append(b, binary.LittleEndian.AppendUint32(nil, uint32(channel[k]))[:(s.bits+7)/8]...)
		}
	}
	return md5.Sum(b)
}

func (s flacSong) frame(number, from, to int) []byte {
	w := bitWriter{}
	w.put(0x3ffe<<2, 16)
	w.put(7, 4) // 16 bits of block size follow
	rates := map[int]int64{88200: 1, 176400: 2, 192000: 3, 8000: 4, 16000: 5, 22050: 6, 24000: 7, 32000: 8, 44100: 9, 48000: 10, 96000: 11}
	sizes := map[int]int64{8: 1, 12: 2, 16: 4, 20: 5, 24: 6}
	if !s.inHeader {
		rates, sizes = nil, nil
	}
	w.put(rates[s.rate], 4)
	w.put(int64(len(s.pcm)-1), 4)
	w.put(sizes[s.bits], 3)
	w.put(0, 1)
	w.b = append(w.b, string(rune(number))...) // numbers are coded as characters are in UTF-8
	w.put(int64(to-from-1), 16)
	w.b = append(w.b, crc8(w.b))
	for _, channel := range s.pcm {
		w.put(1<<1, 8) // verbatim
		for _, v := range channel[from:to] {
			w.put(int64(v), s.bits)
		}
	}
	return binary.BigEndian.AppendUint16(w.b, newCRC16().add(0, w.b))
}

// ramp is a song whose every sample is another than its neighbours, with both ends of full scale.
func ramp(rate, bits, channels, frames int) flacSong {
	s := flacSong{rate: rate, bits: bits, block: 16, promised: int64(frames), pcm: make([][]int32, channels)}
	full := int32(1) << (bits - 1)
	for i := range s.pcm {
		for k := range frames {
			v := int32((k+1)*(2*i+3)*1103515245>>4) % full
			switch k {
			case 0:
				v = -full
			case 1:
				v = full - 1
			}
			s.pcm[i] = append(s.pcm[i], v)
		}
	}
	return s
}

// vorbisComment is the body of a comment block or, behind "OpusTags", of a comment header.
func vorbisComment(fields ...string) []byte {
	b := le.AppendUint32(nil, uint32(len("stones")))
	b = append(b, "stones"...)
	b = le.AppendUint32(b, uint32(len(fields)))
	for _, field := range fields {
		b = le.AppendUint32(b, uint32(len(field)))
		b = append(b, field...)
	}
	return b
}
