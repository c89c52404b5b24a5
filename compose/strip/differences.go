package strip

import (
	"bytes"
	"context"
	"math/bits"
	"slices"

	"colonnade/compose/picture"
	"colonnade/masks"
)

// texture is what the base plate is like in some rows.
type texture uint8

const (
	texturePhoto   texture = iota
	textureFlat            // drawn: most pixels are like the one to their left, or like the one above
	textureUpright         // drawn: most are like the one above, of objects too
)

func (t texture) drawn() bool { return t != texturePhoto }

// allows tells whether rows may have a filter: upright ones only one that leaves 0 of a pixel that, together with the one to
// its left, is like the one above.
func (t texture) allows(filter int) bool {
	return t != textureUpright || filter == filterUp || filter == filterPaeth
}

// textures is that of each bandRows rows as the base plate tells: most means seven in eight. One row in four is looked at.
func (c *coding) textures(ctx context.Context, base picture.Reader) ([]texture, error) {
	width, height := base.Size()
	bands := make([]texture, (height+bandRows-1)/bandRows)
	err := c.each(ctx, len(bands), func(w *worker, b int) {
		first, last := b*bandRows, min(height, (b+1)*bandRows)
		all := (last - first + 3) / 4 * width
		notLeft, notAbove := 0, 0 // pixels that are not alike
		row, above := w.row[3:], w.above[3:]
		for y := first; y < last; y += 4 {
			base.Read(row, 0, y)
			notLeft, notAbove = notLeft+width-alike(row[3:], row), notAbove+width
			if y > 0 {
				base.Read(above, 0, y-1)
				notAbove -= alike(row, above)
			}
			if 8*min(notLeft, notAbove) > all {
				return // a photograph
			}
		}
		bands[b] = textureFlat
		if 8*notAbove <= all {
			bands[b] = textureUpright
		}
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

// differences marks pixels, row by row, 64 in a word, the leftmost lowest.
type differences struct {
	words    int       // of a row
	textures []texture // by bandRows rows
	// The pixels of drawn rows at which some photo differs from the base plate. At all others it does not matter which photo a
	// column shows. Photographed rows have hardly any: there all pixels are taken to differ, so that of a photographed stage
	// no photo need be decoded that is not shown.
	fromBase []uint64
	// The pixels at which the base plate, a photo or a mask is not what it is one pixel above: in upright rows.
	fromAbove []uint64
}

func newDifferences(width, height int, textures []texture) *differences {
	words := (width + 63) / 64
	d := &differences{words: words, textures: textures, fromBase: make([]uint64, words*height)}
	if slices.Contains(textures, textureUpright) {
		d.fromAbove = make([]uint64, words*height)
	}
	return d
}

// row is the part of marks that tells of row y.
func (d *differences) row(marks []uint64, y int) []uint64 { return marks[y*d.words:][:d.words] }

// upright tells whether fromAbove tells of row y.
func (d *differences) upright(y int) bool { return y > 0 && d.textures[y/bandRows] == textureUpright }

// mark marks those of the pixels from first on at which a and b differ, which hold the same ones of two rows.
func mark(marks []uint64, a, b []byte, first int) {
	last := first + len(a)/3
	for word := first / 64; word < (last+63)/64; word++ {
		if marks[word] == ^uint64(0) {
			continue
		}
		x := max(64*word, first)
		from, to := 3*(x-first), 3*(min(64*(word+1), last)-first)
		a, b := a[from:to], b[from:to]
		if bytes.Equal(a, b) {
			continue
		}
		for i := 0; i < len(a); i += 3 {
			if a[i] != b[i] || a[i+1] != b[i+1] || a[i+2] != b[i+2] {
				marks[word] |= 1 << ((x + i/3) % 64)
			}
		}
	}
}

// stretch is the pixels from first to before last of row y: the picture's own, if it holds them, or else read into room.
func stretch(p picture.Reader, room []byte, y, first, last int) []byte {
	if whole, ok := p.(*picture.Picture); ok {
		return whole.Row(y)[3*first : 3*last]
	}
	p.Read(room[:3*(last-first)], first, y)
	return room[:3*(last-first)]
}

// compare finds the pixels of drawn rows under masks at which photos differ from the base plate, and in upright rows those
// that differ from the one above. textures is kept, and changed where rows turn out not to be upright. Where rows are drawn,
// all photos are there.
func (c *coding) compare(
	ctx context.Context, textures []texture, base picture.Reader, photos []picture.Reader,
) (*differences, error) {
	s := &c.source
	d := newDifferences(s.Width, s.Height, textures)
	err := c.each(ctx, len(textures), func(w *worker, b int) {
		top, end := b*bandRows, min(s.Height, (b+1)*bandRows)
		if !textures[b].drawn() {
			for y := top; y < end; y++ {
				fromBase := d.row(d.fromBase, y)
				for i := range fromBase {
					fromBase[i] = ^uint64(0)
				}
			}
			return
		}
		for y := top; y < end; y++ {
			if d.upright(y) {
				d.markMasks(s.Masks, y)
				d.markAbove(w, base, y, 0, s.Width)
			}
			for _, m := range s.Masks {
				if m.Row(y) == nil {
					continue
				}
				first, last := m.Rect.Min.X, m.Rect.Max.X
				for _, photo := range photos {
					d.markPhoto(w, base, photo, y, first, last)
					if d.upright(y) {
						d.markAbove(w, photo, y, first, last)
					}
				}
			}
		}
	})
	d.reconsider(s.Width, s.Height)
	return d, err
}

// markPhoto marks those of the pixels from first to before last of row y at which a photo differs from the base plate.
func (d *differences) markPhoto(w *worker, base, photo picture.Reader, y, first, last int) {
	plate, shown := stretch(base, w.pixels.below, y, first, last), stretch(photo, w.pixels.above, y, first, last)
	mark(d.row(d.fromBase, y), plate, shown, first)
}

// markAbove marks those at which a picture differs from what is one pixel above.
func (d *differences) markAbove(w *worker, p picture.Reader, y, first, last int) {
	row, above := stretch(p, w.pixels.below, y, first, last), stretch(p, w.pixels.above, y-1, first, last)
	mark(d.row(d.fromAbove, y), row, above, first)
}

// markMasks marks the pixels at which masks are not in row y, which is upright, what they are above.
func (d *differences) markMasks(columns []*masks.Mask, y int) {
	marks := d.row(d.fromAbove, y)
	for _, m := range columns {
		if here, above := m.Row(y), m.Row(y-1); here == nil && above == nil || slices.Equal(here, above) {
			continue
		}
		for x := m.Rect.Min.X; x < m.Rect.Max.X; x++ {
			if m.At(x, y) != m.At(x, y-1) {
				marks[x/64] |= 1 << (x % 64)
			}
		}
	}
}

// reconsider finds the upright rows whose objects are not drawn: where many of their pixels, and half of them or more, differ
// from the one above. There other filters may be better.
func (d *differences) reconsider(width, height int) {
	for b := range d.textures {
		if d.textures[b] != textureUpright {
			continue
		}
		objects, changes := 0, 0
		for y := b * bandRows; y < min(height, (b+1)*bandRows); y++ {
			fromAbove := d.row(d.fromAbove, y)
			for i, word := range d.row(d.fromBase, y) {
				objects += bits.OnesCount64(word)
				changes += bits.OnesCount64(word & fromAbove[i])
			}
		}
		if 2*changes > objects && 8*changes > width*bandRows {
			d.textures[b] = textureFlat
		}
	}
}
