package pngfile

import (
	"bytes"
	"compress/zlib"
	"errors"
	"hash/crc32"
	"image"
	"image/color"
	"image/png"
	"io"
	"strings"
	"testing"
	"testing/iotest"
)

const testKey = "0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef"

const testWidth, testHeight = 9, 5

// rows are a picture's bytes before they are deflated: each row its filter and its pixels.
func rows() []byte {
	var all []byte
	for y := range testHeight {
		all = append(all, byte(y%5))
		for x := range 3 * testWidth {
			all = append(all, byte(x*y))
		}
	}
	return all
}

func deflate(data []byte) []byte {
	var out bytes.Buffer
	w := zlib.NewWriter(&out)
	w.Write(data)
	w.Close()
	return out.Bytes()
}

// frame is a whole frame whose picture is cut into chunks of the lengths given, the rest in the last.
func frame(colour Colour, key string, picture []byte, lengths ...int) []byte {
	f := AppendHead(nil, testWidth, testHeight, colour, key)
	for _, n := range lengths {
		f = AppendChunk(f, "IDAT", picture[:n])
		picture = picture[n:]
	}
	f = AppendChunk(f, "IDAT", picture)
	return AppendEnd(f)
}

func TestWholeFramesPass(t *testing.T) {
	profile := make([]byte, 3000)
	for i := range profile {
		profile[i] = byte(i * i >> 3)
	}
	picture := deflate(rows())
	checker := NewChecker() // one for all: nothing of one file may reach into the next
	for name, data := range map[string][]byte{
		"sRGB":                       frame(NewColour(nil), testKey, picture),
		"a profile":                  frame(NewColour(profile), testKey, picture),
		"a picture in many chunks":   frame(NewColour(nil), testKey, picture, 0, 1, 5, 0, 10),
		"an empty chunk at the end":  frame(NewColour(nil), testKey, picture, len(picture)),
		"a checksum chunk by itself": frame(NewColour(nil), testKey, picture, len(picture)-4),
	} {
		for kind, r := range map[string]io.Reader{"at once": bytes.NewReader(data), "byte by byte": iotest.OneByteReader(bytes.NewReader(data))} {
			f, err := checker.Check(r)
			if err != nil || f != (Frame{testWidth, testHeight, testKey, int64(len(data))}) {
				t.Errorf("%s, %s: %+v, %v", name, kind, f, err)
			}
		}
		if key, err := ReadKey(bytes.NewReader(data)); err != nil || key != testKey {
			t.Errorf("%s: key %q, %v", name, key, err)
		}
	}
}

// The other side is Go's own encoder, image/png.
func TestPictureOfAnotherEncoderPassesWithoutAKey(t *testing.T) {
	picture := image.NewRGBA(image.Rect(0, 0, 300, 200))
	for i := range picture.Pix {
		picture.Pix[i] = byte(i * i >> 5)
		if i%4 == 3 {
			picture.Pix[i] = 255
		}
	}
	var data bytes.Buffer
	if err := png.Encode(&data, picture); err != nil {
		t.Fatal(err)
	}
	f, err := NewChecker().Check(bytes.NewReader(data.Bytes()))
	if err != nil || f != (Frame{300, 200, "", int64(data.Len())}) {
		t.Errorf("%+v, %v", f, err)
	}
	if _, err := ReadKey(bytes.NewReader(data.Bytes())); !errors.Is(err, ErrForeign) {
		t.Errorf("its key: %v", err)
	}
}

func TestEveryFlippedBitIsFound(t *testing.T) {
	data := frame(NewColour(nil), testKey, deflate(rows()), 20)
	checker := NewChecker()
	for at := range data {
		for bit := range 8 {
			data[at] ^= 1 << bit
			if _, err := checker.Check(bytes.NewReader(data)); err == nil {
				t.Errorf("bit %d of byte %d", bit, at)
			}
			data[at] ^= 1 << bit
		}
	}
}

func TestEveryCutIsFound(t *testing.T) {
	data := frame(NewColour(nil), testKey, deflate(rows()), 20)
	checker := NewChecker()
	for length := range data {
		if _, err := checker.Check(bytes.NewReader(data[:length])); err == nil {
			t.Errorf("cut to %d bytes", length)
		}
		if key, err := ReadKey(bytes.NewReader(data[:length])); err != nil && !errors.Is(err, ErrDamaged) {
			t.Errorf("cut to %d bytes: key %q, %v", length, key, err)
		}
	}
}

func TestFaultsAreNamed(t *testing.T) {
	picture := deflate(rows())
	good := frame(NewColour(nil), testKey, picture)
	head := AppendHead(nil, testWidth, testHeight, NewColour(nil), testKey)
	body := func(chunks ...[]byte) []byte { return append(bytes.Clone(head), bytes.Join(chunks, nil)...) }
	chunk := func(kind string, data []byte) []byte { return AppendChunk(nil, kind, data) }
	end := AppendEnd(nil)
	badFilter := rows()
	badFilter[2*(3*testWidth+1)] = 5
	badSum := bytes.Clone(picture)
	badSum[len(badSum)-1] ^= 1
	header := func(data ...byte) []byte { return append([]byte(Signature), chunk("IHDR", data)...) }
	for says, data := range map[string][]byte{
		"it breaks off at byte 0":             nil,
		"it is not a PNG file":                []byte("slate and granite"),
		"it breaks off at byte 100":           good[:100],
		"its first chunk is not a PNG header": append([]byte(Signature), chunk("tEXt", []byte("a"))...),
		"its header says 0 x 1 pixels":        header(0, 0, 0, 0, 0, 0, 0, 1, 8, 2, 0, 0, 0),
		"its header says another kind of picture than 8-bit RGB without interlace": header(0, 0, 0, 1, 0, 0, 0, 1, 16, 2, 0, 0, 0),
		"bytes follow its end at byte 347":                                         append(bytes.Clone(good), 'x'),
		"chunk IEND at byte 196 stands where the picture should":                   body(end),
		"chunk PLTE at byte 196 stands where the picture should":                   body(chunk("PLTE", nil), end),
		"chunk ABCD at byte 196 has no place in a frame":                           body(chunk("ABCD", nil), end),
		"chunk tEXt at byte 335 stands where the file should end":                  body(chunk("IDAT", picture), chunk("tEXt", []byte("a\x00b")), end),
		"no chunk begins at byte 196":                                              body(make([]byte, 8)),
		"a row of its picture has filter 5, which is none":                         body(chunk("IDAT", deflate(badFilter)), end),
		"its picture does not inflate: zlib: invalid checksum":                     body(chunk("IDAT", badSum), end),
		"its picture has 112 bytes, 140 wanted":                                    body(chunk("IDAT", deflate(rows()[:112])), end),
		"its picture has more than 140 bytes":                                      body(chunk("IDAT", deflate(append(rows(), 0))), end),
		"3 bytes of its picture chunk follow the picture":                          body(chunk("IDAT", append(bytes.Clone(picture), 1, 2, 3)), end),
		"1 bytes of its picture chunk follow the picture":                          body(chunk("IDAT", picture), chunk("IDAT", []byte{1}), end),
		"its key is not one of 64 hexadecimal digits":                              body(chunk("tEXt", []byte(KeyWord+"\x00"+testKey)), chunk("IDAT", picture), end),
		"chunk tEXt before byte 196 fails its checksum":                            bytes.Replace(good, []byte(testKey), []byte(strings.Repeat("0", KeyLength)), 1),
	} {
		_, err := NewChecker().Check(bytes.NewReader(data))
		var fault Fault
		if !errors.As(err, &fault) || err.Error() != says {
			t.Errorf("got  %v\nwant %s", err, says)
		}
	}
}

func TestErrorOfReadingIsNoFault(t *testing.T) {
	data := frame(NewColour(nil), testKey, deflate(rows()))
	broken := errors.New("the disk hums")
	for _, length := range []int{3, 60, len(data) - 30, len(data)} {
		_, err := NewChecker().Check(io.MultiReader(bytes.NewReader(data[:length]), iotest.ErrReader(broken)))
		if !errors.Is(err, broken) {
			t.Errorf("after %d bytes: %v", length, err)
		}
	}
}

func TestFilesWithoutOurKeyAreForeignOrDamaged(t *testing.T) {
	head := AppendHead(nil, 1, 1, NewColour(nil), testKey)
	for name, c := range map[string]struct {
		data string
		err  error
	}{
		"empty":              {"", ErrDamaged},
		"zeros":              {strings.Repeat("\x00", 5000), ErrDamaged},
		"a block of zeros":   {strings.Repeat("\x00", 512) + "stones", ErrDamaged},
		"a few zeros":        {strings.Repeat("\x00", 511) + "stones", ErrForeign},
		"half a signature":   {Signature[:4], ErrDamaged},
		"text":               {"stones", ErrForeign},
		"zeros after a head": {string(head[:60]) + strings.Repeat("\x00", 5000), ErrDamaged},
		"a key of capitals":  {string(AppendHead(nil, 1, 1, NewColour(nil), strings.ToUpper(testKey))), ErrDamaged},
		"many chunks":        {Signature + string(AppendChunk(nil, "IHDR", make([]byte, 13))) + strings.Repeat(string(AppendChunk(nil, "tEXt", []byte("a\x00b"))), 100), ErrForeign},
	} {
		if key, err := ReadKey(strings.NewReader(c.data)); !errors.Is(err, c.err) {
			t.Errorf("%s: %q, %v", name, key, err)
		}
	}
	broken := errors.New("the disk hums")
	if _, err := ReadKey(brokenAt{broken}); !errors.Is(err, broken) {
		t.Errorf("%v", err)
	}
}

type brokenAt struct{ err error }

func (b brokenAt) ReadAt([]byte, int64) (int, error) { return 0, b.err }

// FuzzChecker holds the checker against Go's own decoder, which takes all that the checker takes, and the key
// reader against the checker.
func FuzzChecker(f *testing.F) {
	picture := deflate(rows())
	f.Add(frame(NewColour(nil), testKey, picture))
	f.Add(frame(NewColour(make([]byte, 2000)), testKey, picture, 3, 0, 7))
	f.Add([]byte(Signature))
	f.Add(make([]byte, 600))
	f.Fuzz(func(t *testing.T, data []byte) {
		mend(data)
		key, keyErr := ReadKey(bytes.NewReader(data))
		if keyErr == nil && !IsKey(key) {
			t.Fatalf("key %q", key)
		}
		checked, err := NewChecker().Check(bytes.NewReader(data))
		if err != nil {
			return
		}
		if checked.Size != int64(len(data)) {
			t.Fatalf("size %d of %d", checked.Size, len(data))
		}
		if keyErr == nil && key != checked.Key {
			t.Fatalf("key %q read, %q checked", key, checked.Key)
		}
		if checked.Width > 1000 || checked.Height > 1000 {
			return
		}
		decoded, err := png.Decode(bytes.NewReader(data))
		if err != nil {
			t.Fatalf("the decoder says %v", err)
		}
		if size := decoded.Bounds().Size(); size != (image.Point{checked.Width, checked.Height}) || decoded.ColorModel() != color.RGBAModel {
			t.Fatalf("%v, %+v", size, checked)
		}
	})
}

// mend makes the checksums of chunks right, so that fuzzing gets behind them.
func mend(data []byte) {
	for at := len(Signature); at+12 <= len(data); {
		length := int(uint32(data[at])<<24 | uint32(data[at+1])<<16 | uint32(data[at+2])<<8 | uint32(data[at+3]))
		if length > len(data)-at-12 {
			return
		}
		sum := crc32.ChecksumIEEE(data[at+4 : at+8+length])
		copy(data[at+8+length:], []byte{byte(sum >> 24), byte(sum >> 16), byte(sum >> 8), byte(sum)})
		at += 12 + length
	}
}

func BenchmarkCheck(b *testing.B) {
	picture := image.NewRGBA(image.Rect(0, 0, 1920, 1080))
	state := uint32(1)
	for i := range picture.Pix {
		state = state*1664525 + 1013904223
		picture.Pix[i] = byte(i>>8) + byte(state>>29)
		if i%4 == 3 {
			picture.Pix[i] = 255
		}
	}
	var data bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(&data, picture); err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(data.Len()))
	checker := NewChecker()
	for b.Loop() {
		if _, err := checker.Check(bytes.NewReader(data.Bytes())); err != nil {
			b.Fatal(err)
		}
	}
}
