package profile

import (
	"encoding/binary"
	"math"
	"unicode/utf16"
)

// tag is one tag of a profile built for a test.
type tag struct {
	name string
	data []byte
}

// build makes a profile of a colour space from tags, as ICC.1:2022 section 7 lays it out.
func build(space string, tags ...tag) []byte {
	b := make([]byte, headerSize)
	b[8] = 4 // version
	copy(b[12:], "mntr")
	copy(b[spaceAt:], space)
	copy(b[connectionAt:], "XYZ ")
	copy(b[signatureAt:], "acsp")
	copy(b[68:], xyz(0.9642, 1, 0.8249)[8:]) // D50
	b = binary.BigEndian.AppendUint32(b, uint32(len(tags)))
	at := len(b) + tagEntrySize*len(tags)
	for _, t := range tags {
		b = append(b, t.name...)
		b = binary.BigEndian.AppendUint32(b, uint32(at))
		b = binary.BigEndian.AppendUint32(b, uint32(len(t.data)))
		at = (at + len(t.data) + 3) &^ 3
	}
	for _, t := range tags {
		for len(b)%4 != 0 {
			b = append(b, 0)
		}
		b = append(b, t.data...)
	}
	for len(b)%4 != 0 {
		b = append(b, 0)
	}
	binary.BigEndian.PutUint32(b, uint32(len(b)))
	return b
}

// rgb is a matrix profile with one curve for all channels.
func rgb(name string, c []byte, colorants [3][3]float64) []byte {
	tags := []tag{
		{"desc", mluc(name)}, {"cprt", mluc("none")}, {"wtpt", xyz(0.9642, 1, 0.8249)},
		{"rTRC", c}, {"gTRC", c}, {"bTRC", c},
	}
	for i, colour := range []string{"rXYZ", "gXYZ", "bXYZ"} {
		tags = append(tags, tag{colour, xyz(colorants[0][i], colorants[1][i], colorants[2][i])})
	}
	return build("RGB ", tags...)
}

func head(kind string) []byte { return append([]byte(kind), 0, 0, 0, 0) }

func fixed(b []byte, values ...float64) []byte {
	for _, v := range values {
		b = binary.BigEndian.AppendUint32(b, uint32(int32(math.Round(v*65536))))
	}
	return b
}

func xyz(x, y, z float64) []byte { return fixed(head("XYZ "), x, y, z) }

func para(kind uint16, values ...float64) []byte {
	b := binary.BigEndian.AppendUint16(head("para"), kind)
	return fixed(append(b, 0, 0), values...)
}

func curv(values ...uint16) []byte {
	b := binary.BigEndian.AppendUint32(head("curv"), uint32(len(values)))
	for _, v := range values {
		b = binary.BigEndian.AppendUint16(b, v)
	}
	return b
}

// sampled is a curve of count samples of f.
func sampled(count int, f func(float64) float64) []byte {
	values := make([]uint16, count)
	for i := range values {
		values[i] = uint16(math.Round(65535 * f(float64(i)/float64(count-1))))
	}
	return curv(values...)
}

func mluc(text string) []byte {
	units := utf16.Encode([]rune(text))
	b := head("mluc")
	for _, v := range []uint32{1, 12} {
		b = binary.BigEndian.AppendUint32(b, v)
	}
	b = append(b, "enUS"...)
	b = binary.BigEndian.AppendUint32(b, uint32(2*len(units)))
	b = binary.BigEndian.AppendUint32(b, 28)
	for _, u := range units {
		b = binary.BigEndian.AppendUint16(b, u)
	}
	return b
}

// text is the description of version 2.
func text(s string) []byte {
	b := binary.BigEndian.AppendUint32(head("desc"), uint32(len(s)+1))
	return append(append(b, s...), make([]byte, 79)...)
}

// Curves of well-known working spaces, as their profiles hold them.
var (
	srgbCurve  = para(3, 2.4, 1/1.055, 0.055/1.055, 1/12.92, 0.04045) // IEC 61966-2-1; Display P3 has it too
	adobeCurve = curv(563)                                            // Adobe RGB (1998) 4.3.4.2: 2 + 51/256
)

// Colorants adapted to D50: row X, Y, Z; column red, green, blue. From memory of the profiles of that name.
var (
	p3Colorants    = [3][3]float64{{0.51512, 0.29198, 0.15710}, {0.24120, 0.69225, 0.06657}, {-0.00105, 0.04189, 0.78407}}
	adobeColorants = [3][3]float64{{0.60974, 0.20528, 0.14919}, {0.31111, 0.62567, 0.06322}, {0.01947, 0.06087, 0.74457}}
)
