package song

import (
	"encoding/binary"
	"slices"
)

// mp3Tag is what encoders write into a first frame that holds no sound (common practice, no standard: the VBR
// header of Xing, as LAME's documentation "Mp3 Info Tag revision 1" extends it).
type mp3Tag struct {
	frames         int64 // frames behind it; 0: not told
	delayed        bool  // delay and padding are told
	delay, padding int64 // sample frames that the encoder put in front and behind
}

// decoderDelay is how many sample frames later a decoder gives what an encoder without delay was given: 528 of
// the filter bank and 1 (LAME, "Mp3 Info Tag revision 1": decoders must skip the delay and 528 + 1).
const decoderDelay = 529

// usualDelay is LAME's own delay in sample frames, at every rate, as measured on its files without a tag. Other encoders'
// are of that order.
const usualDelay = 576

// parseMP3Tag looks for such a header in a frame.
func parseMP3Tag(f mpegFrame, b []byte) (tag mp3Tag, found bool) {
	// Encoders put the header behind the side information as if there were no checksum.
	at := mpegHeaderSize + f.sideSize()
	const vbri = 36 // where the Fraunhofer encoder puts its own, which tells no delay that can be relied on
	if len(b) >= vbri+4 && string(b[vbri:vbri+4]) == "VBRI" {
		return mp3Tag{}, true
	}
	if len(b) < at+8 || !slices.Contains([]string{"Xing", "Info"}, string(b[at:at+4])) {
		return mp3Tag{}, false
	}
	flags := binary.BigEndian.Uint32(b[at+4:])
	at += 8
	for i, length := range []int{4, 4, 100, 4} { // frames, bytes, places for seeking, quality
		if flags&(1<<i) == 0 {
			continue
		}
		if len(b) < at+length {
			return mp3Tag{}, true
		}
		if i == 0 {
			tag.frames = int64(binary.BigEndian.Uint32(b[at:]))
		}
		at += length
	}
	const delayAt = 21 // behind the name of the encoder, 9 bytes, and what it tells of loudness
	if len(b) < at+delayAt+3 || !slices.Contains([]string{"LAME", "Lavf", "Lavc"}, string(b[at:at+4])) {
		return tag, true
	}
	both := int64(b[at+delayAt])<<16 | int64(b[at+delayAt+1])<<8 | int64(b[at+delayAt+2])
	tag.delay, tag.padding = both>>12, both&0xfff
	tag.delayed = both != 0 // early ones left the place empty
	return tag, true
}
