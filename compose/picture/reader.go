package picture

// Reader is a picture of which stretches of rows are read.
type Reader interface {
	// Size is its width and height in pixels.
	Size() (width, height int)
	// Read puts the pixels of row y from column x on into dst, as RGB, as many as fill it: dst is three bytes for each. It may
	// be called by several goroutines at once.
	Read(dst []uint8, x, y int)
}

func (p *Picture) Size() (width, height int) { return p.Width, p.Height }

func (p *Picture) Read(dst []uint8, x, y int) { copy(dst, p.Row(y)[3*x:]) }

// Whole is all pixels of r; of a Picture it is the picture itself, no copy.
func Whole(r Reader) *Picture {
	if p, ok := r.(*Picture); ok {
		return p
	}
	p := New(r.Size())
	for y := range p.Height {
		r.Read(p.Row(y), 0, y)
	}
	return p
}

// Readers is pictures as what they are read from.
func Readers(pictures []*Picture) []Reader {
	readers := make([]Reader, len(pictures))
	for i, p := range pictures {
		readers[i] = p
	}
	return readers
}
