package timing_test

import (
	"fmt"
	"math/big"

	"colonnade/analyze/timing"
)

// A film rate is an exact ratio, so a song of four minutes ends on the same frame however it is counted.
func ExampleRate() {
	rate, err := timing.ParseRate("23.976")
	if err != nil {
		fmt.Println(err)
		return
	}
	count := rate.FrameCount(4*60*44100, 44100)
	fmt.Println(rate, "frames a second,", count, "frames")
	fmt.Printf("the last begins at %.6f s\n", rate.Start(count))
	fmt.Println("frame at one minute:", rate.FrameAt(big.NewRat(60, 1)))
	// Output:
	// 24000/1001 frames a second, 5755 frames
	// the last begins at 239.989750 s
	// frame at one minute: 1439
}

// Times are exact too: a tenth of a second is a tenth.
func ExampleParseTime() {
	t, err := timing.ParseTime("1:02.5")
	fmt.Println(t, err)
	_, err = timing.ParseTime("1:75")
	fmt.Println(err)
	// Output:
	// 125/2 <nil>
	// time "1:75" is not understood; write seconds as 62.5 or minutes as 1:02.5
}
