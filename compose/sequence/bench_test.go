package sequence

import (
	"fmt"
	"os"
	"testing"

	"colonnade/analyze/levels"
	"colonnade/compose/pngfile"
)

// largeCoder makes files of a size at next to no cost. Their pictures are noise that no decoder takes.
type largeCoder struct{ size int }

func (largeCoder) Key(tuple []levels.Level) string { return tinyCoder{"ledge"}.Key(tuple) }

func (c largeCoder) Append(dst []byte, tuple []levels.Level) ([]byte, error) {
	dst = pngfile.AppendHead(dst, tinyWidth, tinyHeight, pngfile.NewColour(nil), c.Key(tuple))
	if more := c.size - len(dst); cap(dst) < c.size {
		return append(dst, make([]byte, more)...), nil
	}
	return dst[:c.size], nil
}

// BenchmarkWrite writes pieces of 2 GB in frames as large as those of 1920 x 1080 and 3840 x 2160 pixels.
func BenchmarkWrite(b *testing.B) {
	for _, size := range []int{1_500_123, 10_000_123} {
		for _, jobs := range []int{1, 2} {
			b.Run(fmt.Sprintf("%dMB/%d", size/1_000_000, jobs), func(b *testing.B) {
				for b.Loop() {
					folder := b.TempDir()
					o := tiny(folder, 2_000_000_000/size)
					o.batch, o.Jobs, o.Coder, o.Repeats = 0, jobs, largeCoder{size}, RepeatsWrite
					if _, err := Write(b.Context(), o); err != nil {
						b.Fatal(err)
					}
					b.SetBytes(int64(o.Count * size))
					if err := os.RemoveAll(folder); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}

// BenchmarkResume looks at 10 000 frames that are there.
func BenchmarkResume(b *testing.B) {
	o := tiny(b.TempDir(), 10_000)
	o.batch = 0
	for range 2 { // the second time nothing is left to do
		if _, err := Write(b.Context(), o); err != nil {
			b.Fatal(err)
		}
	}
	for b.Loop() {
		if s, err := Write(b.Context(), o); err != nil || s.Kept != o.Count {
			b.Fatal(s, err)
		}
	}
}

// BenchmarkRecord writes and reads the record of an hour at 30 frames a second.
func BenchmarkRecord(b *testing.B) {
	r := newRecord(tiny("frames", 1).Describe, 108_000)
	for i := range r.keys {
		r.keys[i], r.safe[i] = key(1), i < 50_000
	}
	for b.Loop() {
		text, err := r.encode()
		if err != nil {
			b.Fatal(err)
		}
		if _, err := decodeRecord(text); err != nil {
			b.Fatal(err)
		}
	}
}
