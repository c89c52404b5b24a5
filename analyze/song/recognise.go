package song

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strconv"
	"unicode"
	"unicode/utf8"
)

// format is a kind of file that is known by its first bytes.
type format struct {
	name    string // with its article, as in "is a FLAC file"
	matches func(head []byte) bool
	// open opens the song whose first bytes those are. They are at byte start, which is above 0 where ID3v2 tags
	// are in front. nil: known by sight, but not read.
	open func(r io.ReaderAt, start, size int64) (decoder, error)
}

// headSize is how many of the first bytes tell a format: an Ogg page names its codec at byte 28.
const headSize = 40

// formats are tried in this order. The numbers are those of each format's own standard.
var formats = []format{
	{"a WAV file", isWAV, openWAV},
	{"a big-endian RIFX file", begins("RIFX"), nil},
	{"an AVI film", func(head []byte) bool { return isRIFF(head) && holds(8, "AVI ")(head) }, nil},
	{"a Sony Wave64 file", begins("riff\x2e\x91\xcf\x11"), nil},
	{"a FLAC file", begins("fLaC"), openFLAC},
	{"an Ogg Opus file", isOgg("OpusHead"), openOpus},
	{"an Ogg Vorbis file", isOgg("\x01vorbis"), nil},
	{"an Ogg FLAC file", isOgg("\x7fFLAC"), nil},
	{"an Ogg Speex file", isOgg("Speex   "), nil},
	{"an Ogg file", begins("OggS"), nil},
	{"an M4A file", holds(4, "ftypM4A"), nil},
	{"an MP4 file", holds(4, "ftyp"), nil},
	{"an AIFF file", func(head []byte) bool { return begins("FORM")(head) && holds(8, "AIF")(head) }, nil},
	{"a CAF file", begins("caff"), nil},
	{"an AU file", begins(".snd"), nil},
	{"a WMA file", begins("\x30\x26\xb2\x75\x8e\x66\xcf\x11"), nil},
	{"a Matroska or WebM file", begins("\x1a\x45\xdf\xa3"), nil},
	{"an APE file", begins("MAC "), nil},
	{"a WavPack file", begins("wvpk"), nil},
	{"a MIDI file, which holds notes and no sound", begins("MThd"), nil},
	{"an AAC file", isADTS, nil},
	{"an MP2 file", isMP2, nil},
	{"an MP3 file", isMP3, openMP3},
}

func begins(text string) func([]byte) bool { return holds(0, text) }

func holds(at int, text string) func([]byte) bool {
	return func(head []byte) bool { return len(head) >= at && bytes.HasPrefix(head[at:], []byte(text)) }
}

func isRIFF(head []byte) bool { return begins("RIFF")(head) || isWide(head) }

// isWide tells RF64 and BW64, whose lengths are in a ds64 chunk, from RIFF.
func isWide(head []byte) bool { return begins("RF64")(head) || begins("BW64")(head) }

func isWAV(head []byte) bool { return isRIFF(head) && holds(8, "WAVE")(head) }

func isOgg(codec string) func([]byte) bool {
	return func(head []byte) bool { return begins("OggS")(head) && holds(28, codec)(head) }
}

// isMPEG tells an MPEG audio frame header of a layer (ISO/IEC 11172-3, 2.4.1.3, and 2.4.2.3 for the layer's two
// bits): 11 set bits, a version that is not 01, a bit rate that is not 1111 and a sampling frequency that is not 11.
func isMPEG(head []byte, layer byte) bool {
	return len(head) >= 4 && head[0] == 0xff && head[1]&0xe0 == 0xe0 && head[1]&0x06 == layer<<1 &&
		head[1]&0x18 != 0x08 && head[2]&0xf0 != 0xf0 && head[2]&0x0c != 0x0c
}

func isMP3(head []byte) bool { return isMPEG(head, 0b01) }

func isMP2(head []byte) bool { return isMPEG(head, 0b10) }

// isADTS tells an AAC frame header (ISO/IEC 13818-7, 6.2): 12 set bits and the layer 00.
func isADTS(head []byte) bool { return len(head) >= 4 && head[0] == 0xff && head[1]&0xf6 == 0xf0 }

// newDecoder decides the format of the size bytes in r and opens them.
func newDecoder(r io.ReaderAt, size int64) (decoder, error) {
	if size == 0 {
		return nil, errors.New("the file is empty; export or copy the song again")
	}
	head, err := readHead(r, 0, size)
	if err != nil {
		return nil, err
	}
	start := int64(0)
	for range maxID3Tags {
		tag := id3Size(head)
		if tag == 0 {
			break
		}
		start += tag
		if head, err = readHead(r, start, size); err != nil {
			return nil, err
		}
	}
	for _, f := range formats {
		switch {
		case !f.matches(head):
		case f.open == nil:
			return nil, fmt.Errorf("is %s, only WAV, FLAC, MP3 and Opus are read; convert it to WAV or FLAC", f.name)
		default:
			return f.open(r, start, size)
		}
	}
	switch {
	case start > 0 || likelyMP3(r, size): // common practice, no source: only MP3 files have stray bytes behind the tag
		return openMP3(r, start, size)
	case isRIFF(head) && size < riffHeaderSize:
		return nil, fmt.Errorf("ends within its header, after %d bytes; export or copy the song again", size)
	case isRIFF(head):
		return nil, fmt.Errorf("is a RIFF file of the kind %q, not \"WAVE\"; name a WAV file or convert the song to WAV", head[8:12])
	}
	return nil, fmt.Errorf("is no song, it begins with %q; name a WAV, FLAC, MP3 or Opus file", head[:min(len(head), 4)])
}

// readHead reads up to headSize bytes from byte at on.
func readHead(r io.ReaderAt, at, size int64) ([]byte, error) {
	head := make([]byte, max(0, min(headSize, size-at)))
	return head, readFull(r, head, at)
}

// printable is a path as it may stand in a line of text: as it is, or quoted where it holds characters that
// would act on a terminal, break the line or turn the direction of writing.
func printable(path string) string {
	if path == "" || !utf8.ValidString(path) {
		return strconv.Quote(path)
	}
	for _, c := range path {
		if unicode.IsControl(c) || unicode.In(c, unicode.Zl, unicode.Zp, unicode.Bidi_Control) {
			return strconv.Quote(path)
		}
	}
	return path
}
