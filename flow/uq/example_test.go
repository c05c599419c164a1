package uq_test

import (
	"context"
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"meltload/flow/uq"
)

// The spread of a pressure that goes with the viscosity over the fourth power of the bore.
func Example() {
	factor := func(p float64) float64 { // of the viscosity: within 1.5 either way, two standard deviations
		return math.Exp(math.Log(1.5) / 2 * distuv.UnitNormal.Quantile(p))
	}
	bore := distuv.Normal{Mu: 0.4, Sigma: 0.01} // mm
	samples := make([][]float64, 4096)
	points := uq.Points(len(samples), 2, 1)
	for i := range samples {
		samples[i] = []float64{factor(points.At(i, 0)), bore.Quantile(points.At(i, 1))}
	}
	out, err := uq.Run(context.Background(), samples, func() func(x []float64) []float64 {
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
