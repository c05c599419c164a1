package rheometry_test

import (
	"fmt"

	"meltload/flow/rheometry"
	"meltload/materials"
)

// Scale a law to the melt flow rate of a data sheet.
func ExampleIndexer_ScaleToMFR() {
	abs, _ := materials.Get("abs")
	T := 220 + 273.15
	fmt.Printf("computed %.0f g/10 min\n", rheometry.ISO1133.MFR(abs, T, 10))
	v, factor := rheometry.ISO1133.ScaleToMFR(abs, T, 10, 6)
	abs.Viscosity = v
	fmt.Printf("after a factor of %.1f: %.1f g/10 min\n", factor, rheometry.ISO1133.MFR(abs, T, 10))
	// Output:
	// computed 14 g/10 min
	// after a factor of 2.3: 6.0 g/10 min
}
