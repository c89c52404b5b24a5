package response_test

import (
	"fmt"

	"colonnade/analyze/levels"
	"colonnade/analyze/response"
	"colonnade/analyze/timing"
)

// A stroke that rings off: the column jumps to its top level in the frame in which the stroke sounds and comes down as
// the release lets it.
func ExampleLevels() {
	settings := response.Default()
	settings.Top = 5  // the highest level of the photos
	settings.Clip = 0 // the loudest frame is the top
	settings.Release = 80
	envelope := []float64{0, 0, 0.4, 0.2, 0.1, 0.05, 0, 0, 0, 0, 0, 0}

	rows, summaries := response.Levels([][]float64{envelope}, []response.Settings{settings}, timing.Rate{Num: 25, Den: 1}, false)
	var shown []levels.Level
	for _, row := range rows {
		shown = append(shown, row[0])
	}
	fmt.Println(shown)
	fmt.Printf("loudest %.1f, at level 0 for %.0f %% of the time\n", summaries[0].Loudest, 100*summaries[0].Share[0])
	// Output:
	// [0 0 5 5 3 3 1 1 1 1 0 0]
	// loudest 0.4, at level 0 for 33 % of the time
}
