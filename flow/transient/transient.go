// Package transient plays a bench run in time: soaked start, feed, plateau on
// molten stock, rise as cold stock arrives, steady force, and a stepped or ramped block or a heater
// switched off until the feeder's limit is met.
//
// Heat is unsteady on the marching solver's discretisation, momentum
// quasi-steady; the block follows its energy balance; the elastic storage of
// column, drive and melt lags the pressure by one first-order time constant.
package transient

import (
	"context"
	"fmt"
	"math"

	"meltload/flow"
	"meltload/flow/feeder"
	"meltload/flow/march"
	"meltload/materials"
	"meltload/materials/unit"
)

// Heating says what the heater does during a phase.
type Heating int

// The ways of heating.
const (
	Hold Heating = iota // keep the set temperature, as far as the power reaches
	Ramp                // move the set temperature at Rate
	Off                 // no power
)

// Phase is one part of a run.
type Phase struct {
	Name     string
	Duration float64 // s
	Flow     float64 // m3/s of filament, 0 for standing melt
	Heating  Heating
	Set      float64 // K, set temperature at the start of the phase; 0 keeps the last
	Rate     float64 // K/s, Ramp
}

// Run is a bench run.
type Run struct {
	Case   *flow.Case
	Feeder *feeder.Feeder // nil for no limit
	Block  float64        // K at the start, melt zone soaked
	Phases []Phase
	Step   float64 // s; 0 chooses a sixtieth of the stay at the fastest feed, at most 0.5 s
	// Column is the length of loaded filament (m) and Stiffness that of drive and frame (N/m, 0 for rigid): with
	// the melt's compressibility they make the elastic lag.
	Column, Stiffness float64
	// Stop ends the run at the feeder's first failure.
	Stop bool
}

// Sample is the state at one time.
type Sample struct {
	Time       float64 // s
	Block      float64 // K
	Flow       float64 // m3/s fed
	Force      float64 // N at the feeder, lag included
	Steady     float64 // N at the feeder without lag
	Pressure   float64 // Pa
	ExitMix    float64 // K
	Centre     float64 // K at the cone entry
	Heater     float64 // W drawn
	Capability float64 // N, 0 if no feeder
	Phase      int
}

// Failure is the first time the load met the feeder's capability.
type Failure struct {
	Time, Block, Force float64
	Cause              feeder.Cause
	Phase              int
}

// Trace is the result of a run.
type Trace struct {
	Samples  []Sample
	Failure  *Failure
	Lag      []float64 // s, time constant of each phase
	Warnings []materials.Warning
	// Balance is the largest error of heater power against losses, melt and block heat, relative to the power.
	Balance float64
}

// stepsPerStay is the number of time steps in which the melt zone is fed once: the march is of first order in time, and coarser steps smear the rise.
const stepsPerStay = 60

// standing is the flow that stands for none: a melt-zone volume in hours.
const standing = 1e-12

// check returns an error that names the field where the run leaves out what Play divides by or looks up.
func (r *Run) check() error {
	c := r.Case
	switch {
	case c == nil || c.Material == nil:
		return fmt.Errorf("transient: Case: no case or no material; both are needed")
	case !(c.HotEnd.Block.Capacity > 0):
		return fmt.Errorf("transient: Case.HotEnd.Block.Capacity: %g J/K; more than 0 is needed, for how fast the block changes", c.HotEnd.Block.Capacity)
	case r.Column > 0 && len(c.Material.Modulus.T) == 0:
		return fmt.Errorf("transient: Case.Material.Modulus: %s has none; give one (Pa), or leave Column 0 for a rigid filament", c.Material.ID)
	case !(r.Column >= 0) || math.IsInf(r.Column, 0):
		return fmt.Errorf("transient: Column: %g m; 0 or more is needed", r.Column)
	case !(r.Stiffness >= 0):
		return fmt.Errorf("transient: Stiffness: %g N/m; 0 (rigid) or more is needed", r.Stiffness)
	case !(r.Step >= 0) || math.IsInf(r.Step, 0):
		return fmt.Errorf("transient: Step: %g s; 0 (chosen) or more is needed", r.Step)
	}
	return flow.CheckInput(r.Block, standing)
}

// Play computes the trace. A field that is missing or out of range is an error that names it.
func (r *Run) Play(ctx context.Context) (*Trace, error) {
	if err := r.check(); err != nil {
		return nil, err
	}
	c := r.Case
	fastest := 0.0
	for i, p := range r.Phases {
		switch {
		case !(p.Duration > 0) || math.IsInf(p.Duration, 0):
			return nil, fmt.Errorf("transient: phase %d: a duration of %g s; more than 0 is needed", i+1, p.Duration)
		case p.Flow < 0 || math.IsNaN(p.Flow):
			return nil, fmt.Errorf("transient: phase %d: a flow of %g mm3/s; 0 or more is needed", i+1, p.Flow/unit.MM3)
		}
		fastest = math.Max(fastest, p.Flow)
	}
	dt := r.Step
	if dt == 0 {
		dt = 0.5
		if fastest > 0 {
			dt = math.Min(dt, c.HotEnd.Volume()/fastest/stepsPerStay)
		}
	}
	s := march.New(c, march.Options{})
	s.Soak(r.Block)
	out := &Trace{}
	var d flow.Solution
	block, set, now, force := r.Block, r.Block, 0.0, 0.0
	cap := c.HotEnd.Block.Capacity
	for i, p := range r.Phases {
		if p.Set > 0 {
			set = p.Set
		}
		lag := r.lag(block, p.Flow)
		out.Lag = append(out.Lag, lag)
		steps := int(math.Ceil(p.Duration/dt - 1e-9))
		for k := range steps {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			h := math.Min(dt, p.Duration-float64(k)*dt)
			q := math.Max(p.Flow, standing)
			if err := s.Advance(block, q, h, &d); err != nil {
				return nil, err
			}
			now += h
			if p.Heating == Ramp {
				set += p.Rate * h
			}
			// Block: C dT/dt = P - loss - melt, the controller ideal within its power.
			draw := c.HotEnd.Block.PowerFor(block, d.WallHeat)
			power := 0.0
			if p.Heating != Off {
				power = draw + cap*(set-block)/h
				top := c.HotEnd.Block.Power
				if top == 0 {
					top = math.Inf(1)
				}
				power = math.Max(0, math.Min(top, power))
			}
			next := block + (power-draw)*h/cap
			steady := d.Push
			if p.Flow == 0 {
				steady = 0
			}
			if lag > 0 {
				force += (steady - force) * -math.Expm1(-h/lag)
			} else {
				force = steady
			}
			x := Sample{Time: now, Block: next, Flow: p.Flow, Force: force, Steady: steady, Pressure: d.Pressure, ExitMix: d.ExitBulk, Centre: d.EntryCentre, Heater: power, Phase: i}
			if r.Feeder != nil && p.Flow > 0 {
				k := r.Feeder.At(d.Speed)
				x.Capability = k.Force
				if force > k.Force && out.Failure == nil {
					out.Failure = &Failure{now, next, force, k.Cause, i}
				}
			}
			if e := math.Abs(power-draw-cap*(next-block)/h) / (math.Abs(power) + math.Abs(draw)); e > out.Balance {
				out.Balance = e
			}
			if d.Stats.HeatBalance > out.Balance {
				out.Balance = d.Stats.HeatBalance
			}
			out.Samples = append(out.Samples, x)
			block = next
			if out.Failure != nil && r.Stop {
				out.Warnings = c.Warnings(&d)
				return out, nil
			}
			if block < c.Filament.Inlet+5 {
				return out, nil // nothing melts any more
			}
		}
		if p.Flow > 0 {
			for _, w := range c.Warnings(&d) {
				out.Warnings = materials.AddWarning(out.Warnings, w)
			}
		}
	}
	return out, nil
}

// lag returns the time constant (s) of the elastic storage, C dP/dQ, with
// C = beta V + A L/E + A^2/k: melt, column, drive.
func (r *Run) lag(block, q float64) float64 {
	if q == 0 {
		q = standing
	}
	c := r.Case
	m := c.Material
	beta, _ := m.Density.Compressibility(block, 0)
	a := c.Area()
	store := beta * c.HotEnd.Volume()
	if r.Column > 0 {
		store += a * r.Column / m.Modulus.At(c.Filament.Inlet)
	}
	if r.Stiffness > 0 {
		store += a * a / r.Stiffness
	}
	s := march.New(c, march.Options{})
	var lo, hi flow.Solution
	if s.Solve(block, 0.95*q, &lo) != nil || s.Solve(block, 1.05*q, &hi) != nil {
		return 0
	}
	return store * (hi.Pressure - lo.Pressure) / (0.1 * q)
}
