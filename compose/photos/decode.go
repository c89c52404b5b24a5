package photos

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io"
	"os"
	"strings"

	"github.com/bep/imagemeta"
	"github.com/disintegration/imaging"

	"colonnade/compose/picture"
	"colonnade/compose/pngfile"
)

// maxPixels is the largest photo taken. It lets the largest medium-format cameras in (151 million pixels) and
// keeps a made-up header from claiming the machine's memory.
const maxPixels = 160_000_000

// longestSide is that of a JPEG photo (ITU-T T.81, B.2.2), and of a frame.
const longestSide = 65535

// maxFile is the largest file read whole: a 16-bit PNG of maxPixels that does not compress at all.
const maxFile = 8*maxPixels + 1<<20

// Photo is what a photo's file says before its pixels are decoded.
type Photo struct {
	Path        string
	Size        image.Point       // pixels as shown, after Orientation
	Orientation int               // EXIF: 1 to 8
	Profile     []byte            // ICC profile, nil when it carries none
	Digest      [sha256.Size]byte // SHA-256 of the whole file
	kind        kind
}

type kind string

const (
	jpegKind kind = "JPEG"
	pngKind  kind = "PNG"
)

// Open reads a photo's header, colour profile, orientation and digest. It refuses files that are neither JPEG nor PNG,
// CMYK, photos of more than 160 million pixels, damaged headers and profiles, and files that end too early, with the file
// and the remedy in the error; damage in the pixels is told by Decode.
func Open(path string) (*Photo, error) {
	data, err := read(path)
	if err != nil {
		return nil, err
	}
	return inspect(path, data)
}

func read(path string) ([]byte, error) {
	// The kind is asked for before opening, since opening a pipe waits for somebody to write to it.
	info, err := os.Stat(path)
	if err != nil {
		return nil, fmt.Errorf("photos: %s can not be opened (%w); check its name and permissions", Quote(path), Cause(err))
	}
	if !info.Mode().IsRegular() {
		return nil, fmt.Errorf("photos: %s is not a regular file; name photos only", Quote(path))
	}
	if info.Size() > maxFile {
		return nil, fmt.Errorf("photos: %s is %d MB large; photos go up to %d million pixels", Quote(path), info.Size()>>20, maxPixels/1_000_000)
	}
	file, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("photos: %s can not be opened (%w); check its name and permissions", Quote(path), Cause(err))
	}
	defer file.Close()
	data, err := io.ReadAll(io.LimitReader(file, maxFile))
	if err != nil {
		return nil, fmt.Errorf("photos: %s can not be read (%w); copy it from the card again", Quote(path), Cause(err))
	}
	return data, nil
}

// signatures of picture files that are recognised only to say what to do.
var signatures = []struct{ magic, name string }{
	{"GIF8", "a GIF"}, {"BM", "a BMP"}, {"II*\x00", "a TIFF or a camera's raw file"}, {"MM\x00*", "a TIFF or a camera's raw file"},
	{"\x00\x00\x00\x0cJXL ", "a JPEG XL"}, {"\xff\x0a", "a JPEG XL"}, {"FUJIFILM", "a camera's raw file"},
}

func inspect(path string, data []byte) (*Photo, error) {
	photo := &Photo{Path: path, Orientation: 1, Digest: sha256.Sum256(data)}
	var config image.Config
	var err error
	switch {
	case bytes.HasPrefix(data, []byte("\xff\xd8\xff")):
		photo.kind = jpegKind
		config, err = jpeg.DecodeConfig(bytes.NewReader(data))
	case bytes.HasPrefix(data, []byte(pngfile.Signature)):
		photo.kind = pngKind
		config, err = png.DecodeConfig(bytes.NewReader(data))
	default:
		return nil, fmt.Errorf("photos: %s is %s, not a JPEG or PNG; export it as one of these", Quote(path), otherKind(data))
	}
	if err != nil {
		return nil, damaged(path, photo.kind, err)
	}
	if config.ColorModel == color.CMYKModel {
		return nil, fmt.Errorf("photos: %s is a CMYK photo; export it as RGB", Quote(path))
	}
	if config.Width <= 0 || config.Height <= 0 || config.Width > maxPixels/config.Height {
		return nil, fmt.Errorf("photos: %s says it is %d x %d, above %d million pixels; make it smaller", Quote(path), config.Width, config.Height, maxPixels/1_000_000)
	}
	if config.Width > longestSide || config.Height > longestSide {
		return nil, fmt.Errorf("photos: %s is %d x %d, more than %d pixels on a side; cut it smaller", Quote(path), config.Width, config.Height, longestSide)
	}
	if len(data) < photo.kind.least(data, config.Width, config.Height) {
		return nil, damaged(path, photo.kind, io.ErrUnexpectedEOF)
	}
	if err := photo.kind.whole(data); err != nil {
		return nil, damaged(path, photo.kind, err)
	}
	if photo.kind == jpegKind {
		photo.Profile, err = jpegProfile(data)
	} else {
		photo.Profile, err = pngProfile(data)
	}
	if err != nil {
		return nil, fmt.Errorf("photos: %s: %w", Quote(path), err)
	}
	// Frames are RGB, and a PNG's profile has to be for what the PNG holds (PNG, 11.3.2.3). Bytes 16 to 19 of a
	// profile name its colours (ICC.1:2022, 7.2.8).
	if p := photo.Profile; p != nil && (len(p) < 20 || string(p[16:20]) != "RGB ") {
		return nil, fmt.Errorf("photos: %s: its colour profile is not for RGB; export it as an RGB photo", Quote(path))
	}
	photo.Orientation = orientation(data, photo.kind)
	photo.Size = image.Pt(config.Width, config.Height)
	if photo.Orientation >= 5 {
		photo.Size = image.Pt(config.Height, config.Width)
	}
	return photo, nil
}

// whole tells what can be known of damage without decoding: whether a file goes on to the end of its picture, and whether the
// bytes of a PNG are those that were written. It asks for nothing that the decoders do not ask for, too.
func (k kind) whole(data []byte) error {
	if k == jpegKind {
		// Within a scan the byte ff stands before a zero or a mark (ITU-T T.81, F.1.2.3), the end's being d9. Decoders pass
		// over bytes between segments that do not belong there; behind such the end may lie anywhere.
		scan, err := jpegSegments(data, func(byte, []byte) error { return nil })
		if scan == nil {
			scan = data
		}
		if err == nil && !bytes.Contains(scan, []byte("\xff\xd9")) {
			err = io.ErrUnexpectedEOF
		}
		return err
	}
	for at := len(pngfile.Signature); at+12 <= len(data); {
		length := int(binary.BigEndian.Uint32(data[at:]))
		if length < 0 || length > len(data)-at-12 {
			break
		}
		chunk, sum := data[at+4:at+8+length], data[at+8+length:]
		if crc32.ChecksumIEEE(chunk) != binary.BigEndian.Uint32(sum) {
			return errors.New("invalid checksum")
		}
		if string(chunk[:4]) == "IEND" {
			return nil
		}
		at += 12 + length
	}
	return io.ErrUnexpectedEOF
}

// least is the fewest bytes that can hold a picture of this size, so that a small file with a made-up header is refused before the
// decoder claims memory for it. A JPEG has a bit or more for each block of 8 by 8 (the shortest code of a DC difference, ITU-T
// T.81, F.1.2.1); deflate makes at most 1032 bytes of one (zlib.net, "Maximum compression factor").
func (k kind) least(data []byte, width, height int) int {
	if k == jpegKind {
		return ((width + 7) / 8) * ((height + 7) / 8) / 8
	}
	const depth, colour = 24, 25 // in the header, PNG 11.2.1; it was found to be sound
	samples := map[byte]int{2: 3, 4: 2, 6: 4}[data[colour]]
	return height * (1 + width*max(samples, 1)*int(data[depth])/8) / 1032
}

func otherKind(data []byte) string {
	if len(data) == 0 {
		return "empty"
	}
	for _, s := range signatures {
		if bytes.HasPrefix(data, []byte(s.magic)) {
			return s.name
		}
	}
	if len(data) > 12 && bytes.HasPrefix(data, []byte("RIFF")) && string(data[8:12]) == "WEBP" {
		return "a WebP"
	}
	if len(data) > 12 && string(data[4:8]) == "ftyp" {
		return "a HEIC, AVIF or a camera's raw file"
	}
	return "something else"
}

func damaged(path string, kind kind, err error) error {
	reason := strings.TrimPrefix(strings.TrimPrefix(err.Error(), "invalid JPEG format: "), "png: invalid format: ")
	if errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, io.EOF) {
		reason = "it ends too early"
	}
	return fmt.Errorf("photos: %s is a damaged %s (%s); copy or export it again", Quote(path), kind, reason)
}

// orientation is the EXIF orientation, 1 to 8; 1 when there is none or it can not be read.
func orientation(data []byte, kind kind) int {
	format := imagemeta.JPEG
	if kind == pngKind {
		format = imagemeta.PNG
	}
	value := 1
	// A photo with broken EXIF is still a photo: it is shown as it lies.
	imagemeta.Decode(imagemeta.Options{
		R: bytes.NewReader(data), ImageFormat: format, Sources: imagemeta.EXIF,
		ShouldHandleTag: func(tag imagemeta.TagInfo) bool { return tag.Tag == "Orientation" },
		HandleTag: func(tag imagemeta.TagInfo) error {
			if v, ok := tag.Value.(uint16); ok && v >= 1 && v <= 8 && tag.Namespace == "IFD0" {
				value = int(v)
			}
			return nil
		},
		Warnf: func(string, ...any) {},
	})
	return value
}

// Pixels decodes the photo to 8-bit RGB, all of it in memory. Its errors are Decode's.
func (p *Photo) Pixels() (*picture.Picture, error) {
	r, err := p.Decode()
	if err != nil {
		return nil, err
	}
	return picture.Whole(r), nil
}

// Decode decodes the photo as it is shown: turned as Orientation says, 16-bit samples rounded to the nearest of 8 bits,
// codes otherwise as they are. Most JPEG photos stay as their samples until they are read. It fails when the file is damaged, has transparent pixels, or has changed since Open.
func (p *Photo) Decode() (picture.Reader, error) {
	data, err := read(p.Path)
	if err != nil {
		return nil, err
	}
	if sha256.Sum256(data) != p.Digest {
		return nil, fmt.Errorf("photos: %s changed while it was being used; start again", Quote(p.Path))
	}
	var img image.Image
	if p.kind == jpegKind {
		img, err = jpeg.Decode(bytes.NewReader(data))
	} else {
		img, err = png.Decode(bytes.NewReader(data))
	}
	if err != nil {
		return nil, damaged(p.Path, p.kind, err)
	}
	if samples, ok := img.(*image.YCbCr); ok {
		if p.Orientation == 1 {
			return newPlanes(samples), nil
		}
		return turn(picture.Whole(newPlanes(samples)), p.Orientation), nil
	}
	pic, opaque := toRGB(img)
	if !opaque {
		return nil, fmt.Errorf("photos: %s has transparent parts; save it without transparency", Quote(p.Path))
	}
	return turn(pic, p.Orientation), nil
}

// toRGB copies an image to 8-bit RGB; 16-bit samples are rounded to the nearest of 8 bits. opaque is false
// when a pixel is not wholly opaque.
func toRGB(img image.Image) (pic *picture.Picture, opaque bool) {
	b := img.Bounds()
	pic = picture.New(b.Dx(), b.Dy())
	opaque = true
	for y := range pic.Height {
		row := pic.Row(y)
		switch img := img.(type) {
		case *image.NRGBA:
			opaque = copyRGBA(row, img.Pix[y*img.Stride:]) && opaque
		case *image.RGBA:
			opaque = copyRGBA(row, img.Pix[y*img.Stride:]) && opaque
		case *image.Gray:
			for x, v := range img.Pix[y*img.Stride:][:pic.Width] {
				row[3*x], row[3*x+1], row[3*x+2] = v, v, v
			}
		default: // 16-bit and palette PNGs
			for x := range pic.Width {
				c := color.NRGBA64Model.Convert(img.At(b.Min.X+x, b.Min.Y+y)).(color.NRGBA64)
				row[3*x], row[3*x+1], row[3*x+2] = round8(c.R), round8(c.G), round8(c.B)
				opaque = opaque && c.A == 0xffff
			}
		}
	}
	return pic, opaque
}

// copyRGBA leaves out every fourth byte, and tells whether all of these are 255. Two pixels at once take half the time.
func copyRGBA(row, pix []uint8) bool {
	pix = pix[:len(row)/3*4]
	alphas := ^uint64(0)
	for len(pix) >= 8 && len(row) >= 8 {
		two := binary.LittleEndian.Uint64(pix)
		alphas &= two
		binary.LittleEndian.PutUint64(row, two&0xffffff|two>>8&0xffffff000000) // and zeros into the next, which then come
		row, pix = row[6:], pix[8:]
	}
	opaque := uint8(alphas>>24) & uint8(alphas>>56)
	for len(pix) >= 4 && len(row) >= 3 {
		row[0], row[1], row[2] = pix[0], pix[1], pix[2]
		opaque &= pix[3]
		row, pix = row[3:], pix[4:]
	}
	return opaque == 255
}

// round8 is the nearest of 8 bits: 65535 = 255 x 257.
func round8(v uint16) uint8 { return uint8((uint32(v) + 128) / 257) }

// turn applies an EXIF orientation (EXIF 2.32, tag 0x0112).
func turn(pic *picture.Picture, orientation int) *picture.Picture {
	turns := map[int]func(image.Image) *image.NRGBA{
		2: imaging.FlipH, 3: imaging.Rotate180, 4: imaging.FlipV, 5: imaging.Transpose,
		6: imaging.Rotate270, 7: imaging.Transverse, 8: imaging.Rotate90,
	}
	apply := turns[orientation]
	if apply == nil {
		return pic
	}
	img := image.NewNRGBA(image.Rect(0, 0, pic.Width, pic.Height))
	for i := range pic.Width * pic.Height {
		copy(img.Pix[4*i:], pic.Pix[3*i:3*i+3])
		img.Pix[4*i+3] = 255
	}
	pic, _ = toRGB(apply(img))
	return pic
}
