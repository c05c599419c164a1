package feeder_test

import (
	"fmt"

	"meltload/flow/feeder"
)

// What a feeder holds between two measured speeds, and that the word is out beyond them.
func Example() {
	f, err := feeder.New(feeder.Feeder{Name: "bench", Points: []feeder.Point{
		{Speed: 2e-3, Force: 74, Cause: feeder.Grind, Repeats: 2, SD: 3},
		{Speed: 12e-3, Force: 57, Cause: feeder.Skip, Repeats: 2, SD: 3},
	}})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, v := range []float64{2e-3, 7e-3, 20e-3} {
		k := f.At(v)
		fmt.Printf("%.0f mm/s: %.0f N, %s, extrapolated %v\n", v*1e3, k.Force, k.Cause, k.Extrapolated)
	}
	// Output:
	// 2 mm/s: 74 N, grind, extrapolated false
	// 7 mm/s: 66 N, skip, extrapolated false
	// 20 mm/s: 57 N, skip, extrapolated true
}
