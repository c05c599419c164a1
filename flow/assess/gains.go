package assess

import (
	"math"
	"slices"

	"meltload/flow"
	"meltload/flow/match"
	"meltload/flow/setup"
	"meltload/flow/vary"
	"meltload/materials/num"
)

// Change is one thing that a user could do: one or more steps of quantities of package vary.
type Change struct {
	Text  string
	Steps []Step
	fits  func(before, after *setup.Setup) bool // nil for always
}

// Step changes one quantity.
type Step struct {
	ID vary.ID
	Op Op
	By float64 // SI
}

// Op is how a step changes a value.
type Op int

// The ways.
const (
	Add Op = iota
	Times
	To
)

// Changes are the changes that FindGains tries.
var Changes = []Change{
	{"block 10 K hotter", []Step{{vary.Block, Add, 10}},
		func(_, n *setup.Setup) bool { return n.Block < n.Material.Decomposition }},
	{"bore 0.1 mm wider", []Step{{vary.Bore, Add, 0.1e-3}}, nil},
	{"melt zone 5 mm longer", []Step{{vary.Zone, Add, 5e-3}}, nil},
	{"all of the melt zone heated", []Step{{vary.Heated, To, 1}}, nil},
	{"half the land length", []Step{{vary.Land, Times, 0.5}}, nil},
	{"heater 10 W stronger", []Step{{vary.Heater, Add, 10}}, nil},
	{"no path drag or bends", []Step{{vary.Drag, To, 0}, {vary.Bend, To, 0}}, nil},
	{"feeder 20 % stronger", []Step{{vary.Force, Times, 1.2}}, nil},
	{"motor current 10 % higher", []Step{{vary.Current, Times, 1.1}}, func(_, n *setup.Setup) bool {
		m := n.Feeder.Model.Motor
		return m.Current <= m.Rated*math.Sqrt2
	}},
	{"gear ratio 25 % higher", []Step{{vary.Ratio, Times, 1.25}}, nil},
	{"one more driven wheel", []Step{{vary.Wheels, Add, 1}}, nil},
	{"gap below the gear halved", []Step{{vary.Gap, Times, 0.5}}, nil},
}

// MouldChanges are the changes that help a mould to fill.
var MouldChanges = []Change{
	{"mould 20 K hotter", []Step{{vary.Mould, Add, 20}}, nil},
	{"block 15 K hotter", []Step{{vary.Block, Add, 15}}, nil},
	{"sprue, runners and gate 30 % wider", []Step{{vary.Feed, Times, 1.3}}, nil},
	{"wall of the part 25 % thicker", []Step{{vary.Wall, Times, 1.25}}, nil},
	{"set flow 50 % higher", []Step{{vary.FillFlow, Times, 1.5}}, nil},
	{"nozzle bore 50 % wider", []Step{{vary.Bore, Times, 1.5}}, nil},
}

// Apply returns a copy of the set-up with the change made; false if the set-up does not have what changes, it would
// leave its bounds, or nothing would change.
func (c *Change) Apply(s *setup.Setup) (*setup.Setup, bool) {
	n := s.Clone()
	moved := false
	for _, st := range c.Steps {
		q, ok := vary.Find(n, string(st.ID))
		if !ok {
			return nil, false
		}
		x := q.Get(n)
		to := map[Op]float64{Add: x + st.By, Times: x * st.By, To: st.By}[st.Op]
		if q.Set(n, to) != nil {
			return nil, false
		}
		moved = moved || to != x
	}
	if !moved || n.Validate() != nil || c.fits != nil && !c.fits(s, n) {
		return nil, false
	}
	return n, true
}

// Gain is the usable flow after one change.
type Gain struct {
	Change
	Flow, Gain float64 // m3/s: after the change, and more than before
	Limit      match.Limit
}

// FindGains lists the usable flow (m3/s) after each change that the set-up takes, the largest gain first, from what was
// found for the set-up as it stands. solver makes a solver for a case; it is called by several goroutines.
func FindGains(s *setup.Setup, now *match.Result, solver func(c *flow.Case) (flow.Solver, error)) ([]Gain, error) {
	var out []Gain
	var changed []*setup.Setup
	for i := range Changes {
		if n, ok := Changes[i].Apply(s); ok {
			out, changed = append(out, Gain{Change: Changes[i]}), append(changed, n)
		}
	}
	err := num.Parallel(len(out), func() func(i int) error {
		return func(i int) error {
			n := changed[i]
			v, err := solver(&n.Case)
			if err != nil {
				return err
			}
			g := &out[i]
			g.Flow, g.Limit, err = after(n, n.Matcher(v), now)
			g.Gain = g.Flow - now.Flow
			return err
		}
	})
	slices.SortStableFunc(out, func(a, b Gain) int { return order(b.Gain, a.Gain, "", "") })
	return out, err
}

// gainTolerance is that of the usable flow after a change, as a share: that of the flow before it.
const gainTolerance = 1e-4

// after finds the usable flow of a changed set-up, and its limit, from what was found before the change. The search
// begins at the flow before; where nothing was usable there, or load and capability cross several times, it is the
// whole one.
func after(n *setup.Setup, m *match.Matcher, before *match.Result) (float64, match.Limit, error) {
	if before.Flow <= 0 || before.Flow >= m.Limits.MaxFlow || len(before.Crossings) > 1 {
		f, err := m.Find(n.Block)
		if err != nil {
			return 0, "", err
		}
		return f.Flow, f.Binding, nil
	}
	var d flow.Solution
	worst := func(q float64) (match.Margin, error) {
		ms, err := m.At(n.Block, q, &d, nil)
		if err != nil {
			return match.Margin{}, err
		}
		return match.Worst(ms), nil
	}
	// A change that does not touch what binds leaves the flow as it is, not beside it by a tolerance.
	over, err := worst(math.Min(before.Flow*(1+2*gainTolerance), m.Limits.MaxFlow))
	if err != nil {
		return 0, "", err
	}
	if over.Value < 0 {
		under, err := worst(before.Flow * (1 - 2*gainTolerance))
		if err != nil {
			return 0, "", err
		}
		if under.Value >= 0 {
			return before.Flow, over.Limit, nil
		}
	}
	q, limit := usableNear(m, n.Block, before.Flow, gainTolerance)
	return q, limit, nil
}

// Reach is how a set point stands to the range of block temperatures.
type Reach int

// The ways.
const (
	Within   Reach = iota // the temperature lies within the range
	AnyBlock              // even the coldest of the range holds the force
	NoBlock               // not even the hottest does
)

// SetPoint is the block temperature to set at a flow so that the push stays at what is held.
type SetPoint struct {
	Flow  float64 // m3/s
	Block float64 // K; the low end of the range for AnyBlock, NaN for NoBlock
	Force float64 // N that is held at this flow
	Reach Reach
}

// setPoints is the number of flows of a heating table, to 1.2 times the flow of interest.
const setPoints = 12

// SetPoints lists the temperature to set at each flow up to 1.2 times top (m3/s), within the range of block
// temperatures looked at, so that the push holds what the feeder can give (capability over safety factor, by flow) or,
// if force is above 0, that force (N).
func SetPoints(s *setup.Setup, v flow.Solver, top, force float64) ([]SetPoint, error) {
	var d flow.Solution
	lo, hi := s.Temps[0], s.Temps[1]
	var out []SetPoint
	for i := range setPoints {
		q := top * 1.2 * float64(i+1) / setPoints
		if q < s.Limits.MinFlow {
			continue
		}
		if q > s.Limits.MaxFlow*(1+1e-9) {
			break
		}
		p := SetPoint{Flow: q, Force: force}
		if force <= 0 {
			p.Force = s.Feeder.At(q/s.Area()).Force / s.Limits.Safety
		}
		over := func(T float64) float64 {
			if v.Solve(T, q, &d) != nil {
				return math.Inf(1)
			}
			return d.Push - p.Force
		}
		switch {
		case over(hi) > 0:
			p.Reach, p.Block = NoBlock, math.NaN()
		case over(lo) <= 0:
			p.Reach, p.Block = AnyBlock, lo
		default:
			T, err := num.Root(over, lo, hi, 0.02)
			if err != nil {
				return nil, err
			}
			p.Block = T
		}
		out = append(out, p)
	}
	return out, nil
}
