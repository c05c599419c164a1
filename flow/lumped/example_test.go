package lumped_test

import (
	"fmt"

	"meltload/flow"
	"meltload/flow/casefile"
	"meltload/flow/lumped"
	"meltload/materials/unit"
)

// The quick estimate of the built-in case at 10 mm3/s.
func Example() {
	c := casefile.Invented()
	var d flow.Solution
	if err := lumped.New(&c.Case).Solve(c.Block, 10*unit.MM3, &d); err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.1f MPa, %.0f N\n", d.Pressure/unit.MPa, d.Push)
	// Output: 8.7 MPa, 27 N
}
