package strip

import (
	"context"
	"sync"
	"sync/atomic"

	"colonnade/analyze/levels"
)

// worker holds what one goroutine needs to code a part of a band. There are as many as may work at once.
type worker struct {
	row, above []byte  // pixels of two rows, each with one black pixel before it
	reach      []reach // by row of a band, the row above the band first
	filtered   []byte  // a part's filtered bytes, extent after extent, each with its lead; parsePad more can be read
	line       []byte  // bytes of a row, as one filter leaves them
	pixels     pixels
	parser     parser
	writer     bitWriter
	tuple      []levels.Level // of a sample
	extents    []extent       // of a sample
	known      int            // how many of them lie before it
}

// reach is which pixels of a row are read: first to before last.
type reach struct{ first, last int }

func newWorker(width int) *worker {
	return &worker{
		row:    make([]byte, 3*width+3),
		above:  make([]byte, 3*width+3),
		reach:  make([]reach, flatRows+1),
		line:   make([]byte, 3*width),
		pixels: newPixels(width),
		parser: parser{stride: 3*width + 1},
	}
}

// render puts the filtered bytes of the extents, which lie in the band b, into w.filtered, each after its lead.
func (w *worker) render(l *layout, b *band, as *block, extents []extent) {
	size := w.measure(l, extents)
	if cap(w.filtered) < size+parsePad {
		w.filtered = make([]byte, size+parsePad)
	}
	w.filtered = w.filtered[:size]
	out := w.filtered
	w.rows(l, b, extents, func(y, from, to int) {
		kind := as.filterOf(y)
		if from == 0 {
			out[0] = byte(kind)
			out = out[1:]
			from++
		}
		filter(kind, out, w.row, w.above, from-1, to-1)
		out = out[to-from:]
	})
}

// begin begins to parse the extents that have been rendered. It depends on their bytes alone how.
func (w *worker) begin(extents []extent, as *block) {
	kind := as.kind
	if kind.photographed() && w.parser.allGrey(w.filtered, extents) {
		kind = kindGrey
	}
	w.parser.begin(w.filtered, extents, kind)
}

// rows calls do for each stretch of a row that the extents take, leads included: bytes first to before last of the filtered row y of
// the picture, of which the filter's number is byte 0. Then w.row holds the row's pixels and w.above those above. w.measure has been called.
func (w *worker) rows(l *layout, b *band, extents []extent, do func(y, first, last int)) {
	current := -1 // row of the band that is in w.row
	w.compose(b.top-1, w.reach[0])
	for _, e := range extents {
		for at := int(e.from - e.lead); at < int(e.to); {
			row, from, to := l.inRow(at, e)
			at += to - from
			for current < row {
				current++
				w.row, w.above = w.above, w.row
				w.compose(b.top+current, w.reach[current+1])
			}
			do(b.top+row, from, to)
		}
	}
}

// measure finds which pixels of each row the extents need, for themselves or for those below, and how long they
// are in all, leads included.
func (w *worker) measure(l *layout, extents []extent) (size int) {
	for i := range w.reach {
		w.reach[i] = reach{l.width, 0}
	}
	for _, e := range extents {
		for at := int(e.from - e.lead); at < int(e.to); {
			row, from, to := l.inRow(at, e)
			at += to - from
			size += to - from
			first, last := max((from-1)/3-1, 0), (to+1)/3
			for _, r := range []*reach{&w.reach[row], &w.reach[row+1]} {
				r.first, r.last = min(r.first, first), max(r.last, last)
			}
		}
	}
	return size
}

// inRow is the row of a band that holds the extent's byte at, and which of the row's filtered bytes, the filter's
// number being the first, the extent takes from there on.
func (l *layout) inRow(at int, e extent) (row, from, to int) {
	row = at / l.stride
	return row, at - row*l.stride, min(int(e.to)-row*l.stride, l.stride)
}

// compose makes the pixels of row y that r reaches in w.row.
func (w *worker) compose(y int, r reach) {
	switch {
	case r.first >= r.last:
	case y < 0:
		clear(w.row)
	default:
		w.pixels.row(w.row[3:], y, r.first, r.last)
	}
}

// each calls do for 0 to n-1 on the workers that are idle. It stops early when ctx ends, and returns why it ended.
func (c *coding) each(ctx context.Context, n int, do func(w *worker, i int)) error {
	var next atomic.Int64
	var group sync.WaitGroup
	for range min(n, cap(c.idle)) {
		group.Go(func() {
			w := <-c.idle
			defer func() {
				w.pixels.forget()
				c.idle <- w
			}()
			for ctx.Err() == nil {
				i := int(next.Add(1)) - 1
				if i >= n {
					return
				}
				do(w, i)
			}
		})
	}
	group.Wait()
	return ctx.Err()
}
