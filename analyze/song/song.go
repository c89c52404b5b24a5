// Package song reads a song as a stream of samples, in memory that does not grow with the song.
//
// It takes a file and gives its rate, its channels, its length and then its samples, a block at a time.
// The format is told by the file's content, never by its name:
//
//   - WAV: integers of 8 to 32 bits and floats of 32 and 64, plain or WAVE_FORMAT_EXTENSIBLE, in RIFF
//     (Microsoft, "Multimedia Programming Interface and Data Specifications 1.0", 1991), RF64 (EBU Tech
//     3306) or BW64 (ITU-R BS.2088).
//   - FLAC: 4 to 24 bits, up to 8 channels (RFC 9639).
//   - MP3: MPEG-1 and MPEG-2 layer III (ISO/IEC 11172-3 and 13818-3). The encoder's delay and padding are
//     cut off where a tag tells them, so that the song is in sync to the sample.
//   - Opus in Ogg: one stream of one or two channels (RFC 6716, RFC 7845).
//
// What a file promises is held against what it has. Where the sound is whole in spite of a fault, it is
// read and Info.Notes says what was unusual; where it would be guesswork, the file is refused in one line
// that says what to do.
//
// WAV and FLAC give the same samples on every processor. MP3 and Opus are decoded with floating-point sums
// by the libraries, so that processors may differ in the last of 16 bits.
package song

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"slices"
)

// Info is what is known of a song without hearing it.
type Info struct {
	Rate     int      // samples a second
	Channels int      // 1 to 64
	Frames   int64    // sample frames in the song; a sample frame is one sample of every channel. 0: not known yet
	Encoding string   // "16-bit integer", "24-bit FLAC", "128 kbit/s MP3", ... for people
	Title    string   // as the file's tags have it, safe to print and at most 200 characters, or empty
	Notes    []string // what was unusual: truncated, unknown length, ...
}

// Seconds is how long the song lasts.
func (i Info) Seconds() float64 { return float64(i.Frames) / float64(i.Rate) }

// Song is an open song, read from its first sample frame to its last. It is not for concurrent use.
type Song struct {
	name     string // the path, safe to print
	channels int
	file     io.Closer
	decoder  decoder
	offset   offset
}

// decoder reads the samples of one format. Its errors do not name the file: Song does.
type decoder interface {
	// info may gain notes while the song is read.
	info() Info
	// read is Song.Read for a dst that has one slice for each channel, of frames samples or more; frames is above 0.
	read(dst [][]float32, frames int) (int, error)
}

// Open opens the song at path. An error is one line that names the file, what is wrong and what to do.
func Open(path string) (*Song, error) {
	name := printable(path)
	// The kind is asked for before opening, since opening a pipe waits for somebody to write to it.
	status, err := os.Stat(path)
	if err != nil {
		return nil, unopened(name, err)
	}
	if status.IsDir() {
		return nil, fmt.Errorf("%s: is a folder, a song is one file; name the song in it", name)
	}
	if !status.Mode().IsRegular() {
		return nil, fmt.Errorf("%s: is not a regular file, so its length cannot be known; save the song to a file first", name)
	}
	file, err := os.Open(path)
	if err != nil {
		return nil, unopened(name, err)
	}
	if status, err = file.Stat(); err != nil {
		file.Close()
		return nil, unopened(name, err)
	}
	s, err := open(name, file, status.Size())
	if err != nil {
		file.Close()
		return nil, err
	}
	s.file = file
	return s, nil
}

// open opens the song of size bytes that r holds.
func open(name string, r io.ReaderAt, size int64) (*Song, error) {
	d, err := newDecoder(r, size)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return &Song{name: name, channels: d.info().Channels, decoder: d}, nil
}

// unopened words a failure of the file system.
func unopened(name string, err error) error {
	err = withoutPath(err)
	if errors.Is(err, fs.ErrPermission) {
		return fmt.Errorf("%s: %w; make the song readable for this user", name, err)
	}
	return fmt.Errorf("%s: %w; check the path of the song", name, err)
}

// withoutPath is err without the path that package os puts in front of it: the path is named already, and
// printable there.
func withoutPath(err error) error {
	var named *fs.PathError
	if errors.As(err, &named) {
		return named.Err
	}
	return err
}

// Info tells what is known of the song. Before the song has been read to its end, Frames is what the file
// promises, and 0 where it promises nothing: some FLAC files that went through a pipe. Once Read has returned
// io.EOF, Frames is what was read and the notes are complete.
func (s *Song) Info() Info {
	info := s.decoder.info()
	info.Notes = slices.Clone(info.Notes)
	info.Frames = s.offset.moved(info.Frames)
	return info
}

// Read fills dst[channel][0:n] with the next n sample frames and returns n, which is less than the shortest
// slice of dst only at the end of the song. After the last sample frame it returns 0 and io.EOF. dst has
// one slice for each channel.
//
// Samples are in -1..1: an integer of b bits is divided by its full scale, 2^(b-1), and rounded to the
// nearest float32, so that up to 24 bits are exact. Floats are passed on as they are, beyond 1 too, except
// that NaN, infinities and what a float32 cannot hold are read as 0, silence, and counted in a note: one
// such sample would otherwise make every sum it enters worthless. MP3 is decoded to 16 bits.
//
// Any other error names the file; the n sample frames returned with it are good.
func (s *Song) Read(dst [][]float32) (int, error) {
	if len(dst) != s.channels {
		return 0, fmt.Errorf("%s: asked to read %s, the song has %d; pass a slice for each channel", s.name, count(int64(len(dst)), "channel"), s.channels)
	}
	frames := len(dst[0])
	for _, channel := range dst[1:] {
		frames = min(frames, len(channel))
	}
	if frames == 0 {
		return 0, nil
	}
	n, err := s.offset.read(s.decoder, dst, frames)
	if err != nil && err != io.EOF {
		err = fmt.Errorf("%s: %w", s.name, err)
	}
	return n, err
}

// Close closes the file. Read fails afterwards.
func (s *Song) Close() error {
	if s.file == nil {
		return nil
	}
	return s.file.Close()
}
