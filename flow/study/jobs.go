package study

import (
	"context"
	"fmt"

	"meltload/flow/setup"
	"meltload/flow/transient"
	"meltload/materials/strict"
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

// TraceOptions describe a run in time: a soaked start, a feed, and then, if asked, the heater off or the set point
// ramped until the feeder fails.
type TraceOptions struct {
	Flow      float64 // m3/s; 0 for the flow that the case wants
	Feed      float64 // s at constant block temperature
	HeaterOff bool    // after the feed
	Ramp      float64 // K/s, change of the set point after the feed; not with HeaterOff
	Then      float64 // s, longest time of heater off or ramp
	Column    float64 // m, loaded filament between gear and melt, for the elastic lag
}

// phases are the parts of the run.
func (o TraceOptions) phases() []transient.Phase {
	out := []transient.Phase{{Name: "feed", Duration: o.Feed, Flow: o.Flow}}
	switch {
	case o.HeaterOff:
		out = append(out, transient.Phase{Name: "heater off", Duration: o.Then, Flow: o.Flow, Heating: transient.Off})
	case o.Ramp != 0:
		out = append(out, transient.Phase{Name: "ramp", Duration: o.Then, Flow: o.Flow, Heating: transient.Ramp,
			Rate: o.Ramp})
	}
	return out
}

// Trace plays a run in time on a case, as it is and at both ends of what is not known.
// Errors: strict.Problems of options that contradict each other, no flow in options and case, a cancelled context.
func Trace(ctx context.Context, c *setup.Setup, o TraceOptions) (*TraceResult, error) {
	if err := c.Validate(); err != nil {
		return nil, err
	}
	if o.Flow == 0 {
		o.Flow = c.Target
	}
	var ps strict.Problems
	bad := func(field, seen, allowed string) {
		ps = append(ps, strict.Problem{Field: field, Seen: seen, Allowed: allowed})
	}
	if !(o.Flow > 0) {
		bad("Flow", fmt.Sprint(o.Flow), "more than 0, or a case with a wanted flow")
	}
	if !(o.Feed > 0) {
		bad("Feed", fmt.Sprint(o.Feed), "more than 0 s")
	}
	if o.HeaterOff && o.Ramp != 0 {
		bad("HeaterOff and Ramp", fmt.Sprint(o.Ramp), "one of them")
	}
	if (o.HeaterOff || o.Ramp != 0) && !(o.Then > 0) {
		bad("Then", fmt.Sprint(o.Then), "more than 0 s")
	}
	if len(ps) > 0 {
		return nil, ps
	}
	return play(ctx, c, o)
}
