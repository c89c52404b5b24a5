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

// hot is how many bytes are written before they are checked, so that they still are in a near cache.
const hot = 64 << 10

// frame is what a call of Append works with.
type frame struct {
	tuple   []levels.Level
	states  []*state // by set
	cursors []cursor // by part of a band
	key     []byte
}

// cursor goes through the strings of one part of a band.
type cursor struct {
	strings []byte
	at      int
}

func (c *Coder) newFrame() *frame {
	most := 0
	for _, b := range c.layout.bands {
		most = max(most, len(b.parts))
	}
	return &frame{states: make([]*state, len(c.layout.sets.members)), cursors: make([]cursor, most)}
}

// frame holds the states of a tuple. It is given back by done.
func (c *Coder) frame(ctx context.Context, tuple []levels.Level) (*frame, error) {
	if err := c.source.fit(tuple); err != nil {
		return nil, err
	}
	f := c.frames.Get().(*frame)
	f.tuple = append(f.tuple[:0], tuple...)
	if err := c.acquire(ctx, f); err != nil {
		c.frames.Put(f)
		return nil, err
	}
	return f, nil
}

func (c *Coder) done(f *frame) {
	c.memo.release(c.layout, f)
	clear(f.states)
	clear(f.cursors)
	c.frames.Put(f)
}

// dataSize is the length of the frame's IDAT chunk, which is known beforehand.
func (c *Coder) dataSize(f *frame) (int, error) {
	bits := int64(0)
	for _, set := range c.layout.used {
		bits += f.states[set].bits
	}
	size := 2 + (bits+7)/8 + 4
	if size > math.MaxInt32 {
		return 0, fmt.Errorf("frame: its picture is %d bytes long; a PNG chunk holds 2147483647; make a smaller frame", size)
	}
	return int(size), nil
}

const (
	chunkSize = 12 // length, type and check of a chunk
	endSize   = chunkSize
)

// Size is the number of bytes that Append adds for the same arguments.
func (c *Coder) Size(head []byte, tuple []levels.Level) (int, error) {
	f, err := c.frame(context.Background(), tuple)
	if err != nil {
		return 0, err
	}
	defer c.done(f)
	size, err := c.dataSize(f)
	if err != nil {
		return 0, err
	}
	return len(head) + chunkSize + size + endSize, nil
}

// Append adds to dst the PNG file of the frame in which column i stands at tuple[i]: head, which is signature,
// header and all else that comes before the picture, then the picture in one IDAT chunk, then the end. It codes the
// states that are not in memory, and allocates nothing when all are and dst has room. On an error dst comes back
// as it was.
func (c *Coder) Append(dst []byte, head []byte, tuple []levels.Level) ([]byte, error) {
	f, err := c.frame(context.Background(), tuple)
	if err != nil {
		return dst, err
	}
	defer c.done(f)
	size, err := c.dataSize(f)
	if err != nil {
		return dst, err
	}
	total := len(head) + chunkSize + size + endSize
	out := slices.Grow(dst, total)
	out = append(out, head...)
	out = binary.BigEndian.AppendUint32(out, uint32(size))
	checked := len(out) // the check takes in the type (5.3)
	out = append(out, "IDAT"...)
	out = binary.BigEndian.AppendUint16(out, zlibHead)

	a := appender{out: out[:len(dst)+total], at: len(out)}
	check := uint32(0)
	for b := range c.layout.bands {
		band := &c.layout.bands[b]
		for i := range band.parts {
			p := &band.parts[i]
			f.cursors[i] = cursor{f.states[p.set].strings[p.nth], 0}
		}
		for _, i := range band.order {
			p := &f.cursors[i]
			p.at += a.add(p.strings[p.at:])
			if a.at-checked >= hot {
				check = crc32.Update(check, crc32.IEEETable, a.out[checked:a.at])
				checked = a.at
			}
		}
	}
	a.flush()
	var sum share
	for _, set := range c.layout.used {
		sum.join(f.states[set].share)
	}
	out = binary.BigEndian.AppendUint32(a.out[:a.at], sum.checksum(c.layout.stride*c.layout.height))
	check = crc32.Update(check, crc32.IEEETable, out[checked:])
	out = binary.BigEndian.AppendUint32(out, check)
	return pngfile.AppendEnd(out), nil
}

// Prepare codes the states of the tuples, as far as there is memory for them, so that frames are made without delay and without photos afterwards.
func (c *Coder) Prepare(ctx context.Context, tuples ...[]levels.Level) error {
	for _, tuple := range tuples {
		f, err := c.frame(ctx, tuple)
		if err != nil {
			return err
		}
		c.done(f)
	}
	return nil
}
