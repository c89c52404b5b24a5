// Package stream makes frames as a YUV4MPEG2 stream, the plain video that encoders read from a pipe: a line of
// text that tells size and rate, then for each frame the word FRAME and its planes Y', Cb and Cr, 8 bits a sample.
//
// The photos' codes are taken as the R'G'B' of ITU-R BT.709-6, as is common practice for sRGB pictures in video,
// and become its Y'CbCr in the limited range: Y' from 16 to 235, Cb and Cr from 16 to 240.
//
// Masks never move, and a sample depends only on the columns that touch the pixels it is made from. So samples
// that depend on the same columns form an area; what an area shows with its columns at some levels is a tile,
// made once; and a frame is the last frame with the tiles of the areas laid in whose columns have changed. A
// frame's bytes depend on its levels alone, not on the frames before it.
package stream

import (
	"fmt"
	"io"
	"runtime"

	"golang.org/x/sync/errgroup"

	"colonnade/analyze/levels"
	"colonnade/compose/picture"
)

// Options says how the stream is written. Memory and Workers do not change its bytes.
type Options struct {
	// RateNum/RateDen is the number of frames a second, an exact ratio.
	RateNum, RateDen int64
	// Chroma is 420 for one chroma sample to two by two pixels, which every encoder takes, or 444 for one to
	// each pixel.
	Chroma int
	// Memory is the most bytes that tiles are kept in, 0 for 256 MiB. A tile that had to go is made again when
	// it is needed. It comes on top of the frame being made.
	Memory int64
	// Workers is how many tiles are made at once, 0 for one a processor.
	Workers int
}

// defaultMemory holds every tile of six columns of six levels at 24 megapixels.
const defaultMemory = 256 << 20

// frameMark begins each frame.
const frameMark = "FRAME\n"

// Stream makes the stream of one source. It is for one goroutine at a time.
type Stream struct {
	source  Source
	header  string
	step    int
	areas   []area
	workers int
	cache   cache

	frame  []byte         // the last frame, as it is written: its mark and its planes; nil before the first
	planes [3]plane       // of frame
	shown  []levels.Level // the tuple of frame
}

// plane is Y', Cb or Cr, row by row.
type plane struct {
	width   int
	samples []byte
}

// New prepares to make a stream: it finds which samples depend on which columns. It asks for no picture. It
// refuses masks outside the frame, a rate or chroma that there is not, and 4:2:0 for a frame of odd width or height.
func New(source Source, options Options) (*Stream, error) {
	if err := source.check(); err != nil {
		return nil, err
	}
	step, name := 1, "444"
	switch options.Chroma {
	case 444:
	case 420:
		// Sited as in MPEG-2: at the left pixel of a pair, midway between two rows.
		step, name = 2, "420mpeg2"
		if w, h := source.Width, source.Height; w%2 != 0 || h%2 != 0 {
			return nil, fmt.Errorf("frame: is %d x %d, and a stream of 4:2:0 video needs an even width and height; crop the photos, or set --size %dx%d",
				w, h, max(w&^1, 2), max(h&^1, 2))
		}
	default:
		return nil, fmt.Errorf("stream: chroma %d is not known; choose 420 or 444", options.Chroma)
	}
	if options.RateNum <= 0 || options.RateDen <= 0 {
		return nil, fmt.Errorf("stream: frame rate %d/%d is not above 0; 25/1 is a common choice", options.RateNum, options.RateDen)
	}
	s := &Stream{
		source: source,
		header: fmt.Sprintf("YUV4MPEG2 W%d H%d F%d:%d Ip A1:1 C%s XCOLORRANGE=LIMITED\n",
			source.Width, source.Height, options.RateNum, options.RateDen, name),
		step:    step,
		areas:   findAreas(source.Width, source.Height, step, source.Masks),
		workers: options.Workers,
		cache:   newCache(options.Memory),
	}
	if s.workers <= 0 {
		s.workers = runtime.GOMAXPROCS(0)
	}
	if options.Memory <= 0 {
		s.cache.limit = defaultMemory
	}
	return s, nil
}

// Header is the line that begins the stream, to be written once before the first frame. Its end of line is part
// of it.
func (s *Stream) Header() string { return s.header }

// Write makes the frame in which column i stands at tuple[i] and writes it whole, with one call of w. When w
// fails the error wraps what it said. After any other error nothing was written, and the stream can go on.
func (s *Stream) Write(w io.Writer, tuple []levels.Level) error {
	if err := s.source.fit(tuple); err != nil {
		return err
	}
	changed := s.changed(tuple)
	tiles, err := s.tiles(changed, tuple)
	if err != nil {
		return err
	}
	if s.frame == nil {
		s.makeFrame()
	}
	for i, a := range changed {
		s.areas[a].lay(s.planes, tiles[i])
	}
	s.shown = append(s.shown[:0], tuple...)
	if _, err := w.Write(s.frame); err != nil {
		return fmt.Errorf("stream: %w; see what the program says that reads it", err)
	}
	return nil
}

func (s *Stream) makeFrame() {
	width, height := s.source.Width, s.source.Height
	luma, chroma := width*height, (width/s.step)*(height/s.step)
	s.frame = append(make([]byte, 0, len(frameMark)+luma+2*chroma), frameMark...)
	for i, size := range []int{luma, chroma, chroma} {
		begin := len(s.frame)
		s.frame = s.frame[:begin+size]
		s.planes[i].samples = s.frame[begin:]
	}
	s.planes[0].width, s.planes[1].width, s.planes[2].width = width, width/s.step, width/s.step
}

// changed is the numbers of the areas that show something else at tuple than in the last frame.
func (s *Stream) changed(tuple []levels.Level) []int {
	var out []int
	for i := range s.areas {
		change := s.frame == nil
		for _, column := range s.areas[i].columns {
			change = change || tuple[column] != s.shown[column]
		}
		if change {
			out = append(out, i)
		}
	}
	return out
}

// tiles is what the areas show at tuple. Those that are not kept are made, side by side.
func (s *Stream) tiles(areas []int, tuple []levels.Level) ([][]byte, error) {
	out := make([][]byte, len(areas))
	var missing []int // places in out
	for i, a := range areas {
		if out[i] = s.cache.get(key(a, s.areas[a].columns, tuple)); out[i] == nil {
			missing = append(missing, i)
		}
	}
	if len(missing) == 0 {
		return out, nil
	}
	base, err := s.source.base()
	if err != nil {
		return nil, err
	}
	photos := make([]picture.Reader, s.source.Photos)
	var needed []levels.Level
	for _, i := range missing {
		for _, column := range s.areas[areas[i]].columns {
			needed = append(needed, tuple[column])
		}
	}
	for _, level := range levels.Shown(needed) {
		if photos[level], err = s.source.photo(level); err != nil {
			return nil, err
		}
	}
	var group errgroup.Group
	group.SetLimit(s.workers)
	for _, i := range missing {
		group.Go(func() error {
			out[i] = s.areas[areas[i]].tile(base, photos, s.source.Curve, tuple, s.step)
			return nil
		})
	}
	group.Wait()
	for _, i := range missing {
		s.cache.put(key(areas[i], s.areas[areas[i]].columns, tuple), out[i])
	}
	return out, nil
}
