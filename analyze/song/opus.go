package song

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"

	"github.com/pion/opus"
)

const (
	opusRate       = 48000 // sample frames a second, whatever the rate of the song was
	opusPacketMost = 5760  // sample frames in a packet: 120 ms (RFC 6716, 3.2.5)
)

// opusHead is the first packet of a stream (RFC 7845, 5.1).
type opusHead struct {
	channels int
	preSkip  int64   // sample frames in front that are not the song
	gain     float32 // factor on each sample
}

// opusDecoder reads an Ogg Opus file a packet at a time. The library decodes the packets.
type opusDecoder struct {
	about   Info
	head    opusHead
	packets *oggReader
	library *opus.Decoder // nil: begins anew with the next packet
	pcm     []float32     // what came of a packet, channel after channel within a sample frame
	used    int           // samples of it that were given away
	done    int64         // sample frames decoded
	skip    int64         // of those to come, how many are left out
	left    int64         // sample frames of the song that are not given away yet
	silent  int64         // packets read as silence
	placeOf float64
	err     error // once reading failed it fails for good
}

func openOpus(r io.ReaderAt, start, size int64) (decoder, error) {
	if start > 0 {
		return nil, fmt.Errorf("is an Ogg file behind an ID3 tag of %s; remove the tag or convert it to WAV", count(start, "byte"))
	}
	d := &opusDecoder{}
	w := newWindow(r, size)
	first, err := oggPageAt(w, 0)
	if err != nil {
		return nil, opusHeaderError(err, size)
	}
	serial := first.serial
	packets := newOggReader(w, serial)
	packet, _, _, err := packets.next()
	if err != nil {
		return nil, opusHeaderError(err, size)
	}
	if d.head, err = parseOpusHead(packet); err != nil {
		return nil, err
	}
	if packet, _, _, err = packets.next(); err != nil {
		return nil, opusHeaderError(err, size)
	}
	const tags = "OpusTags"
	if !begins(tags)(packet) {
		return nil, fmt.Errorf("has no comment header behind its first; %s", convertAgain)
	}
	d.about = Info{Rate: opusRate, Channels: d.head.channels, Title: commentTitle(packet[len(tags):])}
	packets.lengths = nil // sound begins on a page of its own
	packets.anew = true
	sound := *packets
	if err := d.survey(packets, serial, size); err != nil {
		return nil, err
	}
	d.packets = &sound
	d.pcm = make([]float32, 0, opusPacketMost*d.head.channels)
	d.skip = d.head.preSkip
	return d, nil
}

func opusHeaderError(err error, size int64) error {
	switch {
	case isUnread(err):
		return err
	case err == io.EOF || err == errCutPage:
		return errCutHeader(size)
	}
	return fmt.Errorf("has a damaged header: %w; %s", err, convertAgain)
}

func parseOpusHead(b []byte) (opusHead, error) {
	const size = 19
	if len(b) < size || !begins("OpusHead")(b) {
		return opusHead{}, fmt.Errorf("has a header of %s, at least %d are needed; %s", count(int64(len(b)), "byte"), size, convertAgain)
	}
	if b[8]>>4 != 0 {
		return opusHead{}, fmt.Errorf("is Opus of version %d, 0 to 15 are read; convert it to WAV or FLAC", b[8])
	}
	channels, family := int(b[9]), b[18]
	if channels < 1 || channels > 2 || family > 1 {
		return opusHead{}, fmt.Errorf("holds Opus sound of %s (mapping family %d), one or two are read; convert it to WAV or FLAC", count(int64(channels), "channel"), family)
	}
	if family == 1 && (len(b) < size+2+channels || b[size] != 1) {
		return opusHead{}, fmt.Errorf("holds Opus sound of more than one stream; convert it to WAV or FLAC")
	}
	gain := int16(binary.LittleEndian.Uint16(b[16:])) // dB, with 8 bits behind the point
	return opusHead{
		channels: channels,
		preSkip:  int64(binary.LittleEndian.Uint16(b[10:])),
		gain:     float32(math.Pow(10, float64(gain)/(20*256))),
	}, nil
}

// survey finds the length of the song: the places of its last page and of its first (RFC 7845, 4).
func (d *opusDecoder) survey(packets *oggReader, serial uint32, size int64) error {
	begin := int64(0)
	for sum := int64(0); ; {
		packet, granule, ends, err := packets.next()
		if err == io.EOF {
			return errNoFrames
		}
		if isUnread(err) {
			return err
		}
		if err != nil {
			return fmt.Errorf("is damaged at its beginning: %w; %s", err, convertAgain)
		}
		sum += opusDuration(packet)
		if ends && granule >= 0 {
			begin = max(0, granule-sum) // above 0 where the file is a part of a broadcast
			break
		}
	}
	last, bytes, ended := int64(-1), int64(0), false
	note := func(format string, a ...any) { d.about.Notes = append(d.about.Notes, fmt.Sprintf(format, a...)) }
	w := newWindow(packets.window.r, size)
walk:
	for at, sound := int64(0), false; ; {
		p, err := oggPageAt(w, at)
		switch {
		case err == errCutPage || err == io.EOF:
			break walk
		case err != nil && ended:
			note("what follows the sound makes no page and is not read: %s from byte %d on", count(size-at, "byte"), at)
			break walk
		case err != nil:
			return err
		}
		at += p.size
		switch {
		case p.flags&oggFirst != 0 && sound:
			note("another stream begins at byte %d and is not read", p.at)
			break walk
		case p.serial != serial:
			continue
		}
		sound = sound || p.granule > 0
		bytes += p.size
		ended = p.flags&oggLast != 0
		if p.granule >= 0 {
			last = p.granule
		}
	}
	if !ended {
		note("the file is cut off: its last page does not end the stream")
	}
	d.left = last - begin - d.head.preSkip
	switch {
	case d.left <= 0:
		return errNoFrames
	case d.left/opusPacketMost > size: // a packet has a byte at least
		return fmt.Errorf("tells of %s, which %s cannot hold; %s", count(d.left, "sample frame"), count(size, "byte"), convertAgain)
	}
	d.about.Frames = d.left
	d.about.Encoding = fmt.Sprintf("%.0f kbit/s Opus", float64(bytes)*8*opusRate/1000/float64(d.left))
	return nil
}

// opusDuration is how many sample frames come of a packet, by its first byte and, where that says so, by the second
// (RFC 6716, 3.1 and 3.2). 0: it is no packet.
func opusDuration(packet []byte) int64 {
	if len(packet) == 0 {
		return 0
	}
	const millisecond = opusRate / 1000
	var frame int64
	switch config := packet[0] >> 3; {
	case config < 12: // SILK
		frame = [4]int64{10, 20, 40, 60}[config&3] * millisecond
	case config < 16: // hybrid
		frame = [2]int64{10, 20}[config&1] * millisecond
	default: // CELT, from 2.5 ms on
		frame = 5 * millisecond / 2 << (config & 3)
	}
	frames := int64(2)
	switch packet[0] & 3 {
	case 0:
		frames = 1
	case 3:
		if len(packet) < 2 {
			return 0
		}
		frames = int64(packet[1] & 0x3f)
	}
	if frames*frame > opusPacketMost {
		return 0
	}
	return frames * frame
}

func (d *opusDecoder) info() Info {
	about := d.about
	if d.silent > 0 {
		about.Notes = append(slices.Clip(about.Notes), fmt.Sprintf("%s read as silence, being damaged, the first at %.3f s", count(d.silent, "packet"), d.placeOf))
	}
	return about
}

func (d *opusDecoder) read(dst [][]float32, frames int) (int, error) {
	channels := len(dst)
	done := 0
	for done < frames && d.err == nil {
		if d.left == 0 {
			d.err = io.EOF
			break
		}
		if d.used == len(d.pcm) {
			d.err = d.next()
			continue
		}
		held := int64(len(d.pcm)-d.used) / int64(channels)
		if d.skip > 0 {
			n := min(d.skip, held)
			d.skip -= n
			d.used += int(n) * channels
			continue
		}
		n := int(min(held, d.left, int64(frames-done)))
		for i, channel := range dst {
			coded := d.pcm[d.used+i:]
			for k := range channel[done : done+n] {
				channel[done+k] = coded[k*channels] * d.head.gain
			}
		}
		done += n
		d.left -= int64(n)
		d.used += n * channels
	}
	if d.err == io.EOF && done > 0 {
		return done, nil
	}
	return done, d.err
}

// next decodes the next packet into d.pcm.
func (d *opusDecoder) next() error {
	packet, _, _, err := d.packets.next()
	if err == io.EOF {
		d.about.Notes = append(d.about.Notes, fmt.Sprintf("its pages tell of %s, %d are there", count(d.about.Frames, "sample frame"), d.about.Frames-d.left))
		d.about.Frames -= d.left
		d.left = 0
		return io.EOF
	}
	place := max(0, float64(d.done-d.head.preSkip)/opusRate)
	if err != nil {
		return fmt.Errorf("is damaged at %.3f s: %w; %s", place, err, convertAgain)
	}
	frames := opusDuration(packet)
	d.pcm, d.used = d.pcm[:int(frames)*d.head.channels], 0
	if err := d.decode(packet); err != nil {
		d.library = nil
		clear(d.pcm)
		if d.silent == 0 {
			d.placeOf = place
		}
		d.silent++
	}
	d.done += frames
	return nil
}

// decode has the library decode one packet into d.pcm.
//
// The library is young. Should it panic over a packet, that is an error of the packet; it begins anew with the next.
func (d *opusDecoder) decode(packet []byte) (err error) {
	defer func() {
		if fault := recover(); fault != nil {
			err = fmt.Errorf("the Opus library failed: %v", fault)
		}
	}()
	if d.library == nil {
		library, err := opus.NewDecoderWithOutput(opusRate, d.head.channels)
		if err != nil {
			return err
		}
		d.library = &library
	}
	n, err := d.library.DecodeToFloat32(packet, d.pcm)
	if err != nil {
		return err
	}
	if n*d.head.channels != len(d.pcm) || n == 0 {
		return errors.New("the Opus library gave another number of samples than the packet tells")
	}
	for i, v := range d.pcm {
		if !(v >= -maxOpus && v <= maxOpus) { // so worded that NaN is caught
			d.pcm[i] = 0
		}
	}
	return nil
}

// maxOpus bounds a decoded sample. Sound is within 1 and somewhat above; what is far beyond comes of damaged packets.
const maxOpus = 1 << 10
