package pngfile

import (
	"bufio"
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"errors"
	"fmt"
	"hash"
	"hash/crc32"
	"io"
)

// Frame is what a whole frame says of itself.
type Frame struct {
	Width, Height int
	Key           string // empty where there is none
	Size          int64  // bytes of the file
}

// A Checker reads whole files and tells whether every byte is as it was written: the structure, each chunk's
// checksum, the compressed stream, its own checksum and its length, the filter of each row, and that nothing
// follows the end. It takes the PNGs that this package begins: 8-bit RGB without interlace. It keeps its
// buffers from one file to the next and serves one goroutine.
type Checker struct {
	in      *bufio.Reader
	sum     hash.Hash32
	offset  int64
	inflate io.ReadCloser
	rows    []byte // a piece of the picture, inflated
	room    []byte // a piece of it, deflated
	idat    idat
}

// NewChecker makes a Checker.
func NewChecker() *Checker {
	const piece = 64 << 10
	return &Checker{in: bufio.NewReaderSize(nil, piece), sum: crc32.NewIEEE(), rows: make([]byte, piece), room: make([]byte, piece)}
}

// A Fault is what is wrong with a file's bytes, as opposed to an error of reading them.
type Fault struct{ Text string }

func (f Fault) Error() string { return f.Text }

func faultf(format string, args ...any) error { return Fault{fmt.Sprintf(format, args...)} }

// Check reads a file to its end. What is wrong with it comes as a Fault.
func (c *Checker) Check(r io.Reader) (Frame, error) {
	c.in.Reset(r)
	c.offset = 0
	var frame Frame
	signature := make([]byte, len(Signature))
	if err := c.read(signature); err != nil {
		return frame, err
	}
	if string(signature) != Signature {
		return frame, faultf("it is not a PNG file")
	}
	kind, data, err := c.small()
	if err != nil {
		return frame, err
	}
	if kind != "IHDR" || len(data) != headerLength {
		return frame, faultf("its first chunk is not a PNG header")
	}
	width, height := binary.BigEndian.Uint32(data), binary.BigEndian.Uint32(data[4:])
	if width == 0 || height == 0 || width > longestChunk || height > longestChunk {
		return frame, faultf("its header says %d x %d pixels", width, height)
	}
	if !bytes.Equal(data[8:], []byte{8, 2, 0, 0, 0}) {
		return frame, faultf("its header says another kind of picture than 8-bit RGB without interlace")
	}
	frame.Width, frame.Height = int(width), int(height)
	for {
		length, kind, err := c.begin()
		if err != nil {
			return frame, err
		}
		switch kind {
		case "IDAT":
			if err := c.picture(length, frame.Width, frame.Height); err != nil {
				return frame, err
			}
			return c.end(frame)
		case "IEND", "IHDR", "PLTE":
			return frame, faultf("chunk %s at byte %d stands where the picture should", kind, c.offset-8)
		}
		if kind == "tEXt" && int(length) == keyText {
			data, err := c.rest(kind, length)
			if err != nil {
				return frame, err
			}
			if word, key, _ := bytes.Cut(data, []byte{0}); string(word) == KeyWord {
				if frame.Key != "" || !IsKey(string(key)) {
					return frame, faultf("its key is not one of %d hexadecimal digits", KeyLength)
				}
				frame.Key = string(key)
			}
			continue
		}
		if kind[0]&0x20 == 0 { // a capital first letter: a decoder must know it (5.4)
			return frame, faultf("chunk %s at byte %d has no place in a frame", kind, c.offset-8)
		}
		if err := c.skip(kind, length); err != nil {
			return frame, err
		}
	}
}

// end checks that IEND follows, and nothing after it.
func (c *Checker) end(frame Frame) (Frame, error) {
	length, kind := c.idat.nextLength, c.idat.nextKind
	if kind != "IEND" || length != 0 {
		return frame, faultf("chunk %s at byte %d stands where the file should end", kind, c.offset-8)
	}
	if err := c.checksum(kind); err != nil {
		return frame, err
	}
	frame.Size = c.offset
	if _, err := c.in.ReadByte(); err == nil {
		return frame, faultf("bytes follow its end at byte %d", c.offset)
	} else if err != io.EOF {
		return frame, err
	}
	return frame, nil
}

// read fills p.
func (c *Checker) read(p []byte) error {
	n, err := io.ReadFull(c.in, p)
	c.offset += int64(n)
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return faultf("it breaks off at byte %d", c.offset)
	}
	return err
}

// begin reads a chunk's length and type.
func (c *Checker) begin() (uint32, string, error) {
	var start [8]byte
	if err := c.read(start[:]); err != nil {
		return 0, "", err
	}
	length, kind := binary.BigEndian.Uint32(start[:]), string(start[4:])
	if length > longestChunk || !letters(kind) {
		return 0, "", faultf("no chunk begins at byte %d", c.offset-8)
	}
	c.sum.Reset()
	c.sum.Write(start[4:])
	return length, kind, nil
}

// checksum reads a chunk's CRC and compares.
func (c *Checker) checksum(kind string) error {
	var end [4]byte
	if err := c.read(end[:]); err != nil {
		return err
	}
	if binary.BigEndian.Uint32(end[:]) != c.sum.Sum32() {
		return faultf("chunk %s before byte %d fails its checksum", kind, c.offset)
	}
	return nil
}

// rest reads a short chunk's data.
func (c *Checker) rest(kind string, length uint32) ([]byte, error) {
	data := make([]byte, length)
	if err := c.read(data); err != nil {
		return nil, err
	}
	c.sum.Write(data)
	return data, c.checksum(kind)
}

func (c *Checker) small() (string, []byte, error) {
	length, kind, err := c.begin()
	if err != nil {
		return "", nil, err
	}
	if length > headRead {
		return kind, nil, faultf("its first chunk is not a PNG header")
	}
	data, err := c.rest(kind, length)
	return kind, data, err
}

// skip reads over a chunk's data, for its checksum alone.
func (c *Checker) skip(kind string, length uint32) error {
	for left := int64(length); left > 0; {
		piece := c.rows[:min(left, int64(len(c.rows)))]
		if err := c.read(piece); err != nil {
			return err
		}
		c.sum.Write(piece)
		left -= int64(len(piece))
	}
	return c.checksum(kind)
}

// picture inflates the picture and counts its bytes.
func (c *Checker) picture(length uint32, width, height int) error {
	c.idat = idat{checker: c, left: length, room: c.room}
	var err error
	if c.inflate == nil {
		c.inflate, err = zlib.NewReader(&c.idat)
	} else {
		err = c.inflate.(zlib.Resetter).Reset(&c.idat, nil)
	}
	row, wanted, got := int64(3*width+1), (3*int64(width)+1)*int64(height), int64(0)
	for err == nil {
		var n int
		n, err = c.inflate.Read(c.rows)
		// The first byte of each row names its filter (9.2).
		for at := (row - got%row) % row; at < int64(n); at += row {
			if c.rows[at] > 4 {
				return faultf("a row of its picture has filter %d, which is none", c.rows[at])
			}
		}
		if got += int64(n); got > wanted {
			return faultf("its picture has more than %d bytes", wanted)
		}
	}
	switch {
	case c.idat.err != nil:
		return c.idat.err
	case err != io.EOF:
		return faultf("its picture does not inflate: %v", err)
	case got != wanted:
		return faultf("its picture has %d bytes, %d wanted", got, wanted)
	case c.idat.rest() > 0:
		return faultf("%d bytes of its picture chunk follow the picture", c.idat.rest())
	}
	// The stream's end may come before the last chunk's checksum and before chunks without data.
	for !c.idat.over {
		if err := c.idat.next(); err != nil {
			return err
		}
		if c.idat.rest() > 0 {
			return faultf("%d bytes of its picture chunk follow the picture", c.idat.rest())
		}
	}
	return nil
}

// idat joins the data of consecutive IDAT chunks (11.2.3), checking each chunk's sum. It gives bytes singly where
// the inflater asks for that, so that the inflater takes no more than its stream.
type idat struct {
	checker    *Checker
	ready      []byte // read and summed, not yet taken
	left       uint32 // bytes of the chunk that are not yet read
	over       bool   // another chunk follows
	nextKind   string
	nextLength uint32
	err        error
	room       []byte
}

// rest is the number of bytes of the chunk that were not taken.
func (d *idat) rest() int64 { return int64(len(d.ready)) + int64(d.left) }

// next ends one chunk and begins the one after it.
func (d *idat) next() error {
	if err := d.checker.checksum("IDAT"); err != nil {
		return err
	}
	length, kind, err := d.checker.begin()
	if err != nil {
		return err
	}
	if kind != "IDAT" {
		d.over, d.nextKind, d.nextLength = true, kind, length
		return nil
	}
	d.left = length
	return nil
}

func (d *idat) fill() error {
	for len(d.ready) == 0 && d.err == nil {
		switch {
		case d.over:
			return io.EOF
		case d.left == 0:
			d.err = d.next()
		default:
			d.ready = d.room[:min(int64(d.left), int64(len(d.room)))]
			if d.err = d.checker.read(d.ready); d.err == nil {
				d.checker.sum.Write(d.ready)
				d.left -= uint32(len(d.ready))
			}
		}
	}
	return d.err
}

func (d *idat) Read(p []byte) (int, error) {
	if err := d.fill(); err != nil {
		return 0, err
	}
	n := copy(p, d.ready)
	d.ready = d.ready[n:]
	return n, nil
}

func (d *idat) ReadByte() (byte, error) {
	if len(d.ready) == 0 {
		if err := d.fill(); err != nil {
			return 0, err
		}
	}
	b := d.ready[0]
	d.ready = d.ready[1:]
	return b, nil
}
