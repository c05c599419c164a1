package reference_test

import (
	"fmt"

	"meltload/flow/reference"
)

// A disc of 30 mm, 1.5 mm thick, gated over 2 mm and filled with 20 mm3/s of a power-law melt of 6000 Pa s^0.5
// (invented).
func ExamplePowerMelt_Disc() {
	d := reference.PowerMelt{K: 6000, N: 0.5}.Disc(1.5e-3, 1e-3, 15e-3, 20e-9)
	fmt.Printf("%.3f MPa at the gate, %.1f N to hold it shut, full after %.0f s\n", d.Pressure/1e6, d.Force, d.Time)
	// Output: 0.155 MPa at the gate, 29.4 N to hold it shut, full after 53 s
}
