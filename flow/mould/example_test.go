package mould_test

import (
	"fmt"

	"meltload/flow/mould"
)

// How much filament of 1.75 mm a mould of 4 cm3 takes, and how long at 20 mm3/s.
func ExampleShot() {
	length, t := mould.Shot(4e-6, 1.75e-3, 20e-9)
	fmt.Printf("%.2f m of filament, %.0f s\n", length, t)
	// Output: 1.66 m of filament, 200 s
}
