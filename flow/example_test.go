package flow_test

import (
	"fmt"

	"meltload/flow"
	"meltload/materials"
)

// The pressure that drives 10 mm3/s of a power-law melt through a nozzle land. Worked by hand with the
// closed form of R. B. Bird et al., Dynamics of Polymeric Liquids vol. 1, ch. 4.
func ExamplePowerTube() {
	dp, tau, rate := flow.PowerTube(6000, 0.5, 10e-9, 0.2e-3, 0.6e-3)
	fmt.Printf("%.3f MPa, wall stress %.0f kPa, wall rate %.0f 1/s\n", dp/1e6, tau/1e3, rate)
	// Output: 1.606 MPa, wall stress 268 kPa, wall rate 1989 1/s
}

// Scale a law to the melt flow rate of a data sheet.
func ExampleIndexer_ScaleToMFR() {
	abs, _ := materials.Get("abs")
	T := 220 + 273.15
	fmt.Printf("computed %.0f g/10 min\n", flow.ISO1133.MFR(abs, T, 10))
	v, factor := flow.ISO1133.ScaleToMFR(abs, T, 10, 6)
	abs.Viscosity = v
	fmt.Printf("after a factor of %.1f: %.1f g/10 min\n", factor, flow.ISO1133.MFR(abs, T, 10))
	// Output:
	// computed 29 g/10 min
	// after a factor of 4.8: 6.0 g/10 min
}
