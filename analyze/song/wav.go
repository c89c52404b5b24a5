package song

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"slices"

	"github.com/go-audio/audio"
	"github.com/go-audio/riff"
	"github.com/go-audio/wav"
)

// blockSamples is how many samples are held at a time, of all channels together. 32768 keep the cost of a read
// small; more gained nothing.
const blockSamples = 32768

// wavDecoder reads a WAV file a block at a time.
type wavDecoder struct {
	about Info
	block block
	left  int64 // sample frames that are not in a block yet
	held  int   // sample frames in the block
	used  int   // sample frames of the block that were given away
	err   error // once reading failed it fails for good
}

// block holds coded samples, channel after channel within a sample frame.
type block interface {
	// load takes the next frames from the file in place of what the block holds.
	load(frames int) error
	// spread decodes frames sample frames from the block's frame from on into dst[channel][at:].
	spread(dst [][]float32, at, from, frames int)
	// note tells what was unusual about the samples spread so far, or is empty.
	note() string
}

func openWAV(r io.ReaderAt, start, size int64) (decoder, error) {
	if start > 0 {
		return nil, fmt.Errorf("is a WAV file behind an ID3 tag of %s; remove the tag or convert it to WAV", count(start, "byte"))
	}
	place, err := walk(r, size)
	if err != nil {
		return nil, err
	}
	c, notes, err := parseCoding(place.format)
	if err != nil {
		return nil, err
	}
	if place.frames <= place.held && place.frames*c.frameBytes() == place.held-1 && place.held&1 == 0 {
		// FFmpeg counts the byte of padding into the length that it writes to an RF64 file, which makes an
		// 8-bit mono song a sample longer. It counts the sample frames right.
		place.held--
		place.promised--
	}
	frames := place.held / c.frameBytes()
	notes = append(notes, lengthNotes(place, c)...)
	if frames == 0 {
		return nil, errEmpty
	}
	d := &wavDecoder{left: frames, about: Info{Rate: c.rate, Channels: c.channels, Frames: frames, Encoding: c.String(), Title: place.title, Notes: append(notes, place.notes...)}}
	source := &sequence{r: r, at: place.dataAt}
	blockFrames := int(min(frames, int64(blockSamples/c.channels)))
	if c.float {
		d.block = &floatBlock{coding: c, source: source, coded: make([]byte, blockFrames*int(c.frameBytes()))}
		return d, nil
	}
	d.block, err = newIntegerBlock(c, source, blockFrames)
	return d, err
}

// lengthNotes says how the length of the sound differs from what the header promises.
func lengthNotes(place layout, c coding) []string {
	var notes []string
	held, rest := place.held/c.frameBytes(), place.held%c.frameBytes()
	switch {
	case place.promised < 0:
		notes = append(notes, fmt.Sprintf("its header leaves the length open; everything up to the end of the file is read, %s", count(held, "sample frame")))
	case place.promised > place.held:
		notes = append(notes, fmt.Sprintf("the file is cut off: its header promises %s, %d are there", count(place.promised/c.frameBytes(), "sample frame"), held))
	}
	if rest != 0 {
		notes = append(notes, fmt.Sprintf("the sound ends within a sample frame; %s of %d left out", count(rest, "byte"), c.frameBytes()))
	}
	return notes
}

func (d *wavDecoder) info() Info {
	about := d.about
	if note := d.block.note(); note != "" {
		about.Notes = append(slices.Clip(about.Notes), note)
	}
	return about
}

func (d *wavDecoder) read(dst [][]float32, frames int) (int, error) {
	done := 0
	for done < frames && d.err == nil {
		if d.used == d.held {
			d.fill()
			continue
		}
		n := min(frames-done, d.held-d.used)
		d.block.spread(dst, done, d.used, n)
		done += n
		d.used += n
	}
	if d.err == io.EOF && done > 0 {
		return done, nil
	}
	return done, d.err
}

// fill takes the next block, or notes in d.err why there is none.
func (d *wavDecoder) fill() {
	next := int(min(d.left, int64(blockSamples/d.about.Channels)))
	d.held, d.used = 0, 0
	if next == 0 {
		d.err = io.EOF
	} else if d.err = d.block.load(next); d.err == nil {
		d.held = next
		d.left -= int64(next)
	}
}

// sequence reads from byte at on. It fills p or fails: the WAV library takes a short read for the end, and
// samples from one that comes with io.EOF.
type sequence struct {
	r  io.ReaderAt
	at int64
}

func (s *sequence) Read(p []byte) (int, error) {
	if err := readFull(s.r, p, s.at); err != nil {
		return 0, err
	}
	s.at += int64(len(p))
	return len(p), nil
}

// integerBlock holds integer samples. The WAV library decodes them.
type integerBlock struct {
	decoder *wav.Decoder
	coded   audio.IntBuffer
	zero    int     // the number that means silence
	unit    float32 // the sample that the number after zero stands for
}

// newIntegerBlock makes a block of up to frames sample frames. The library is shown a plain header of our own
// making with the samples behind it, since it mistakes many real ones: it takes floats and mu-law for integers
// and a length left open for none, and asks for as much memory as a chunk claims to need.
func newIntegerBlock(c coding, source io.Reader, frames int) (*integerBlock, error) {
	header := binary.LittleEndian.AppendUint32([]byte("RIFF"), math.MaxUint32)
	header = binary.LittleEndian.AppendUint32(append(header, "WAVEfmt "...), plainSize)
	header = binary.LittleEndian.AppendUint16(header, waveFormatPCM)
	header = binary.LittleEndian.AppendUint16(header, uint16(c.channels))
	header = binary.LittleEndian.AppendUint32(header, uint32(c.rate))
	header = binary.LittleEndian.AppendUint32(header, uint32(int64(c.rate)*c.frameBytes()))
	header = binary.LittleEndian.AppendUint16(header, uint16(c.frameBytes()))
	header = binary.LittleEndian.AppendUint16(header, uint16(8*c.bytes))
	header = append(header, "data\x00\x00\x00\x00"...)
	decoder := wav.NewDecoder(bytes.NewReader(header))
	if err := decoder.FwdToPCM(); err != nil {
		return nil, fmt.Errorf("is not understood by the WAV library: %w; %s", err, exportAgain)
	}
	decoder.PCMChunk = &riff.Chunk{ID: riff.DataFormatID, R: source}
	b := &integerBlock{decoder: decoder, unit: float32(math.Ldexp(1, 1-8*c.bytes))}
	if c.bytes == 1 {
		b.zero = 1 << 7 // integers of one byte are unsigned, wider ones signed
	}
	b.coded.Data = make([]int, frames*c.channels)
	return b, nil
}

func (b *integerBlock) load(frames int) error {
	b.coded.Data = b.coded.Data[:frames*int(b.decoder.NumChans)]
	n, err := b.decoder.PCMBuffer(&b.coded)
	if err != nil {
		return err
	}
	if n != len(b.coded.Data) {
		return fmt.Errorf("the WAV library gave %d samples of %d; %s", n, len(b.coded.Data), exportAgain)
	}
	return nil
}

func (b *integerBlock) spread(dst [][]float32, at, from, frames int) {
	channels := len(dst)
	for i, channel := range dst {
		coded := b.coded.Data[from*channels+i:]
		for k := range channel[at : at+frames] {
			channel[at+k] = float32(coded[k*channels]-b.zero) * b.unit
		}
	}
}

func (b *integerBlock) note() string { return "" }

// loudestFloat is the greatest float sample taken for sound: 144 dB above full scale, as far up as 24 bits reach down. Powers of
// what is far beyond would leave the range of numbers.
const loudestFloat = 1 << 24

// floatBlock holds float samples.
type floatBlock struct {
	coding  coding
	source  io.Reader
	coded   []byte
	frame   int64 // sample frames spread so far
	strange int64 // samples among them that are no numbers, or beyond loudestFloat
	first   int64 // the sample frame of the first of those
}

func (b *floatBlock) load(frames int) error {
	_, err := b.source.Read(b.coded[:frames*int(b.coding.frameBytes())])
	return err
}

func (b *floatBlock) spread(dst [][]float32, at, from, frames int) {
	size := int(b.coding.frameBytes())
	for i, channel := range dst {
		coded := b.coded[from*size+i*b.coding.bytes:]
		for k := range channel[at : at+frames] {
			var v float64
			if b.coding.bytes == 4 {
				v = float64(math.Float32frombits(binary.LittleEndian.Uint32(coded[k*size:])))
			} else {
				v = math.Float64frombits(binary.LittleEndian.Uint64(coded[k*size:]))
			}
			if !(math.Abs(v) <= loudestFloat) { // so worded that NaN is caught
				b.silence(b.frame + int64(k))
				v = 0
			}
			channel[at+k] = float32(v)
		}
	}
	b.frame += int64(frames)
}

// silence counts a sample of the given sample frame that is read as 0.
func (b *floatBlock) silence(frame int64) {
	if b.strange == 0 || frame < b.first {
		b.first = frame
	}
	b.strange++
}

func (b *floatBlock) note() string {
	if b.strange == 0 {
		return ""
	}
	return fmt.Sprintf("%s read as silence, being no number below 144 dB of full scale, the first at %.3f s",
		count(b.strange, "sample"), float64(b.first)/float64(b.coding.rate))
}
