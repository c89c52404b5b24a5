package mark_test

import (
	"fmt"
	"image"
	"log"

	"colonnade/analyze/mark"
	"colonnade/compose/picture"
)

const width, height = 320, 240

// photograph draws two stacks of so many stones on a sill, each stone 40 pixels wide and 30 high.
func photograph(level int) (*picture.Picture, error) {
	photo := picture.New(width, height)
	for y := range height {
		row := photo.Row(y)
		for x := range width {
			code := uint8(90 + (x*7+y*13)%5) // a stage with some grain
			for _, left := range []int{60, 200} {
				if x >= left && x < left+40 && y < 220 && y >= 220-30*level {
					code = uint8(190 + (x+y)%7)
				}
			}
			row[3*x], row[3*x+1], row[3*x+2] = code, code, code
		}
	}
	return photo, nil
}

// Two stacks that grow by a stone from photo to photo are found, with the room that soft edges need.
func ExampleFind() {
	found, err := mark.Find(mark.Photos{Size: image.Pt(width, height), Count: 4, Load: photograph}, mark.Options{})
	if err != nil {
		log.Fatal(err)
	}
	for i, column := range found.Columns {
		minX, minY, maxX, maxY := column.Region.Bounds()
		fmt.Printf("column %d: top %d, x %.0f to %.0f, y %.0f to %.0f, feather %.1f\n",
			i+1, column.Top, minX, maxX, minY, maxY, column.Feather)
	}
	// Output:
	// column 1: top 3, x 53 to 107, y 123 to 227, feather 1.3
	// column 2: top 3, x 193 to 247, y 123 to 227, feather 1.3
}
