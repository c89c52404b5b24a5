package levels_test

import (
	"fmt"
	"os"
	"strings"

	"colonnade/analyze/levels"
	"colonnade/analyze/timing"
)

// A table is written as CSV, here with one column halfway between two photos.
func ExampleTable_Write() {
	table := levels.Table{
		Rate:  timing.Rate{Num: 25, Den: 1},
		First: 1,
		Names: []string{"rumble", "hiss"},
		Rows: [][]levels.Level{
			{0, 2 * levels.One},
			{levels.One / 2, 3 * levels.One},
		},
	}
	if err := table.Write(os.Stdout); err != nil {
		fmt.Println(err)
	}
	// Output:
	// frame,time,rumble,hiss
	// 1,0.000000,0,2
	// 2,0.040000,0.5,3
}

// A table that went through a spreadsheet is read as well: semicolons, decimal commas, columns in another order.
func ExampleRead() {
	text := "frame;time;hiss;rumble\r\n1;0,000000;2;0\r\n2;0,040000;3;0,5\r\n"
	table, err := levels.Read("levels.csv", strings.NewReader(text), timing.Rate{Num: 25, Den: 1}, []string{"rumble", "hiss"}, 3)
	if err != nil {
		fmt.Println(err)
		return
	}
	for i, row := range table.Rows {
		fmt.Println("frame", table.First+i, table.Names, row)
	}

	// A level that the photos do not have is refused, by its place.
	_, err = levels.Read("levels.csv", strings.NewReader(text), timing.Rate{Num: 25, Den: 1}, []string{"rumble", "hiss"}, 2)
	fmt.Println(err)
	// Output:
	// frame 1 [rumble hiss] [0 2]
	// frame 2 [rumble hiss] [0.5 3]
	// levels.csv:3: column "hiss": 3 is above the highest level 2; lower it, or add the photos that it needs
}
