package photos

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"errors"
	"io"
)

// maxProfile is the largest colour profile taken: printer profiles reach 4 MB.
const maxProfile = 16 << 20

var errProfile = errors.New("its colour profile is damaged; export it again")

// jpegProfile joins the ICC profile of a JPEG from its APP2 segments (ICC.1:2022, B.4); nil when it has none.
func jpegProfile(data []byte) ([]byte, error) {
	marker := []byte("ICC_PROFILE\x00")
	var parts [][]byte
	found, size := 0, 0
	_, err := jpegSegments(data, func(kind byte, body []byte) error {
		if kind != 0xe2 || !bytes.HasPrefix(body, marker) || len(body) < len(marker)+2 {
			return nil
		}
		number, count := int(body[len(marker)]), int(body[len(marker)+1])
		if parts == nil {
			parts = make([][]byte, count)
		}
		if number < 1 || number > len(parts) || count != len(parts) || parts[number-1] != nil {
			return errProfile
		}
		parts[number-1] = body[len(marker)+2:]
		found, size = found+1, size+len(body)
		return nil
	})
	if err != nil || found == 0 {
		return nil, err
	}
	if found != len(parts) || size > maxProfile {
		return nil, errProfile
	}
	return bytes.Join(parts, nil), nil
}

// jpegSegments calls visit for each marker segment before the first scan, and gives what is there from the scan on.
func jpegSegments(data []byte, visit func(kind byte, body []byte) error) (scan []byte, err error) {
	for at := 2; at+4 <= len(data) && data[at] == 0xff; {
		kind := data[at+1]
		if kind == 0xff { // fill byte
			at++
			continue
		}
		if kind == 0xda || kind == 0xd9 {
			return data[at:], nil
		}
		if kind == 0x01 || kind >= 0xd0 && kind <= 0xd8 { // no length
			at += 2
			continue
		}
		length := int(binary.BigEndian.Uint16(data[at+2:]))
		if length < 2 || at+2+length > len(data) {
			return nil, nil // the decoder tells of it
		}
		if err := visit(kind, data[at+4:at+2+length]); err != nil {
			return nil, err
		}
		at += 2 + length
	}
	return nil, nil
}

// pngProfile inflates the iCCP chunk of a PNG; nil when it has none.
func pngProfile(data []byte) ([]byte, error) {
	for at := 8; at+12 <= len(data); {
		length := int(binary.BigEndian.Uint32(data[at:]))
		if length < 0 || at+12+length > len(data) || string(data[at+4:at+8]) == "IDAT" {
			return nil, nil
		}
		if string(data[at+4:at+8]) == "iCCP" {
			_, rest, ok := bytes.Cut(data[at+8:at+8+length], []byte{0})
			if !ok || len(rest) < 1 || rest[0] != 0 {
				return nil, errProfile
			}
			inflater, err := zlib.NewReader(bytes.NewReader(rest[1:]))
			if err != nil {
				return nil, errProfile
			}
			profile, err := io.ReadAll(io.LimitReader(inflater, maxProfile+1))
			if err != nil || len(profile) > maxProfile {
				return nil, errProfile
			}
			return profile, nil
		}
		at += 12 + length
	}
	return nil, nil
}
