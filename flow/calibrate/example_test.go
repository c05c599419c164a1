package calibrate_test

import (
	"context"
	"fmt"

	"meltload/flow/calibrate"
	"meltload/flow/casefile"
	"meltload/materials/unit"
)

// The level of viscosity from five invented pushes.
func Example() {
	c := casefile.Invented()
	var pushes []calibrate.Point // invented
	for _, x := range [][3]float64{{195, 3, 15.5}, {195, 8, 31}, {215, 5, 15}, {215, 15, 36}, {225, 20, 40}} {
		pushes = append(pushes, calibrate.Point{Block: unit.Kelvin(x[0]), Flow: x[1] * unit.MM3, Force: x[2]})
	}
	r, err := calibrate.Fit(context.Background(), &c.Case, pushes, calibrate.Settings{Factors: []calibrate.Factor{calibrate.Level}})
	if err != nil {
		fmt.Println(err)
		return
	}
	v := r.Values[0]
	fmt.Printf("%s %.2f (%.2f to %.2f), known %v; mean error %.1f %%\n", v.Factor, v.Value, v.Low, v.High, v.Known, 100*r.Mean)
	// Output: viscosity level 1.70 (1.30 to 2.23), known true; mean error 6.6 %
}
