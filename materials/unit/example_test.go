package unit_test

import (
	"fmt"

	"meltload/materials/unit"
)

// Edge units into SI.
func Example() {
	fmt.Printf("%.2f K, %.3f mm2, %.2f N\n", unit.Kelvin(215), unit.Disc(1.75*unit.MM)/unit.MM2, 7.5*unit.KGF)
	// Output: 488.15 K, 2.405 mm2, 73.55 N
}
