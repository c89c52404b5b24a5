package sequence_test

import (
	"bytes"
	"compress/zlib"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"log"
	"os"
	"path/filepath"

	"colonnade/analyze/levels"
	"colonnade/compose/pngfile"
	"colonnade/compose/sequence"
)

// A greyCoder makes frames of one pixel, as bright as the level of the only column. It is a Coder.
type greyCoder struct{}

func (greyCoder) Key(tuple []levels.Level) string {
	digest := sha256.Sum256([]byte(tuple[0].String()))
	return hex.EncodeToString(digest[:])
}

func (c greyCoder) Append(dst []byte, tuple []levels.Level) ([]byte, error) {
	grey := byte(tuple[0] / levels.One * 50)
	var picture bytes.Buffer
	deflater := zlib.NewWriter(&picture)
	deflater.Write([]byte{0, grey, grey, grey}) // a bytes.Buffer takes all
	deflater.Close()
	dst = pngfile.AppendHead(dst, 1, 1, pngfile.NewColour(nil), c.Key(tuple))
	dst = pngfile.AppendChunk(dst, "IDAT", picture.Bytes())
	return pngfile.AppendEnd(dst), nil
}

// Frames are written into a folder; what is there and right is kept; the folder is read again, whole.
func Example() {
	parent, err := os.MkdirTemp("", "frames")
	if err != nil {
		log.Fatal(err)
	}
	defer os.RemoveAll(parent)
	shown := []levels.Level{0, 2000, 1000, 0, 3000}
	options := sequence.Options{
		Folder: filepath.Join(parent, "frames"),
		First:  1, Last: 2, Count: len(shown),
		Tuple:    func(n int) []levels.Level { return shown[n-1 : n] },
		Coder:    greyCoder{},
		Describe: sequence.Description{Rate: "25/1", Width: 1, Height: 1, Columns: []string{"rumble"}},
		Repeats:  sequence.RepeatsWrite,
	}
	for _, last := range []int{2, 5} {
		options.Last = last
		done, err := sequence.Write(context.Background(), options)
		if err != nil {
			log.Fatal(err)
		}
		fmt.Println("written", done.Written+done.Repeated, "kept", done.Kept)
	}
	report, err := sequence.Verify(1, options.Folder)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(report.Frames, "of", report.Wanted, "frames, faults:", len(report.Faults))
	// Output:
	// written 2 kept 0
	// written 3 kept 2
	// 5 of 5 frames, faults: 0
}
