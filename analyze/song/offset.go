package song

import (
	"fmt"
	"io"
	"math"
)

// maxOffset bounds an offset in milliseconds: an hour, which no delay comes near. It keeps a slip of the
// finger from making a song of silence that fills the disk with frames.
const maxOffset = 3_600_000

// discardFrames is how many sample frames are dropped at a time.
const discardFrames = 4096

// offset moves the beginning of a song.
type offset struct {
	frames int64 // sample frames by which the song begins later in the file; below 0 it begins before the file does
	left   int64 // of those, what is not dropped or put in front yet; same sign
	began  bool
	scrap  [][]float32 // where the dropped ones go
	rest   [][]float32 // the part of a caller's slices that comes after silence
}

// Offset tells how far into the file the song really begins, in milliseconds, rounded to the nearest sample
// frame: what lies before it is dropped, and all that follows is heard that much earlier. A negative offset
// puts silence in front, and all is heard later. Info.Frames follows suit. Offset is called once, before the
// first Read.
//
// A player that is given the whole file must be told to begin at the same place.
func (s *Song) Offset(milliseconds float64) error {
	if s.offset.began {
		return fmt.Errorf("%s: is moved while it is read; give the offset before", s.name)
	}
	if !(math.Abs(milliseconds) <= maxOffset) { // so worded that NaN is caught
		return fmt.Errorf("%s: an offset of %g ms was given, -%d to %d are taken; give a smaller one", s.name, milliseconds, maxOffset, maxOffset)
	}
	info := s.decoder.info()
	frames := int64(math.Round(milliseconds * float64(info.Rate) / 1000))
	if info.Frames > 0 && frames >= info.Frames {
		return fmt.Errorf("%s: %w", s.name, beyondEnd(frames, info.Frames, info.Rate))
	}
	s.offset = offset{frames: frames, left: frames}
	return nil
}

func beyondEnd(offset, frames int64, rate int) error {
	milliseconds := func(n int64) float64 { return float64(n) * 1000 / float64(rate) }
	return fmt.Errorf("an offset of %.0f ms was given, the song ends after %.0f ms; give a smaller one", milliseconds(offset), milliseconds(frames))
}

// moved is the length of a song of frames sample frames after the move.
func (o *offset) moved(frames int64) int64 {
	if frames == 0 { // not known
		return 0
	}
	return max(0, frames-o.frames)
}

// read is Song.Read for a dst that has room for frames sample frames, above 0.
func (o *offset) read(d decoder, dst [][]float32, frames int) (int, error) {
	o.began = true
	if o.left > 0 {
		if err := o.drop(d, len(dst)); err != nil {
			return 0, err
		}
		n, err := d.read(dst, frames)
		if n == 0 && err == io.EOF {
			return 0, o.tooFar(d)
		}
		return n, err
	}
	silent := int(min(int64(frames), -o.left))
	if silent == 0 {
		return d.read(dst, frames)
	}
	for _, channel := range dst {
		clear(channel[:silent])
	}
	o.left += int64(silent)
	if silent == frames {
		return silent, nil
	}
	o.rest = o.rest[:0]
	for _, channel := range dst {
		o.rest = append(o.rest, channel[silent:])
	}
	n, err := d.read(o.rest, frames-silent)
	if err == io.EOF {
		err = nil // there was silence to give; the next read tells the end
	}
	return silent + n, err
}

// drop reads what lies before the song's beginning.
func (o *offset) drop(d decoder, channels int) error {
	if o.scrap == nil {
		for range channels {
			o.scrap = append(o.scrap, make([]float32, min(o.left, discardFrames)))
		}
	}
	for o.left > 0 {
		n, err := d.read(o.scrap, int(min(o.left, discardFrames)))
		o.left -= int64(n)
		if err == io.EOF || err == nil && n == 0 {
			return o.tooFar(d)
		}
		if err != nil {
			return err
		}
	}
	o.scrap = nil
	return nil
}

// tooFar is the error for an offset that leaves nothing of a song whose length was not known before.
func (o *offset) tooFar(d decoder) error {
	info := d.info()
	return beyondEnd(o.frames, info.Frames, info.Rate)
}
