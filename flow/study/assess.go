package study

import (
	"context"

	"meltload/flow/setup"
)

// Quick are the samples of a plain assessment: enough for two digits, too few for rare limits.
const Quick = 256

// AssessOptions choose what Assess computes; the zero value is what the command does.
type AssessOptions struct {
	Options
	Samples int    // of what is not known; 0 for Quick, -1 for as many as the set-up says
	Seed    uint64 // 0 for the set-up's
	// N, push that the temperatures to set at each flow hold; 0 for what the feeder holds over the safety factor
	HoldForce float64
	Progress  func(done float64)
}

// Assess finds the highest usable flow of a case and what limits it, the view over all block temperatures, what one
// change at a time would gain, the temperature to set at each flow, and the likely range, given what is not known. The
// lumped solver gives no range. Errors: strict.Problems of a case that cannot be computed, a solver that is not there,
// a cancelled context.
func Assess(ctx context.Context, c *setup.Setup, o AssessOptions) (*Result, error) {
	r, err := Run(c, o.Options)
	if err != nil {
		return nil, err
	}
	if err := r.FindGains(c); err != nil {
		return nil, err
	}
	if err := r.FindSetPoints(c, o.HoldForce); err != nil {
		return nil, err
	}
	if r.Solver != "marching" {
		return r, nil
	}
	samples, seed := o.sampling(c)
	return r, r.Spread(ctx, c, samples, seed, o.Progress)
}

// sampling is how often what is not known about a case is sampled, and the seed.
func (o AssessOptions) sampling(c *setup.Setup) (samples int, seed uint64) {
	samples, seed = o.Samples, o.Seed
	switch samples {
	case 0:
		samples = Quick
	case -1:
		samples = c.Samples
	}
	if seed == 0 {
		seed = c.Seed
	}
	return samples, seed
}
