package mark

import (
	"fmt"
	"image"
	"io"
	"strconv"
	"strings"

	"colonnade/analyze/plan"
	"colonnade/masks"
)

// Write writes what was found as a column file. photos is what its key of that name says: a folder or a glob, with /
// between names, as seen from the file's own folder.
func (f *Found) Write(w io.Writer, photos string) error {
	var b strings.Builder
	fmt.Fprintf(&b, "# %s found in %d photos of %d x %d pixels, numbered from the left.\n", counted(len(f.Columns), "column"), f.Top+1, f.Size.X, f.Size.Y)
	b.WriteString("# Regions are corners in pixels of the photo: x to the right, y down, (0, 0) at the top left.\n")
	b.WriteString("# Put them right by hand where they do not fit; name your song, and change names and bands as you like.\n")
	if len(f.Doubts) > 0 {
		b.WriteString("#\n# Look at these:\n")
		for _, doubt := range f.Doubts {
			fmt.Fprintf(&b, "# - %s\n", doubt)
		}
	}
	fmt.Fprintf(&b, "\nphotos  = %s\n", quoted(photos))
	b.WriteString("# song  = \"song.wav\"    # the song, as seen from this file\n")
	if size := smaller(f.Size); size != f.Size {
		frame := quoted(fmt.Sprintf("%dx%d", size.X, size.Y))
		fmt.Fprintf(&b, "# size  = %-13s # the frame; without it, all pixels of the photos\n", frame)
	}
	fmt.Fprintf(&b, "feather = %-10s    # softness of the regions' edges, in pixels of the photo\n", number(f.Feather))
	for i, band := range plan.Bands(len(f.Columns)) {
		column := f.Columns[i]
		fmt.Fprintf(&b, "\n[[column]]              # %d\n", i+1)
		fmt.Fprintf(&b, "name    = %s\n", quoted(band.Name))
		fmt.Fprintf(&b, "band    = [%s, %s]\n", number(band.LowHz), number(band.HighHz))
		fmt.Fprintf(&b, "region  = %s\n", corners(column.Region))
		if column.Feather != f.Feather {
			fmt.Fprintf(&b, "feather = %-10s    # its edge comes near an object\n", number(column.Feather))
		}
		if column.Top != f.Top {
			fmt.Fprintf(&b, "top     = %-10d    # it does not grow beyond\n", column.Top)
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// smaller is the photo's shape with 1080 pixels on the shorter side, as video has it, and even numbers, as encoders
// want them; a smaller photo's own size.
func smaller(photo image.Point) image.Point {
	const side = 1080
	shorter := min(photo.X, photo.Y)
	if shorter <= side {
		return photo
	}
	even := func(length int) int { return (length*side + shorter) / (2 * shorter) * 2 }
	return image.Pt(even(photo.X), even(photo.Y))
}

func corners(region masks.Region) string {
	words := make([]string, len(region))
	for i, p := range region {
		words[i] = fmt.Sprintf("[%s, %s]", number(p.X), number(p.Y))
	}
	return "[" + strings.Join(words, ", ") + "]"
}

// number is a number without exponent, as people write them.
func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

func counted(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// quoted is a basic string of TOML 1.0: control characters, quotes and backslashes are escaped.
func quoted(text string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range text {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r < ' ' || r == 0x7f:
			fmt.Fprintf(&b, `\u%04X`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}
