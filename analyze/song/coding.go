package song

import (
	"encoding/binary"
	"fmt"
)

// coding is how a WAV file codes its samples.
type coding struct {
	rate, channels int
	float          bool
	bytes          int // of a sample in the file
	bits           int // of a sample that have a meaning: the upper ones of its bytes
}

// frameBytes is the length of a sample frame, one sample of every channel.
func (c coding) frameBytes() int64 { return int64(c.bytes) * int64(c.channels) }

// String is the coding for people.
func (c coding) String() string {
	switch {
	case c.float:
		return fmt.Sprintf("%d-bit float", c.bits)
	case c.bits < 8*c.bytes:
		return fmt.Sprintf("%d-bit integer in %d bits", c.bits, 8*c.bytes)
	}
	return fmt.Sprintf("%d-bit integer", c.bits)
}

// What is taken for a song: beyond these a header is damaged, not unusual.
const (
	minRate, maxRate = 1000, 1_000_000
	maxChannels      = 64
)

// The fmt chunk is a WAVEFORMAT with the size of a sample behind it, or a WAVEFORMATEXTENSIBLE (mmreg.h of the
// Windows SDK).
const (
	plainSize      = 16
	extensibleSize = 40

	waveFormatPCM        = 0x0001
	waveFormatIEEEFloat  = 0x0003
	waveFormatExtensible = 0xfffe
)

// compressed names the format tags (mmreg.h, WAVE_FORMAT_...) that are met with and are not read.
var compressed = map[uint16]string{
	0x0002: "Microsoft ADPCM",
	0x0006: "A-law",
	0x0007: "mu-law",
	0x0010: "OKI ADPCM",
	0x0011: "IMA ADPCM",
	0x0017: "Dialogic OKI ADPCM",
	0x0020: "Yamaha ADPCM",
	0x0022: "TrueSpeech",
	0x0031: "GSM 6.10",
	0x0040: "G.721 ADPCM",
	0x0045: "G.726 ADPCM",
	0x0050: "MPEG layer I or II",
	0x0055: "MP3",
	0x0064: "G.726 ADPCM",
	0x0092: "AC-3 (S/PDIF)",
	0x00ff: "AAC",
	0x0160: "Windows Media Audio 1",
	0x0161: "Windows Media Audio 2",
	0x0162: "Windows Media Audio Professional",
	0x0163: "Windows Media Audio Lossless",
	0x0200: "Creative ADPCM",
	0x1600: "AAC (ADTS)",
	0x1610: "AAC",
	0x2000: "AC-3",
	0x2001: "DTS",
	0x566f: "Ogg Vorbis",
	0x674f: "Ogg Vorbis",
	0x6750: "Ogg Vorbis",
	0x6751: "Ogg Vorbis",
	0x676f: "Ogg Vorbis",
	0x6770: "Ogg Vorbis",
	0x6771: "Ogg Vorbis",
	0x704f: "Opus",
	0xf1ac: "FLAC",
}

// A sub-format is a GUID that begins with a format tag and goes on with one of these: that of the Windows
// SDK (ksmedia.h), or that of ambisonic B-format, whose samples are coded alike.
const (
	windowsGUID   = "\x00\x00\x00\x00\x10\x00\x80\x00\x00\xaa\x00\x38\x9b\x71"
	ambisonicGUID = "\x00\x00\x21\x07\xd3\x11\x86\x44\xc8\xc1\xca\x00\x00\x00"
)

// parseCoding reads the body of a fmt chunk, of which bytes beyond extensibleSize may be missing.
func parseCoding(body []byte) (coding, []string, error) {
	if len(body) < plainSize {
		return coding{}, nil, fmt.Errorf("its fmt chunk has %s, at least %d are needed; %s", count(int64(len(body)), "byte"), plainSize, exportAgain)
	}
	tag := binary.LittleEndian.Uint16(body)
	channels := int(binary.LittleEndian.Uint16(body[2:]))
	rate := int64(binary.LittleEndian.Uint32(body[4:]))
	frameBytes := int(binary.LittleEndian.Uint16(body[12:]))
	bits := int(binary.LittleEndian.Uint16(body[14:]))
	valid := 0 // bits of a sample that have a meaning, where EXTENSIBLE tells them apart from its size
	if tag == waveFormatExtensible {
		if len(body) < extensibleSize {
			return coding{}, nil, fmt.Errorf("its EXTENSIBLE fmt chunk has %d bytes, at least %d are needed; %s", len(body), extensibleSize, exportAgain)
		}
		valid = int(binary.LittleEndian.Uint16(body[18:]))
		tag = binary.LittleEndian.Uint16(body[24:])
		if guid := string(body[26:extensibleSize]); guid != windowsGUID && guid != ambisonicGUID {
			return coding{}, nil, fmt.Errorf("holds sound of the unknown sub-format %x, only integers and floats are read; convert it to 16-bit WAV", body[24:extensibleSize])
		}
	}
	if tag != waveFormatPCM && tag != waveFormatIEEEFloat {
		if name, ok := compressed[tag]; ok {
			return coding{}, nil, fmt.Errorf("holds %s sound (format tag 0x%04x), only uncompressed sound is read; convert it to 16-bit WAV", name, tag)
		}
		return coding{}, nil, fmt.Errorf("holds sound of the unknown format tag 0x%04x, only integers and floats are read; convert it to 16-bit WAV", tag)
	}
	if channels < 1 || channels > maxChannels {
		return coding{}, nil, fmt.Errorf("has %d channels, 1 to %d are read; %s with one or two channels", channels, maxChannels, exportAgain)
	}
	if rate < minRate || rate > maxRate {
		return coding{}, nil, fmt.Errorf("has a sample rate of %d Hz, %d to %d are read; %s at 44100 or 48000 Hz", rate, minRate, maxRate, exportAgain)
	}
	c := coding{rate: int(rate), channels: channels, float: tag == waveFormatIEEEFloat, bytes: (bits + 7) / 8, bits: bits}
	var notes []string
	switch {
	case c.float && bits != 32 && bits != 64:
		return coding{}, nil, fmt.Errorf("holds %d-bit floats, 32 and 64 bits are read; convert it to 32-bit float WAV", bits)
	case !c.float && (bits < 8 || bits > 32):
		return coding{}, nil, fmt.Errorf("holds %d-bit integers, 8 to 32 bits are read; convert it to 24-bit WAV", bits)
	case int64(frameBytes) != c.frameBytes():
		return coding{}, nil, fmt.Errorf("its fmt chunk gives a sample frame %s, %s of %d bits make %d; %s",
			count(int64(frameBytes), "byte"), count(int64(channels), "channel"), bits, c.frameBytes(), exportAgain)
	case c.float || valid == 0 || valid == bits:
	case valid > bits:
		notes = append(notes, fmt.Sprintf("its header tells of %d valid bits in samples of %d; all %d are read", valid, bits, bits))
	default:
		c.bits = valid
	}
	return c, notes, nil
}
