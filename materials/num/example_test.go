package num_test

import (
	"fmt"
	"math"

	"meltload/materials/num"
)

// A bracketed root.
func Example() {
	x, err := num.Root(func(x float64) float64 { return math.Cos(x) - x }, 0, 1, 1e-12)
	fmt.Printf("%.6f %v\n", x, err)
	// Output: 0.739085 <nil>
}
