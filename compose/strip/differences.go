package strip

import (
	"bytes"
	"context"

	"colonnade/compose/picture"
)

// differences marks the pixels at which some photo differs from the base plate. At all others it does not matter
// which photo a column shows: a drawn scene has many of them, a photographed one hardly any.
type differences struct {
	words int      // of 64 pixels, in a row
	marks []uint64 // row by row, the leftmost pixel lowest
}

func newDifferences(width, height int) *differences {
	words := (width + 63) / 64
	return &differences{words, make([]uint64, words*height)}
}

// row is the marks of row y.
func (d *differences) row(y int) []uint64 { return d.marks[y*d.words:][:d.words] }

// mark marks the pixels of row y, from first to before last, at which photo differs from base, and may mark
// some more to both sides that do.
func (d *differences) mark(base, photo *picture.Picture, y, first, last int) {
	b, p := base.Row(y), photo.Row(y)
	marks := d.row(y)
	for word := first / 64; word < (last+63)/64; word++ {
		if marks[word] == ^uint64(0) {
			continue
		}
		from, to := 3*64*word, min(3*64*(word+1), len(b))
		b, p := b[from:to], p[from:to]
		if bytes.Equal(b, p) {
			continue
		}
		for i := 0; i < len(b); i += 3 {
			if b[i] != p[i] || b[i+1] != p[i+1] || b[i+2] != p[i+2] {
				marks[word] |= 1 << (i / 3)
			}
		}
	}
}

// compare finds the pixels under masks at which photos differ from the base plate.
func (c *Coder) compare(ctx context.Context) (*differences, error) {
	s := &c.source
	d := newDifferences(s.Width, s.Height)
	if len(s.Masks) == 0 {
		return d, nil
	}
	base, err := s.base()
	if err != nil {
		return nil, err
	}
	for level := range s.Photos {
		photo, err := s.photo(level)
		if err != nil {
			return nil, err
		}
		err = c.each(ctx, (s.Height+bandRows-1)/bandRows, func(_ *worker, b int) {
			for y := b * bandRows; y < min(s.Height, (b+1)*bandRows); y++ {
				for _, m := range s.Masks {
					if m.Row(y) != nil {
						d.mark(base, photo, y, m.Rect.Min.X, m.Rect.Max.X)
					}
				}
			}
		})
		if err != nil {
			return nil, err
		}
	}
	return d, nil
}

// flat tells of each bandRows rows whether the base plate is drawn there rather than photographed: at least seven
// pixels in eight are like the one to their left, or seven in eight like the one above. One row in four is looked at.
func (c *Coder) flat(ctx context.Context) ([]bool, error) {
	base, err := c.source.base()
	if err != nil {
		return nil, err
	}
	bands := make([]bool, (base.Height+bandRows-1)/bandRows)
	err = c.each(ctx, len(bands), func(_ *worker, b int) {
		left, above, all := 0, 0, 0
		for y := b * bandRows; y < min(base.Height, (b+1)*bandRows); y += 4 {
			row := base.Row(y)
			left += alike(row[3:], row)
			if y > 0 {
				above += alike(row, base.Row(y-1))
			}
			all += base.Width
		}
		bands[b] = 8*max(left, above) >= 7*all
	})
	return bands, err
}

// alike is the number of pixels that are the same in a and b, up to the end of the shorter one.
func alike(a, b []byte) int {
	same := 0
	for i := 0; i < min(len(a), len(b)); i += 3 {
		if a[i] == b[i] && a[i+1] == b[i+1] && a[i+2] == b[i+2] {
			same++
		}
	}
	return same
}
