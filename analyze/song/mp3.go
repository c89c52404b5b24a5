package song

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"slices"

	mp3 "github.com/hajimehoshi/go-mp3"
)

// mp3Decoder reads an MP3 file a frame at a time. The frames are found here and handed to the library one by one:
// so their number is known beforehand, a damaged one costs no more than itself, and nothing between them is taken
// for sound.
//
// Of short blocks in joint stereo the library leaves the highest lines as middle and side: left and right are off
// there by some hundredths, at attacks; the power over both channels is right.
type mp3Decoder struct {
	about   Info
	scanner mpegScanner
	packer  mp3Packer
	library *mp3.Decoder // nil: begins anew with the next frame
	feed    mp3Feed
	last    mpegFrame
	ended   bool   // no frame is left
	pcm     []byte // what came of a frame: 16-bit samples, little-endian, of two channels
	used    int    // bytes of it that were given away
	done    int64  // sample frames decoded
	front   int64  // sample frames decoded before the song begins
	skip    int64  // of those, how many are still to come
	left    int64  // sample frames of the song that are not given away yet
	silent  int64  // frames read as silence
	placeOf float64
	err     error // once reading failed it fails for good
}

func openMP3(r io.ReaderAt, start, size int64) (decoder, error) {
	end, err := soundEnd(r, size)
	if err != nil {
		return nil, err
	}
	d := &mp3Decoder{scanner: mpegScanner{window: newWindow(r, end), at: start, end: end}}
	if start > 0 {
		d.about.Title = id3Title(r)
	}
	if d.about.Title == "" {
		d.about.Title, _ = id3v1Title(r, size)
	}
	if err := d.begin(); err != nil {
		return nil, err
	}
	tag, err := d.survey()
	if err != nil {
		return nil, err
	}
	d.measure(tag)
	if d.left <= 0 {
		return nil, errNoFrames
	}
	d.about.Frames = d.left
	return d, nil
}

// begin finds the first frame and refuses what the library does not read.
func (d *mp3Decoder) begin() error {
	first, err := d.scanner.window.peek(d.scanner.at, mpegHeaderSize)
	if err != nil {
		return err
	}
	if f, ok := parseMPEG(first); ok && f.bitrate == 0 {
		return errors.New("is an MP3 file of free format, which has no bit rate; convert it to WAV or FLAC")
	}
	look := d.scanner
	look.end = min(look.end, look.at+windowSize)
	look.window = newWindow(look.window.r, look.end)
	f, _, err := look.next()
	switch {
	case err == io.EOF:
		return errNoMPEG
	case err != nil:
		return err
	case f.version == 25:
		return fmt.Errorf("is an MP3 file of %d Hz, 16000 Hz and more are read; convert it to WAV or FLAC", f.rate)
	}
	d.scanner.at = look.at - int64(f.size)
	d.scanner.found, d.scanner.first = true, f
	return nil
}

// survey looks at all frames without decoding them and leaves the scanner before the first that has sound.
func (d *mp3Decoder) survey() (tag mp3Tag, err error) {
	look := d.scanner
	var bytes, frames int64
	mono := true
	var packer mp3Packer
	for {
		f, b, err := look.next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return tag, err
		}
		if look.frames == 1 {
			var found bool
			if tag, found = parseMP3Tag(f, b); found {
				d.scanner.at = look.at
				continue
			}
		}
		if f.repacked() {
			if packer.repack(f, b); packer.tooLong > 0 {
				return tag, fmt.Errorf("is an MP3 file of %d Hz whose frame at byte %d needs %d bytes of main data, there is room for %d; convert it to WAV or FLAC",
					f.rate, look.at-int64(f.size), packer.tooLong, repackedRoom(f))
			}
		}
		frames++
		bytes += int64(f.size)
		mono = mono && f.mono
	}
	if frames == 0 {
		return tag, errNoFrames
	}
	first := d.scanner.first
	d.about.Rate = first.rate
	d.about.Channels = 2
	if mono {
		d.about.Channels = 1
	}
	samples := frames * first.samples()
	d.about.Encoding = fmt.Sprintf("%d kbit/s MP3", (8*bytes*int64(first.rate)/samples+500)/1000)
	d.left = samples
	d.noteFrames(tag, frames, look)
	return tag, nil
}

// noteFrames says what was unusual about the frames.
func (d *mp3Decoder) noteFrames(tag mp3Tag, frames int64, look mpegScanner) {
	note := func(format string, a ...any) { d.about.Notes = append(d.about.Notes, fmt.Sprintf(format, a...)) }
	if look.strange > 0 {
		note("what is no sound between its frames is left out: %s, the first at byte %d", count(look.strange, "byte"), look.placeOf)
	}
	if look.cut > 0 {
		note("the sound ends within a frame; %s left out", count(look.cut, "byte"))
	}
	switch {
	case tag.frames > frames:
		note("the file is cut off: its tag promises %s, %d are there", count(tag.frames, "frame"), frames)
	case tag.frames > 0 && tag.frames < frames:
		note("its tag promises %s, %d are there; all are read", count(tag.frames, "frame"), frames)
	}
	if !tag.delayed {
		late := 1000 * float64(usualDelay+decoderDelay) / float64(d.about.Rate)
		note("it does not tell its encoder's delay, so that its sound may be heard some %.0f ms late; where picture and sound differ, move the song with --offset", late)
	}
}

// measure sets which of the samples decoded are the song. All are, where the tag tells of no delay. The padding
// is known where all frames are there.
func (d *mp3Decoder) measure(tag mp3Tag) {
	if !tag.delayed {
		return
	}
	samples := d.left
	d.front = tag.delay + decoderDelay
	d.skip = d.front
	d.left -= d.front
	if tag.frames*d.scanner.first.samples() == samples {
		d.left = samples - tag.delay - tag.padding
	}
}

func (d *mp3Decoder) info() Info {
	about := d.about
	if d.silent > 0 {
		about.Notes = append(slices.Clip(about.Notes),
			fmt.Sprintf("%s read as silence, being damaged or leaning on frames that are not there, the first at %.3f s", count(d.silent, "frame"), d.placeOf))
	}
	return about
}

func (d *mp3Decoder) read(dst [][]float32, frames int) (int, error) {
	const stereo = 4 // bytes of two samples
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
		held := int64(len(d.pcm)-d.used) / stereo
		if d.skip > 0 {
			n := min(d.skip, held)
			d.skip -= n
			d.used += int(n) * stereo
			continue
		}
		n := int(min(held, d.left, int64(frames-done)))
		for i, channel := range dst {
			coded := d.pcm[d.used+2*i:]
			for k := range channel[done : done+n] {
				channel[done+k] = float32(int16(binary.LittleEndian.Uint16(coded[k*stereo:]))) / (1 << 15)
			}
		}
		done += n
		d.left -= int64(n)
		d.used += n * stereo
	}
	if d.err == io.EOF && done > 0 {
		return done, nil
	}
	return done, d.err
}

// next decodes the next frame into d.pcm. Behind the last it makes silence: a decoder is 529 samples behind, which
// the padding need not have made up for.
func (d *mp3Decoder) next() error {
	var frame []byte
	good := true
	if !d.ended {
		f, b, err := d.scanner.next()
		switch {
		case err == io.EOF:
			d.ended = true
		case err != nil:
			return err
		default:
			d.last = f
			frame, good = d.packer.pack(f, b)
		}
	}
	if d.ended {
		frame = d.packer.silence(d.last)
	}
	size := int(d.last.samples()) * 4
	if cap(d.pcm) < size {
		d.pcm = make([]byte, size)
	}
	d.pcm, d.used = d.pcm[:size], 0
	if err := d.decode(frame); err != nil {
		d.library = nil
		d.packer.reset()
		clear(d.pcm)
		good = false
	}
	if !good {
		if d.silent == 0 {
			d.placeOf = max(0, float64(d.done-d.front)/float64(d.about.Rate))
		}
		d.silent++
	}
	d.done += d.last.samples()
	return nil
}

// decode has the library decode one frame into d.pcm.
//
// The library checks a part of what it reads only: mixed blocks of MPEG-2 make it read past its scale factors.
// Should it panic, that is an error of the frame; it begins anew with the next.
func (d *mp3Decoder) decode(frame []byte) (err error) {
	defer func() {
		if fault := recover(); fault != nil {
			err = fmt.Errorf("the MP3 library failed: %v", fault)
		}
	}()
	d.feed.frame = frame
	if d.library == nil {
		if d.library, err = mp3.NewDecoder(&d.feed); err != nil {
			return err
		}
	}
	_, err = io.ReadFull(d.library, d.pcm)
	return err
}

// mp3Feed gives the library a frame and no more.
type mp3Feed struct{ frame []byte }

func (f *mp3Feed) Read(p []byte) (int, error) {
	if len(f.frame) == 0 {
		return 0, io.EOF
	}
	n := copy(p, f.frame)
	f.frame = f.frame[n:]
	return n, nil
}
