package pngfile

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
)

// KeyLength is the length of a key: a 256-bit digest in lower-case hexadecimal digits.
const KeyLength = 64

var (
	// ErrForeign says that a file is another program's: no PNG at all, or one without a key.
	ErrForeign = errors.New("it is not a frame of colonnade's")
	// ErrDamaged says that a file ends or breaks off before its key where a file of ours could: it is empty,
	// begins with zeros (blocks that never reached the disk), or is a PNG whose chunks break off.
	ErrDamaged = errors.New("it is damaged before its key")
)

const (
	headerLength = 13        // bytes of an IHDR chunk (11.2.1)
	longestChunk = 1<<31 - 1 // 5.3
	// headRead is what is read at once: signature, header, colour chunks without a profile and key take 250 bytes.
	headRead = 1024
	// headChunks is the most chunks looked at: ours have six at the most before the key.
	headChunks = 32
	// zeroHead is the smallest piece that a disk writes: when it never arrived, the file begins with zeros.
	zeroHead = 512
)

// ReadKey finds the key of a frame, reading only the heads of the chunks before it. The error is ErrForeign or
// ErrDamaged, wrapped, or that of reading.
func ReadKey(r io.ReaderAt) (string, error) {
	var room [headRead]byte
	n, err := r.ReadAt(room[:], 0)
	if err != nil && err != io.EOF {
		return "", err
	}
	head := room[:n]
	if zeros := head[:min(n, zeroHead)]; len(bytes.TrimLeft(zeros, "\x00")) == 0 {
		return "", ErrDamaged
	}
	if shared := min(n, len(Signature)); string(head[:shared]) != Signature[:shared] {
		return "", ErrForeign
	}
	// at gives length bytes at the offset, nil past the file's end.
	at := func(offset int64, length int) ([]byte, error) {
		if offset+int64(length) <= int64(len(head)) {
			return head[offset:][:length], nil
		}
		piece := make([]byte, length)
		n, err := r.ReadAt(piece, offset)
		if n == length {
			return piece, nil
		}
		if err == io.EOF {
			return nil, ErrDamaged
		}
		return nil, err
	}
	offset := int64(len(Signature))
	for i := range headChunks {
		start, err := at(offset, 8)
		if err != nil {
			return "", err
		}
		length, kind := int64(binary.BigEndian.Uint32(start)), string(start[4:8])
		switch {
		case length > longestChunk || !letters(kind),
			i == 0 && (kind != "IHDR" || length != headerLength):
			return "", ErrDamaged
		case kind == "IDAT" || kind == "IEND":
			return "", ErrForeign
		case kind == "tEXt" && int(length) == keyText:
			chunk, err := at(offset+4, 4+keyText+4)
			if err != nil {
				return "", err
			}
			text := chunk[4 : 4+keyText]
			if string(text[:len(KeyWord)+1]) != KeyWord+"\x00" {
				break
			}
			key := string(text[len(KeyWord)+1:])
			if crc32.ChecksumIEEE(chunk[:4+keyText]) != binary.BigEndian.Uint32(chunk[4+keyText:]) || !IsKey(key) {
				return "", ErrDamaged
			}
			return key, nil
		}
		offset += 8 + length + 4
	}
	return "", fmt.Errorf("no key in its first %d chunks: %w", headChunks, ErrForeign)
}

// keyText is the length of the key's text chunk: keyword, zero, key (11.3.3.2).
const keyText = len(KeyWord) + 1 + KeyLength

// IsKey tells whether text has the form of a key.
func IsKey(text string) bool {
	for _, c := range []byte(text) {
		if (c < '0' || c > '9') && (c < 'a' || c > 'f') {
			return false
		}
	}
	return len(text) == KeyLength
}

// letters tells whether a chunk's type has the form that section 5.3 asks for.
func letters(kind string) bool {
	for _, c := range []byte(kind) {
		if (c < 'A' || c > 'Z') && (c < 'a' || c > 'z') {
			return false
		}
	}
	return true
}
