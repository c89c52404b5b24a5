package song

import (
	"bytes"
	"crypto/md5"
	"encoding/binary"
	"errors"
	"fmt"
	"hash"
	"io"
	"math"

	"github.com/mewkiz/flac/frame"
	"github.com/mewkiz/flac/meta"
)

// What a FLAC file begins with (RFC 9639, 6 and 8.1).
const (
	flacMagicSize       = 4  // "fLaC"
	flacBlockHeaderSize = 4  // a bit that marks the last block, 7 bits of type, 24 bits of length
	streamInfoSize      = 34 // the body of the first block (8.2)
	maxFLACBlocks       = 10_000
)

// maxFLACBits is the widest sample that the library's 32-bit sums leave room for: two channels coded as one and
// their difference take a bit more, and the decoder doubles one of them.
const maxFLACBits = 24

// flacDecoder reads a FLAC file a frame at a time. The library decodes the frames; it is given each by itself, so
// that what goes wrong can be told by its place.
type flacDecoder struct {
	about    Info
	stream   *meta.StreamInfo
	source   flacSource
	promised int64        // sample frames by the header; 0: it does not tell
	frame    *frame.Frame // what is decoded, or nil
	used     int          // sample frames of it that were given away
	done     int64        // sample frames decoded
	sum      hash.Hash    // of what is decoded, as StreamInfo has it, or nil
	coded    []byte       // samples on their way to sum
	err      error        // once reading failed it fails for good
}

func openFLAC(r io.ReaderAt, start, size int64) (decoder, error) {
	d := &flacDecoder{}
	title := ""
	if start > 0 {
		title = id3Title(r)
	}
	at := start + flacMagicSize
	for seen := 0; ; seen++ {
		if seen == maxFLACBlocks {
			return nil, fmt.Errorf("has more than %d blocks before its sound; %s", maxFLACBlocks, convertAgain)
		}
		if at+flacBlockHeaderSize > size {
			return nil, errCutHeader(size)
		}
		header := make([]byte, flacBlockHeaderSize)
		if err := readFull(r, header, at); err != nil {
			return nil, err
		}
		length := int64(binary.BigEndian.Uint32(header) & 0xffffff)
		body := at + flacBlockHeaderSize
		if length > size-body {
			return nil, errCutHeader(size)
		}
		kind := meta.Type(header[0] & 0x7f)
		switch {
		case seen == 0:
			// Read once before it is parsed, so that a disk that fails is not taken for a damaged header.
			if err := readFull(r, make([]byte, min(length, streamInfoSize)), body); err != nil {
				return nil, err
			}
			if err := d.readStreamInfo(io.NewSectionReader(r, at, flacBlockHeaderSize+length)); err != nil {
				return nil, err
			}
		case kind == meta.TypeVorbisComment:
			comment := make([]byte, min(length, maxTags))
			if err := readFull(r, comment, body); err != nil {
				return nil, err
			}
			if found := commentTitle(comment); found != "" {
				title = found
			}
		}
		at = body + length
		if header[0]&0x80 != 0 {
			break
		}
	}
	d.about.Title = title
	d.source = flacSource{window: newWindow(r, size), at: at}
	if d.promised == 0 {
		d.about.Frames = d.source.lengthByFrames(d.stream, d.longest())
	}
	// The first frame is decoded here, so that a file without sound is refused before anything is made of it.
	if d.next(); d.err == io.EOF {
		return nil, errNoFrames
	} else if d.err != nil {
		return nil, d.err
	}
	return d, nil
}

const convertAgain = "convert the song again, or copy it again from where it came"

var errNoFrames = errors.New("holds no sample frame; " + convertAgain)

func errCutHeader(size int64) error {
	return fmt.Errorf("ends within its header, after %s; %s", count(size, "byte"), convertAgain)
}

// readStreamInfo reads the block that tells how the sound is coded.
func (d *flacDecoder) readStreamInfo(block io.Reader) error {
	parsed, err := meta.Parse(block)
	if err != nil {
		return fmt.Errorf("has a damaged header (%w); %s", err, convertAgain)
	}
	stream, ok := parsed.Body.(*meta.StreamInfo)
	if !ok {
		return fmt.Errorf("does not begin with a STREAMINFO block; %s", convertAgain)
	}
	rate, bits := int64(stream.SampleRate), int(stream.BitsPerSample)
	if rate < minRate || rate > maxRate {
		return fmt.Errorf("has a sample rate of %d Hz, %d to %d are read; convert it to 44100 or 48000 Hz", rate, minRate, maxRate)
	}
	if bits > maxFLACBits {
		return fmt.Errorf("holds samples of %d bits, FLAC is read up to %d; convert it to 24-bit FLAC or to WAV", bits, maxFLACBits)
	}
	d.stream = stream
	d.promised = int64(stream.NSamples)
	d.about = Info{Rate: int(rate), Channels: int(stream.NChannels), Frames: d.promised, Encoding: fmt.Sprintf("%d-bit FLAC", bits)}
	if stream.MD5sum != [md5.Size]byte{} { // all zeros where the encoder did not know
		d.sum = md5.New()
	}
	return nil
}

func (d *flacDecoder) info() Info { return d.about }

func (d *flacDecoder) read(dst [][]float32, frames int) (int, error) {
	unit := float32(math.Ldexp(1, 1-int(d.stream.BitsPerSample)))
	done := 0
	for done < frames {
		if d.frame == nil {
			if d.err == nil {
				d.next()
			}
			if d.err != nil {
				break
			}
		}
		n := min(frames-done, int(d.frame.BlockSize)-d.used)
		for i, channel := range dst {
			coded := d.frame.Subframes[i].Samples[d.used : d.used+n]
			for k, v := range coded {
				channel[done+k] = float32(v) * unit
			}
		}
		done += n
		if d.used += n; d.used == int(d.frame.BlockSize) {
			d.frame, d.used = nil, 0
		}
	}
	if d.err == io.EOF && done > 0 {
		return done, nil
	}
	if d.frame != nil {
		return done, nil
	}
	return done, d.err
}

// next decodes the next frame into d.frame, or says in d.err why there is none.
func (d *flacDecoder) next() {
	start := d.source.at
	rest := d.source.window.end - start
	head, err := d.source.window.peek(start, 4)
	if err != nil {
		d.err = err
		return
	}
	complete := d.promised > 0 && d.done >= d.promised
	switch {
	case rest == 0, behindSound(head), complete && !flacSync(head):
		d.finish()
		return
	}
	f, err := d.source.parse(d.stream)
	switch {
	case err == nil:
		err = d.fits(f)
	case d.source.failed != nil:
		d.err = d.source.failed
		return
	}
	switch {
	case err == nil:
		d.frame, d.used = f, 0
		d.done += int64(f.BlockSize)
		d.add(f)
	case complete: // what follows the promised sound is no sound
		d.finish()
	case d.source.ended && rest <= d.longest():
		d.finish()
	default:
		d.err = fmt.Errorf("is damaged at %.3f s, byte %d (%w); %s", float64(d.done)/float64(d.about.Rate), start, err, convertAgain)
	}
}

// longest is more bytes than a frame has: samples as they are, and a header for each channel. A frame that breaks
// off at the end of the file though it began farther from it is not cut off but damaged.
func (d *flacDecoder) longest() int64 {
	const headers = 64
	bits := int64(d.stream.BitsPerSample) + 1
	return int64(d.about.Channels)*(int64(d.stream.BlockSizeMax)*bits/8+headers) + headers
}

// fits tells whether a frame is coded as the header says.
func (d *flacDecoder) fits(f *frame.Frame) error {
	switch {
	case f.BlockSize == 0:
		return errors.New("a frame without samples")
	case f.Channels.Count() != d.about.Channels:
		return fmt.Errorf("%s in a song of %d", count(int64(f.Channels.Count()), "channel"), d.about.Channels)
	case f.SampleRate != 0 && int(f.SampleRate) != d.about.Rate:
		return fmt.Errorf("%d Hz in a song of %d Hz", f.SampleRate, d.about.Rate)
	case f.BitsPerSample != d.stream.BitsPerSample:
		return fmt.Errorf("%d bits in a song of %d bits", f.BitsPerSample, d.stream.BitsPerSample)
	}
	for _, channel := range f.Subframes {
		used := int32(0) // the bits that any sample has besides its sign
		for _, v := range channel.Samples {
			used |= v ^ v>>31
		}
		if used>>(d.stream.BitsPerSample-1) != 0 {
			return fmt.Errorf("a sample of more than %d bits", d.stream.BitsPerSample)
		}
	}
	return nil
}

// flacSync tells the first bits of a frame (RFC 9639, 9.1).
func flacSync(head []byte) bool { return len(head) >= 2 && head[0] == 0xff && head[1]&0xfe == 0xf8 }

// behindSound tells the tags that other programs put behind the sound of FLAC files.
func behindSound(head []byte) bool {
	return begins("TAG")(head) || begins("APET")(head) || begins("ID3")(head)
}

// add enters a frame into the sum that StreamInfo has of the sound: samples as they are before coding, in whole
// bytes, little-endian, channel after channel (RFC 9639, 8.2).
func (d *flacDecoder) add(f *frame.Frame) {
	if d.sum == nil {
		return
	}
	bytes := (int(d.stream.BitsPerSample) + 7) / 8
	d.coded = d.coded[:0]
	for k := range int(f.BlockSize) {
		for _, channel := range f.Subframes {
			v := channel.Samples[k]
			for i := range bytes {
				d.coded = append(d.coded, byte(v>>(8*i)))
			}
		}
	}
	d.sum.Write(d.coded)
}

// finish says how what was read differs from what the header promises.
func (d *flacDecoder) finish() {
	d.err = io.EOF
	switch {
	case d.done == 0:
		d.err = errNoFrames
		return
	case d.promised > d.done:
		d.about.Notes = append(d.about.Notes, fmt.Sprintf("the file is cut off: its header promises %s, %d are there", count(d.promised, "sample frame"), d.done))
	case d.promised > 0 && d.promised < d.done:
		d.about.Notes = append(d.about.Notes, fmt.Sprintf("its header promises %s, %d are there; all are read", count(d.promised, "sample frame"), d.done))
	case d.sum != nil && !bytes.Equal(d.sum.Sum(nil), d.stream.MD5sum[:]):
		d.about.Notes = append(d.about.Notes, "its sound does not have the MD5 sum that its header tells; compare it with where it came from")
	}
	d.about.Frames = d.done
}
