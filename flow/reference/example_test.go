package reference_test

import (
	"fmt"

	"meltload/flow/reference"
)

// The pressure that drives 10 mm3/s of a power-law melt through a nozzle land. Worked by hand with the
// closed form of R. B. Bird et al., Dynamics of Polymeric Liquids vol. 1, ch. 4.
func ExamplePowerMelt_Tube() {
	dp, tau, rate := reference.PowerMelt{K: 6000, N: 0.5}.Tube(10e-9, 0.2e-3, 0.6e-3)
	fmt.Printf("%.3f MPa, wall stress %.0f kPa, wall rate %.0f 1/s\n", dp/1e6, tau/1e3, rate)
	// Output: 1.606 MPa, wall stress 268 kPa, wall rate 1989 1/s
}
