package pngfile_test

import (
	"bytes"
	"compress/zlib"
	"fmt"
	"log"
	"strings"

	"colonnade/compose/pngfile"
)

// A frame is a head, the picture's chunk and an end. Its key is read back without reading the picture, and a bit that
// has changed is found anywhere in the file.
func Example() {
	key := strings.Repeat("0123456789abcdef", 4)
	var picture bytes.Buffer
	deflater := zlib.NewWriter(&picture)
	deflater.Write([]byte{0, 255, 0, 0, 0, 0, 255}) // a row: no filter, a red pixel, a blue one
	deflater.Close()

	file := pngfile.AppendHead(nil, 2, 1, pngfile.NewColour(nil), key)
	file = pngfile.AppendChunk(file, "IDAT", picture.Bytes())
	file = pngfile.AppendEnd(file)

	read, err := pngfile.ReadKey(bytes.NewReader(file))
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println("its own key:", read == key)

	checker := pngfile.NewChecker()
	frame, err := checker.Check(bytes.NewReader(file))
	fmt.Println("whole:", frame.Width, "x", frame.Height, err)

	file[bytes.Index(file, []byte(key))] ^= 1
	_, err = checker.Check(bytes.NewReader(file))
	fmt.Println("changed:", err)
	// Output:
	// its own key: true
	// whole: 2 x 1 <nil>
	// changed: chunk tEXt before byte 196 fails its checksum
}
