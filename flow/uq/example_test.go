package uq_test

import (
	"context"
	"fmt"

	"meltload/flow/uq"
)

// The spread of a pressure that goes with the viscosity over the fourth power of the bore.
func Example() {
	in := []uq.Input{uq.LogNormal("level", "within a factor 1.5 (two sd)", 1, 1.5),
		uq.Normal("bore", "two sd are 0.02 mm", 0.4, 0.01)}
	out, err := uq.Run(context.Background(), uq.Draw(in, 4096, 1), func() func(x []float64) []float64 {
		return func(x []float64) []float64 { return []float64{x[0] / (x[1] * x[1] * x[1] * x[1])} } // Poiseuille
	}, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	q := uq.Quantiles(uq.Column(out, 0), 0.05, 0.5, 0.95)
	fmt.Printf("low %.1f, middle %.1f, high %.1f\n", q[0], q[1], q[2])
	// Output: low 26.9, middle 39.1, high 56.6
}
