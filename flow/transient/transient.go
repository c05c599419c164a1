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
	ExitBulk   float64 // K
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
	Samples []Sample
	Failure *Failure
	Lag     []float64 // s, time constant of each phase
	// Found are the warnings at the end of each phase that feeds, and at the failure.
	Found []materials.Bearer
	// Balance is the largest error of the heat balance of the melt in any step, relative to the heat that it takes up.
	Balance float64
}

// Warnings are those of all phases, each once.
func (t *Trace) Warnings() (out []materials.Warning) {
	for _, x := range t.Found {
		out = materials.AddWarning(out, x.Warnings...)
	}
	return out
}

// stepsPerStay is the number of time steps in which the melt zone is fed once: the march is of first order in time, and
// coarser steps smear the rise.
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
		return fmt.Errorf("transient: Case.HotEnd.Block.Capacity: %g J/K; more than 0 is needed, for how fast the "+
			"block changes", c.HotEnd.Block.Capacity)
	case r.Column > 0 && len(c.Material.Modulus.T) == 0:
		return fmt.Errorf("transient: Case.Material.Modulus: %s has none; give one (Pa), or leave Column 0 for a "+
			"rigid filament", c.Material.ID)
	case !(r.Column >= 0) || math.IsInf(r.Column, 0):
		return fmt.Errorf("transient: Column: %g m; 0 or more is needed", r.Column)
	case !(r.Stiffness >= 0):
		return fmt.Errorf("transient: Stiffness: %g N/m; 0 (rigid) or more is needed", r.Stiffness)
	case !(r.Step >= 0) || math.IsInf(r.Step, 0):
		return fmt.Errorf("transient: Step: %g s; 0 (chosen) or more is needed", r.Step)
	}
	for i, p := range r.Phases {
		switch {
		case !(p.Duration > 0) || math.IsInf(p.Duration, 0):
			return fmt.Errorf("transient: phase %d: a duration of %g s; more than 0 is needed", i+1, p.Duration)
		case p.Flow < 0 || math.IsNaN(p.Flow):
			return fmt.Errorf("transient: phase %d: a flow of %g mm3/s; 0 or more is needed", i+1, p.Flow/unit.MM3)
		}
	}
	return flow.CheckInput(r.Block, standing)
}

// Play computes the trace. A field that is missing or out of range is an error that names it.
func (r *Run) Play(ctx context.Context) (*Trace, error) {
	if err := r.check(); err != nil {
		return nil, err
	}
	c := r.Case
	p := &player{Run: r, solver: march.New(c, march.Options{}), out: &Trace{}, block: r.Block, set: r.Block}
	p.solver.Soak(r.Block)
	dt := r.step()
	for i := range r.Phases {
		end, err := p.phase(ctx, i, dt)
		if err != nil {
			return nil, err
		}
		if end == frozen {
			return p.out, nil
		}
		if end == failed || r.Phases[i].Flow > 0 {
			p.out.Found = append(p.out.Found, materials.Bearer{Name: r.Phases[i].Name, Warnings: c.Warnings(&p.d)})
		}
		if end == failed {
			return p.out, nil
		}
	}
	return p.out, nil
}

// step is the time step (s): as given, or a share of the stay at the fastest feed, at most half a second.
func (r *Run) step() float64 {
	if r.Step > 0 {
		return r.Step
	}
	dt := 0.5
	for _, p := range r.Phases {
		if p.Flow > 0 {
			dt = math.Min(dt, r.Case.HotEnd.Volume()/p.Flow/stepsPerStay)
		}
	}
	return dt
}

// ending is why a phase ended.
type ending int

const (
	over   ending = iota // its time was up
	failed               // the feeder gave way, and the run stops there
	frozen               // nothing melts any more
)

// player is a run in hand: block and set temperature (K), time (s), and the force with its lag (N).
type player struct {
	*Run
	solver                 *march.Solver
	out                    *Trace
	d                      flow.Solution
	block, set, now, force float64
}

// phase plays one phase.
func (p *player) phase(ctx context.Context, i int, dt float64) (ending, error) {
	ph := &p.Phases[i]
	if ph.Set > 0 {
		p.set = ph.Set
	}
	lag := p.lag(p.block, ph.Flow)
	p.out.Lag = append(p.out.Lag, lag)
	for k := range int(math.Ceil(ph.Duration/dt - 1e-9)) {
		if err := ctx.Err(); err != nil {
			return over, err
		}
		h := math.Min(dt, ph.Duration-float64(k)*dt)
		if err := p.solver.Advance(p.block, math.Max(ph.Flow, standing), h, &p.d); err != nil {
			return over, err
		}
		p.now += h
		if ph.Heating == Ramp {
			p.set += ph.Rate * h
		}
		power := p.heat(ph.Heating, h)
		p.sample(i, lag, h, power)
		if p.out.Failure != nil && p.Stop {
			return failed, nil
		}
		if p.block < p.Case.Filament.Inlet+5 {
			return frozen, nil
		}
	}
	return over, nil
}

// heat takes the block over a step h (s), C dT/dt = P - loss - melt, the controller ideal within its power, and returns
// the power (W).
func (p *player) heat(how Heating, h float64) (power float64) {
	b := &p.Case.HotEnd.Block
	draw := b.PowerFor(p.block, p.d.WallHeat)
	if how != Off {
		top := b.Power
		if top == 0 {
			top = math.Inf(1)
		}
		power = math.Max(0, math.Min(top, draw+b.Capacity*(p.set-p.block)/h))
	}
	p.block += (power - draw) * h / b.Capacity
	p.out.Balance = math.Max(p.out.Balance, p.d.Stats.HeatBalance)
	return power
}

// sample notes the state after a step h (s), with the force that lags the pressure, and the first failure.
func (p *player) sample(i int, lag, h, power float64) {
	d, ph := &p.d, &p.Phases[i]
	steady := d.Push
	if ph.Flow == 0 {
		steady = 0
	}
	if lag > 0 {
		p.force += (steady - p.force) * -math.Expm1(-h/lag)
	} else {
		p.force = steady
	}
	x := Sample{Time: p.now, Block: p.block, Flow: ph.Flow, Force: p.force, Steady: steady, Pressure: d.Pressure,
		ExitBulk: d.ExitBulk, Centre: d.EntryCentre, Heater: power, Phase: i}
	if p.Feeder != nil && ph.Flow > 0 {
		k := p.Feeder.At(d.Speed)
		x.Capability = k.Force
		if p.force > k.Force && p.out.Failure == nil {
			p.out.Failure = p.failed(&x, k.Cause)
		}
	}
	p.out.Samples = append(p.out.Samples, x)
}

// failed is the failure between the sample before and x, whose force is more than the feeder holds: where both meet on
// straight lines.
func (p *player) failed(x *Sample, cause feeder.Cause) *Failure {
	f := &Failure{x.Time, x.Block, x.Force, cause, x.Phase}
	if n := len(p.out.Samples); n > 0 {
		if a := &p.out.Samples[n-1]; a.Phase == x.Phase { // where the force was at most what is held
			left := a.Capability - a.Force
			way := left / (left + x.Force - x.Capability)
			f.Time, f.Block, f.Force = a.Time+way*(x.Time-a.Time), a.Block+way*(x.Block-a.Block),
				a.Force+way*(x.Force-a.Force)
		}
	}
	return f
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
