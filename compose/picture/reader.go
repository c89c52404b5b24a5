package picture

// Reader is a picture of which stretches of rows are read.
type Reader interface {
	// Size is its width and height in pixels.
	Size() (width, height int)
	// Read puts the pixels of row y from column x on into dst, as RGB, as many as fill it: dst is three bytes for each. It may
	// be called by several goroutines at once. They lie in the picture: x + len(dst)/3 is its width at most.
	Read(dst []uint8, x, y int)
}

// Size is p's Width and Height.
func (p *Picture) Size() (width, height int) { return p.Width, p.Height }

// Read copies pixels of row y from column x on; see Reader.
func (p *Picture) Read(dst []uint8, x, y int) { copy(dst, p.Row(y)[3*x:]) }

// Whole is all pixels of r, to be read only: of a Picture it is the picture itself, no copy.
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

// Readers is pictures as what they are read from; nil stays nil.
func Readers(pictures []*Picture) []Reader {
	readers := make([]Reader, len(pictures))
	for i, p := range pictures {
		if p != nil {
			readers[i] = p
		}
	}
	return readers
}
