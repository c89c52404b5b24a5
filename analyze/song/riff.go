package song

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
)

const (
	riffHeaderSize  = 12 // "RIFF", the size of the rest, "WAVE"
	chunkHeaderSize = 8  // the name, the size of the body
	// unknownSize stands in a 32-bit size field for a length that was not known, or is in the ds64 chunk.
	unknownSize = math.MaxUint32
	// maxChunks bounds the walk: a file of chunks without a body would otherwise cost a read for every 8 bytes.
	maxChunks = 10_000
	// maxWideSizes bounds the table of the ds64 chunk. It has an entry for each chunk of 4 GB and more besides data.
	maxWideSizes = 64
)

// chunk is one part of a RIFF file.
type chunk struct {
	name    string // four bytes
	at      int64  // byte of the file at which its header begins
	size    int64  // bytes in its body, as its header or the ds64 chunk has it
	unknown bool   // the header leaves the size open, and no ds64 chunk has it
}

func (c chunk) body() int64 { return c.at + chunkHeaderSize }

// next is the byte after the chunk: a body of odd length is followed by a byte of padding.
func (c chunk) next() int64 { return c.body() + c.size + c.size&1 }

// named tells whether the name is one, which is four printable characters of ASCII.
func (c chunk) named() bool {
	for _, b := range []byte(c.name) {
		if b < ' ' || b > '~' {
			return false
		}
	}
	return true
}

// layout is where a WAV file keeps its sound.
type layout struct {
	format   []byte // the body of the fmt chunk, or as much of it as has a meaning
	dataAt   int64  // byte at which the sound begins
	held     int64  // bytes of sound that the file has
	promised int64  // bytes of sound that its header tells of; unknown if below 0
	frames   int64  // sample frames by the ds64 chunk, or 0
	title    string // by the LIST chunk
	notes    []string
}

// riffWalk is the walk over a RIFF, RF64 or BW64 file of size bytes.
type riffWalk struct {
	r      io.ReaderAt
	size   int64
	wide   bool
	sizes  map[string]int64 // from the ds64 chunk, by chunk name
	frames int64            // sample frames, from the ds64 chunk
}

const exportAgain = "export the song again as WAV"

// walk finds the fmt and the data chunk, and the title. It reads headers, the fmt, the ds64 and the LIST chunk, and
// nothing else.
func walk(r io.ReaderAt, size int64) (layout, error) {
	var magic [4]byte
	if err := readFull(r, magic[:], 0); err != nil {
		return layout{}, err
	}
	w := riffWalk{r: r, size: size, wide: isWide(magic[:])}
	var found layout
	at, empty := int64(riffHeaderSize), false
	for seen := 0; at+chunkHeaderSize <= size; seen++ {
		if seen == maxChunks {
			return layout{}, fmt.Errorf("has more than %d chunks before its sound; %s", maxChunks, exportAgain)
		}
		c, err := w.chunkAt(at)
		if err != nil {
			return layout{}, err
		}
		if !c.named() {
			return layout{}, fmt.Errorf("has %q at byte %d, where a chunk should begin; %s", c.name, c.at, exportAgain)
		}
		if c.name == "data" {
			if found.format == nil {
				return layout{}, fmt.Errorf("has its data chunk before its fmt chunk; %s", exportAgain)
			}
			if c.size == 0 && w.chunksFrom(c.body()) {
				empty = true // truly empty, as other chunks follow; there may be a second one with the sound
				at = c.next()
				continue
			}
			err := w.measure(c, &found)
			return found, err
		}
		if c.size > size-c.body() {
			return layout{}, fmt.Errorf("chunk %q at byte %d claims %s, the file has %d more; %s",
				c.name, c.at, count(c.size, "byte"), size-c.body(), exportAgain)
		}
		if err := w.padded(c); err != nil {
			return layout{}, err
		}
		switch {
		case c.name == "fmt " && found.format != nil:
			return layout{}, fmt.Errorf("has a second fmt chunk at byte %d; %s", c.at, exportAgain)
		case c.name == "fmt ":
			found.format = make([]byte, min(c.size, extensibleSize))
			err = readFull(r, found.format, c.body())
		case c.name == "ds64" && w.wide:
			err = w.readSizes(c)
		case c.name == "LIST" && found.title == "":
			found.title, err = w.readTitle(c)
		}
		if err != nil {
			return layout{}, err
		}
		at = c.next()
	}
	switch {
	case empty:
		return layout{}, errEmpty
	case found.format == nil:
		return layout{}, fmt.Errorf("has no fmt chunk, which tells how its sound is coded; %s", exportAgain)
	}
	return layout{}, fmt.Errorf("has no data chunk, which holds the sound; %s", exportAgain)
}

var errEmpty = errors.New("holds no sample frame; " + exportAgain)

// chunkAt reads the header of the chunk that begins at byte at.
func (w *riffWalk) chunkAt(at int64) (chunk, error) {
	var header [chunkHeaderSize]byte
	if err := readFull(w.r, header[:], at); err != nil {
		return chunk{}, err
	}
	c := chunk{name: string(header[:4]), at: at, size: int64(binary.LittleEndian.Uint32(header[4:]))}
	if c.size == unknownSize {
		if size, ok := w.sizes[c.name]; ok {
			c.size = size
		} else {
			c.unknown = true
		}
	}
	return c, nil
}

// padded reports an odd chunk without its byte of padding where that can be told for sure. Going on would
// take names from the wrong bytes.
func (w *riffWalk) padded(c chunk) error {
	if c.size&1 == 0 || c.next()-1+4 > w.size {
		return nil
	}
	var name [4]byte
	if err := readFull(w.r, name[:], c.next()-1); err != nil {
		return err
	}
	if n := string(name[:]); n == "fmt " || n == "data" {
		return fmt.Errorf("chunk %q at byte %d has an odd length, %s, and no byte of padding behind it; %s", c.name, c.at, count(c.size, "byte"), exportAgain)
	}
	return nil
}

// readSizes reads the 64-bit sizes of the ds64 chunk (EBU Tech 3306, section 3): of the whole file, of the
// data chunk, the number of sample frames, the number of table entries, and for each a name and a size.
func (w *riffWalk) readSizes(c chunk) error {
	const fixed, entry = 28, 12
	if c.size < fixed {
		return fmt.Errorf("its ds64 chunk has %s, at least %d are needed; %s", count(c.size, "byte"), fixed, exportAgain)
	}
	body := make([]byte, min(c.size, fixed+entry*maxWideSizes))
	if err := readFull(w.r, body, c.body()); err != nil {
		return err
	}
	entries := binary.LittleEndian.Uint32(body[24:])
	w.sizes = map[string]int64{"data": clampSize(body[8:])}
	w.frames = clampSize(body[16:])
	for body = body[fixed:]; len(body) >= entry && entries > 0; body, entries = body[entry:], entries-1 {
		if name := string(body[:4]); name != "data" {
			w.sizes[name] = clampSize(body[4:])
		}
	}
	return nil
}

// readTitle looks for the title in a LIST chunk.
func (w *riffWalk) readTitle(c chunk) (string, error) {
	body := make([]byte, min(c.size, maxTags))
	err := readFull(w.r, body, c.body())
	return infoTitle(body), err
}

// clampSize reads a 64-bit size and holds it so low that adding a place in a file to it cannot overflow.
func clampSize(b []byte) int64 {
	return int64(min(binary.LittleEndian.Uint64(b), math.MaxInt64/2))
}

// measure finds out how much sound the data chunk c has.
func (w *riffWalk) measure(c chunk, found *layout) error {
	rest := w.size - c.body()
	found.dataAt, found.held, found.promised, found.frames = c.body(), min(c.size, rest), c.size, w.frames
	switch {
	case rest == 0:
		return errEmpty
	case c.size == 0 || c.unknown || streamed(c.size) && c.size > rest:
		found.held, found.promised = rest, -1
	case c.size <= rest:
		return w.noteRest(c, found)
	}
	return nil
}

// streamed tells the sizes that programs write when they send a file through a pipe and cannot come back to
// fill the size in: the greatest signed or unsigned 32-bit number, or somewhat less, to leave room for the
// header or to be a whole number of blocks (SoX writes 0x7ffff000). The greatest 64-bit number is clamped.
func streamed(size int64) bool {
	for _, top := range []int64{1 << 31, 1 << 32} {
		if size <= top && size >= top-4096 {
			return true
		}
	}
	return size == math.MaxInt64/2
}

// chunksFrom tells whether at least one chunk begins at byte at and chunks follow each other to the end of the file.
func (w *riffWalk) chunksFrom(at int64) bool {
	for seen := 0; seen < maxChunks; seen++ {
		if at+chunkHeaderSize > w.size {
			return seen > 0 && at >= w.size
		}
		c, err := w.chunkAt(at)
		if err != nil || !c.named() || c.size > w.size-c.body() {
			return false
		}
		at = c.next()
	}
	return false
}

// noteRest looks at what follows the sound. It cannot harm the sound, so that nothing there is an error.
func (w *riffWalk) noteRest(data chunk, found *layout) error {
	at := data.next()
	for seen := 0; seen < maxChunks && at+chunkHeaderSize <= w.size; seen++ {
		c, err := w.chunkAt(at)
		if err != nil {
			return err
		}
		if !c.named() || c.size > w.size-c.body() {
			found.notes = append(found.notes, fmt.Sprintf("what follows the sound makes no whole chunk and is not read: %s from byte %d on", count(w.size-at, "byte"), at))
			return nil
		}
		if c.name == "LIST" && found.title == "" {
			if found.title, err = w.readTitle(c); err != nil {
				return err
			}
		}
		if c.name == "data" {
			found.notes = append(found.notes, fmt.Sprintf("a second data chunk of %s, at byte %d, is not read", count(c.size, "byte"), at))
		}
		at = c.next()
	}
	return nil
}

// count is a number of things for people: "1 byte", "2 bytes".
func count(n int64, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}
