package reference_test

import (
	"fmt"

	"meltload/thermal/reference"
)

// The thermal entrance of a tube: Nusselt numbers of the Graetz problem (3.657 when developed), and how much of the
// temperature difference is left.
func Example() {
	g := reference.NewGraetz(1, 40)
	local, _ := g.Nusselt(0.05)
	fmt.Printf("developed %.3f, at x* = 0.05 %.3f\n", g.NusseltDeveloped(), local)
	fmt.Printf("mixing cup still %.3f of the way from the wall\n", g.MixingCup(0.05))
	// Output:
	// developed 3.657, at x* = 0.05 3.710
	// mixing cup still 0.395 of the way from the wall
}
