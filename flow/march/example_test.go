package march_test

import (
	"fmt"

	"meltload/flow"
	"meltload/flow/casefile"
	"meltload/flow/march"
	"meltload/materials/unit"
)

// The resolved solution of the built-in case at three flows.
func Example() {
	c := casefile.Invented()
	s := march.New(&c.Case, march.Options{})
	var d flow.Solution // reused from solve to solve: no allocation
	for _, q := range []float64{5, 10, 20} {
		if err := s.Solve(c.Block, q*unit.MM3, &d); err != nil {
			fmt.Println(err)
			return
		}
		fmt.Printf("%2.0f mm3/s: %.1f MPa, %.0f N, centre at the cone %.0f degC\n", q, d.Pressure/unit.MPa, d.Push,
			unit.Celsius(d.EntryCentre))
	}
	// Output:
	// 5 mm3/s: 5.7 MPa, 18 N, centre at the cone 203 degC
	// 10 mm3/s: 8.8 MPa, 27 N, centre at the cone 158 degC
	// 20 mm3/s: 14.2 MPa, 42 N, centre at the cone 83 degC
}
