package assess

import (
	"meltload/flow"
	"meltload/flow/march"
	"meltload/flow/setup"
)

// StrengthFactor is within which factor, either way, the strength of unmelted stock against temperature is known;
// assumed.
const StrengthFactor = 2.0

// StockStrength returns the push (N) at the flow q (m3/s) and the block temperature of a set-up for stock of its
// strength over StrengthFactor and times it. It tells how much an answer depends on the strength where the core enters
// the cone unmelted; elsewhere both are the push itself. Errors: of the solver.
func StockStrength(s *setup.Setup, q float64) (weak, strong float64, err error) {
	var push [2]float64
	for i, factor := range []float64{1 / StrengthFactor, StrengthFactor} {
		c := s.Case
		c.Material = s.Material.WithStrength(factor)
		var d flow.Solution
		if err := march.New(&c, march.Options{}).Solve(s.Block, q, &d); err != nil {
			return 0, 0, err
		}
		push[i] = d.Push
	}
	return push[0], push[1], nil
}
