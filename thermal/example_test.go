package thermal_test

import (
	"fmt"
	"math"

	"meltload/thermal"
)

// How far a rod of 1.75 mm has to travel at 4 mm/s along a wall that holds its surface at the wall's temperature until
// the axis has come half of the way: the series of Carslaw and Jaeger.
func Example() {
	const alpha, radius, speed = 1e-7, 0.875e-3, 4e-3 // m2/s, m, m/s
	c := thermal.NewCylinder(math.Inf(1))
	fo := c.FourierForCentre(0.5)
	fmt.Printf("Fourier number %.4f, section mean still %.3f of the way from the wall\n", fo, c.Mean(fo))
	fmt.Printf("length %.1f mm\n", fo*radius*radius/alpha*speed*1e3)
	// Output:
	// Fourier number 0.2005, section mean still 0.217 of the way from the wall
	// length 6.1 mm
}
