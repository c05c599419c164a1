package duct_test

import (
	"fmt"

	"meltload/flow/duct"
	"meltload/materials"
)

// The pressure that drives PLA of 490 K through a land of 0.4 mm, 0.6 mm long, at one temperature, and the same in a
// rectangular runner of the same area.
func Example() {
	pla, err := materials.Get("pla")
	if err != nil {
		fmt.Println(err)
		return
	}
	law := duct.At(&pla.Viscosity, 490, 0) // shear rate over stress, at 490 K and no pressure
	const q, length = 10e-9, 0.6e-3        // m3/s, m
	tube := law.TubeDrop(q, 0.2e-3, length)
	side := duct.Rectangle(0.3545e-3, 0.3545e-3) // m
	square := side.Drop(law, q, length)
	fmt.Printf("tube %.2f MPa, wall stress %.0f kPa\n", tube/1e6, law.TubeStress(q, 0.2e-3)/1e3)
	fmt.Printf("square: %.2f times as much\n", square/tube)
	// Output:
	// tube 1.85 MPa, wall stress 308 kPa
	// square: 1.12 times as much
}
