package strip

import (
	"context"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"math"
	"slices"

	"colonnade/analyze/levels"
	"colonnade/compose/pngfile"
)

// zlibHead says deflate with a window of 32768 bytes, no dictionary (RFC 1950, section 2.2).
const zlibHead = 0x789c

const (
	checkSize = 4             // of a checksum: zlib's Adler-32, a chunk's CRC
	chunkSize = 8 + checkSize // length, type and check of a chunk
)

// hot is how many bytes, about, are written before their check is taken, so that they still are in a near cache.
const hot = 64 << 10

// streams is how many parts a processor is trusted to fetch from memory by itself as they are read in turn.
const streams = 16

const cacheLine = 64 // bytes

// frame is what one call of Append works with.
type frame struct {
	tuple   []levels.Level
	states  []*state // by set
	readers []reader // by part of a band
	key     []byte
	warm    byte // keeps open's reading from being left out
}

// frame holds the states of a tuple until done.
func (c *coding) frame(ctx context.Context, tuple []levels.Level) (*frame, error) {
	if err := c.prepare(ctx); err != nil {
		return nil, err
	}
	var f *frame
	select {
	case f = <-c.spare:
	default:
		f = c.newFrame()
	}
	f.tuple = append(f.tuple[:0], tuple...)
	if err := c.acquire(ctx, f); err != nil {
		c.put(f)
		return nil, err
	}
	return f, nil
}

func (c *coding) newFrame() *frame {
	parts := 0
	for _, b := range c.layout.bands {
		parts = max(parts, len(b.parts))
	}
	return &frame{states: make([]*state, len(c.layout.sets.members)), readers: make([]reader, parts)}
}

// done lets the frame's states go.
func (c *coding) done(f *frame) {
	c.memo.release(c, f)
	c.put(f)
}

// put keeps a frame that holds no states for the next call.
func (c *coding) put(f *frame) {
	clear(f.states)
	clear(f.readers)
	select {
	case c.spare <- f:
	default:
	}
}

// dataSize is the length of the data in the frame's IDAT chunk, which is known beforehand.
func (c *coding) dataSize(f *frame) (int, error) {
	bits := int64(0)
	for _, set := range c.layout.used {
		bits += f.states[set].bits
	}
	size := 2 + (bits+7)/8 + checkSize
	if size > math.MaxInt32 {
		return 0, fmt.Errorf("frame: its picture takes %d bytes, a PNG chunk holds %d; make the frame smaller",
			size, math.MaxInt32)
	}
	return int(size), nil
}

// append is Append of a frame that holds its states.
func (c *coding) append(dst []byte, head []byte, f *frame) ([]byte, error) {
	size, err := c.dataSize(f)
	if err != nil {
		return dst, err
	}
	total := len(head) + chunkSize + size + chunkSize
	out := slices.Grow(dst, total)
	whole := out[:len(dst)+total]
	out = append(out, head...)
	out = binary.BigEndian.AppendUint32(out, uint32(size))
	checked := len(out)
	out = append(out, "IDAT"...) // the check takes it in (PNG, section 5.3)
	out = binary.BigEndian.AppendUint16(out, zlibHead)

	check, end := uint32(0), 8*len(out)
	step := 1 + c.layout.extents*hot/size // extents that fill hot bytes, about
	for b := range c.layout.bands {
		band := &c.layout.bands[b]
		f.open(band)
		for order := range slices.Chunk(band.order, step) {
			end = join(whole, end, f.readers, order)
			if at := end >> 3; at-checked >= hot {
				check = crc32.Update(check, crc32.IEEETable, whole[checked:at])
				checked = at
			}
		}
	}
	whole[end>>3] &= 1<<(end&7) - 1 // zeros fill the last byte
	var sum share
	for _, set := range c.layout.used {
		sum.join(f.states[set].share)
	}
	out = binary.BigEndian.AppendUint32(whole[:(end+7)>>3], sum.checksum(c.layout.stride*c.layout.height))
	check = crc32.Update(check, crc32.IEEETable, out[checked:])
	out = binary.BigEndian.AppendUint32(out, check)
	return pngfile.AppendEnd(out), nil
}

// open begins to read the strings of all parts of a band.
func (f *frame) open(band *band) {
	for i := range band.parts {
		p := &band.parts[i]
		f.readers[i] = reader{data: f.states[p.set].pieces[p.nth].strings}
	}
	if len(band.parts) <= streams {
		return
	}
	// Read in turn, many parts come slowly: the processor waits for memory at each. One after the other they come
	// fast, and stay in a near cache until they are used.
	for _, p := range f.readers[:len(band.parts)] {
		for i := 0; i < len(p.data); i += cacheLine {
			f.warm += p.data[i]
		}
	}
}
