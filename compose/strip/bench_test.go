package strip

import (
	"bytes"
	"fmt"
	"image/png"
	"io"
	"testing"

	"colonnade/analyze/levels"
	"colonnade/compose/picture"
)

var sizes = []struct {
	name          string
	width, height int
}{{"1080p", 1920, 1080}, {"4K", 3840, 2160}}

// tuples goes through all levels of every column, so that in time every state is used.
func tuples(columns, photos int) [][]levels.Level {
	var all [][]levels.Level
	for k := range photos {
		tuple := make([]levels.Level, columns)
		for i := range tuple {
			tuple[i] = levels.Level((k+i*i)%photos) * levels.One
		}
		all = append(all, tuple)
	}
	return all
}

// BenchmarkAppend makes frames whose states are coded, of six photos.
func BenchmarkAppend(b *testing.B) {
	for _, size := range sizes {
		for _, columns := range []int{6, 24} {
			b.Run(fmt.Sprintf("%s/columns=%d", size.name, columns), func(b *testing.B) {
				s := photographed(size.width, size.height, columns, 6)
				c := s.coder(b, Options{})
				all := tuples(columns, 6)
				var frame []byte
				for _, tuple := range all { // so that all are coded, and there is room for the longest
					var err error
					if frame, err = c.Append(frame[:0], s.head, tuple); err != nil {
						b.Fatal(err)
					}
				}
				written := 0
				b.ReportAllocs()
				for i := 0; b.Loop(); i++ {
					var err error
					if frame, err = c.Append(frame[:0], s.head, all[i%len(all)]); err != nil {
						b.Fatal(err)
					}
					written += len(frame)
				}
				b.SetBytes(int64(written / b.N))
				b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "frames/s")
				b.ReportMetric(float64(c.full.memo.size)/1e6, "MB-coded")
			})
		}
	}
}

// BenchmarkFirst prepares and makes a first frame, the photos at hand.
func BenchmarkFirst(b *testing.B) {
	for _, size := range sizes {
		b.Run(size.name, func(b *testing.B) {
			s := photographed(size.width, size.height, 6, 6)
			for b.Loop() {
				if _, err := s.coder(b, Options{}).Append(nil, s.head, tuples(6, 6)[1]); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// BenchmarkPlain is the usual way to the same frames: the plain compositor, then image/png at its fastest. It
// reports how large its files are against those of Append.
func BenchmarkPlain(b *testing.B) {
	for _, size := range sizes {
		b.Run(size.name, func(b *testing.B) {
			s := photographed(size.width, size.height, 6, 6)
			c := s.coder(b, Options{})
			tuple := tuples(6, 6)[1]
			ours, err := c.Size(s.head, tuple)
			if err != nil {
				b.Fatal(err)
			}
			p := picture.New(size.width, size.height)
			var file bytes.Buffer
			for b.Loop() {
				file.Reset()
				s.Compose(p, tuple)
				encode(b, &file, p, png.BestSpeed)
			}
			b.SetBytes(int64(file.Len()))
			b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "frames/s")
			b.ReportMetric(float64(file.Len())/float64(ours), "size/ours")
			if size.name == "1080p" {
				file.Reset()
				encode(b, &file, p, png.DefaultCompression)
				b.ReportMetric(float64(file.Len())/float64(ours), "default-size/ours")
			}
		})
	}
}

func encode(t testing.TB, w io.Writer, p *picture.Picture, level png.CompressionLevel) {
	encoder := png.Encoder{CompressionLevel: level}
	if err := encoder.Encode(w, opaque(p)); err != nil {
		t.Fatal(err)
	}
}
