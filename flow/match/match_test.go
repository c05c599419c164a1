package match_test

import (
	"errors"
	"math"
	"testing"

	"meltload/flow"
	"meltload/flow/feeder"
	"meltload/flow/flowtest"
	"meltload/flow/match"
	"meltload/materials"
	"meltload/thermal"

	"pgregory.net/rapid"
)

// straight is a solver whose load is a straight line in flow: matching then has closed-form answers.
type straight struct {
	c           *flow.Case
	base, slope float64 // N, N per m3/s
}

func (s straight) Name() string       { return "straight" }
func (s straight) Clone() flow.Solver { return s }
func (s straight) Solve(block, q float64, r *flow.Solution) error {
	if err := flow.CheckInput(block, q); err != nil {
		return err
	}
	s.c.Prepare(block, q, r)
	r.Sections[0].Drop = (s.base + s.slope*q) / s.c.Area()
	r.Sections[0].WallHeat = 2e9 * q // 2 W per mm3/s
	r.Sections[0].Centre, r.Sections[0].Bulk = block-4e9*q, block
	for i := range r.Sections {
		r.Sections[i].Centre, r.Sections[i].Bulk = block-4e9*q, block
	}
	return s.c.Finish(r)
}

func setup(points []feeder.Point, l match.Limits) (*match.Matcher, *flow.Case) {
	c := flowtest.Case(flowtest.HeatedFluid(), flowtest.Nozzle(2e-3, 20e-3, 60, 0.4e-3, 1e-3, math.Inf(1)), 298)
	f, err := feeder.New(feeder.Feeder{Points: points})
	if err != nil {
		panic(err)
	}
	return &match.Matcher{Case: c, Solver: straight{c, 10, 2e9}, Feeder: f, Limits: l}, c
}

func flat(force float64) []feeder.Point {
	return []feeder.Point{{Speed: 1e-4, Force: force, Cause: feeder.Grind},
		{Speed: 1, Force: force, Cause: feeder.Grind}}
}

var wide = match.Limits{Safety: 1.25, MinFlow: 0.5e-9, MaxFlow: 60e-9}

func TestForceLimitIsWhereLinesCross(t *testing.T) {
	m, _ := setup(flat(50), wide)
	r, err := m.Find(500)
	if err != nil {
		t.Fatal(err)
	}
	// (10 + 2 q) 1.25 = 50 at q = 15 mm3/s.
	if math.Abs(r.Flow/15e-9-1) > 2e-4 || r.Binding != match.Grip {
		t.Errorf("%.4f mm3/s by %s", r.Flow*1e9, r.Binding)
	}
	if r.Crossings != nil {
		t.Errorf("crossings %v of lines that cross once", r.Crossings)
	}
}

func TestOtherLimitsAndTheNextObstacle(t *testing.T) {
	l := wide
	l.Core, l.MountMax = true, 75
	m, c := setup(flat(100), l)
	c.HotEnd.Block = thermal.Block{Power: 40, Ambient: 298, Loss: 0}
	r, err := m.Find(500)
	if err != nil {
		t.Fatal(err)
	}
	// Heater: 40 W at 20 mm3/s. Core: 500 - 4 q = 413.15 at 21.7. Mount: (10 + 2q) 1.25 = 75 at 25. Grip: 35.
	want := []struct {
		l match.Limit
		q float64
	}{{match.Heater, 20}, {match.Core, 21.7125}, {match.Mount, 25}, {match.Grip, 35}}
	for i, w := range want {
		if b := r.Bounds[i]; b.Limit != w.l || math.Abs(b.Flow*1e9/w.q-1) > 3e-4 || b.Open {
			t.Errorf("bound %d: %s at %.3f, want %s at %.3f", i, b.Limit, b.Flow*1e9, w.l, w.q)
		}
	}
	if n, ok := r.Next(); !ok || n.Limit != match.Core {
		t.Errorf("next obstacle %v", n)
	}
	if r.Bounds[3].Value < 0.59 || r.Bounds[3].Value > 0.61 { // 100/(50*1.25) - 1 = 0.6 at 20 mm3/s
		t.Errorf("room to grip %.3f", r.Bounds[3].Value)
	}
}

// A limit of which next to nothing is used has the highest margin there is, and not the rounding of its demand: a rod
// of no length, or heat of 1 nW from a heater of 40 W. Half used has a margin of 1.
func TestAMarginIsBounded(t *testing.T) {
	m, c := setup(flat(100), wide)
	c.HotEnd.Block = thermal.Block{Power: 40, Ambient: 298, Loss: 0}
	for _, x := range []struct{ rod, heat, solid, heater float64 }{
		{0, 1e-9, match.MostMargin, match.MostMargin},
		{1e-3, 20, 19, 1},
		{10e-3, 80, 1, -0.5},
	} {
		d := flow.Solution{Push: 10, Heater: x.heat}
		d.Stretches = flow.Stretches{Rod: x.rod, Held: 20e-3 - x.rod, Softening: 350}
		got := map[match.Limit]float64{}
		for _, y := range m.Margins(&d, nil) {
			got[y.Limit] = y.Value
		}
		if math.Abs(got[match.Solid]-x.solid) > 1e-9 || math.Abs(got[match.Heater]-x.heater) > 1e-9 {
			t.Errorf("rod %g m, %g W: margins %g and %g, want %g and %g", x.rod, x.heat, got[match.Solid],
				got[match.Heater], x.solid, x.heater)
		}
	}
}

// A cold core that only warns is told, and neither binds nor is the next obstacle: what can be pushed and what melts
// through stand apart.
func TestColdCoreWarnsOrLimits(t *testing.T) {
	l := wide
	l.MountMax = 75
	for _, limits := range []bool{false, true} {
		l.Core = limits
		m, _ := setup(flat(100), l)
		r, err := m.Find(500)
		if err != nil {
			t.Fatal(err)
		}
		binding, flow := match.Mount, 25.0 // see the test above
		if limits {
			binding, flow = match.Core, 21.7125
		}
		if r.Binding != binding || math.Abs(r.Flow*1e9/flow-1) > 3e-4 {
			t.Errorf("core limits %v: %.4f mm3/s by %s, want %g by %s", limits, r.Flow*1e9, r.Binding, flow, binding)
		}
		if a, b := r.MeltsThrough().Flow*1e9, r.Pushed().Flow*1e9; math.Abs(a/21.7125-1) > 3e-4 ||
			math.Abs(b/35-1) > 3e-4 {
			t.Errorf("melts through up to %g, pushed up to %g mm3/s, want 21.71 and 35", a, b)
		}
		if r.MeltsThrough().Warns == limits {
			t.Errorf("core limits %v: warns %v", limits, r.MeltsThrough().Warns)
		}
	}
}

func TestNothingUsableAndNothingBinding(t *testing.T) {
	m, _ := setup(flat(8), wide)
	r, err := m.Find(500)
	if err != nil || r.Flow != 0 || r.Binding != match.Grip {
		t.Errorf("flow %g by %s (%v)", r.Flow, r.Binding, err)
	}
	m, _ = setup(flat(1e4), wide)
	r, err = m.Find(500)
	if err != nil || r.Binding != "" || r.Flow != wide.MaxFlow {
		t.Errorf("flow %g by %q (%v)", r.Flow, r.Binding, err)
	}
	if !materials.Warned(r.Warnings, "search-end") {
		t.Error("no remark that the search ended")
	}
}

func TestWindowAndDecompositionAreLimits(t *testing.T) {
	l := wide
	l.Window = true
	m, c := setup(flat(50), l)
	c.Material.Window = [2]float64{450, 490}
	c.Material.Decomposition = 495
	for T, want := range map[float64]match.Limit{440: match.Window, 470: match.Grip, 492: match.Window,
		500: match.Decomposition} {
		r, err := m.Find(T)
		if err != nil {
			t.Fatal(err)
		}
		if usable := want == match.Grip; (r.Flow > 0) != usable || r.Bounds[0].Flow > 0 != usable {
			t.Errorf("%g K: flow %g by %s, want %s", T, r.Flow, r.Binding, want)
		}
		named := false
		for _, b := range r.Bounds {
			named = named || b.Limit == want
		}
		if !named {
			t.Errorf("%g K: %s is not among %v", T, want, r.Bounds)
		}
	}
}

func TestSeveralCrossingsAreReported(t *testing.T) {
	// Capability dips below the load and comes back.
	a := 2.405281875e-6
	pts := []feeder.Point{}
	for _, p := range [][2]float64{{1, 60}, {8, 60}, {12, 20}, {16, 90}, {60, 90}} {
		pts = append(pts, feeder.Point{Speed: p[0] * 1e-9 / a, Force: p[1], Cause: feeder.Skip})
	}
	m, _ := setup(pts, wide)
	r, err := m.Find(500)
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Crossings) != 3 || r.Crossings[0] != r.Flow && math.Abs(r.Crossings[0]/r.Flow-1) > 1e-3 {
		t.Errorf("usable %.3f, crossings %v", r.Flow*1e9, r.Crossings)
	}
}

func TestUsableFlowAgainstClosedForm(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		force := rapid.Float64Range(15, 140).Draw(t, "force")
		m, _ := setup(flat(force), wide)
		r, err := m.Find(500)
		if err != nil {
			t.Fatal(err)
		}
		want := (force/1.25 - 10) / 2
		if want > 60 {
			want = 60
		}
		if want < 0.5 {
			want = 0
		}
		if math.Abs(r.Flow*1e9-want) > 3e-4*want+1e-9 {
			t.Fatalf("force %.2f: %.5f mm3/s, closed form %.5f", force, r.Flow*1e9, want)
		}
	})
}

func TestMapAgreesWithFind(t *testing.T) {
	m, _ := setup(flat(50), wide)
	cells, err := m.Map([]float64{480, 500}, []float64{5e-9, 14.9e-9, 15.1e-9, 30e-9})
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range cells {
		for j, usable := range []bool{true, true, false, false} {
			if (row[j].Limit == "") != usable {
				t.Errorf("cell %d: %+v", j, row[j])
			}
		}
	}
	rs, err := m.Over([]float64{480, 500, 520})
	if err != nil || len(rs) != 3 || match.Best(rs) != 0 {
		t.Errorf("over temperatures: %v, best %d", err, match.Best(rs))
	}
}

// fails is straight, but for flows between lo and hi (m3/s), which it cannot solve.
type fails struct {
	straight
	lo, hi float64
}

func (s fails) Clone() flow.Solver { return s }
func (s fails) Solve(block, q float64, r *flow.Solution) error {
	if q > s.lo && q < s.hi {
		return flow.ErrUnsolved
	}
	return s.straight.Solve(block, q, r)
}

// A bound that cannot be found, as points next to it cannot be solved, is an error and not the last point of the scan.
func TestABoundThatIsNotFoundIsAnError(t *testing.T) {
	m, c := setup(flat(50), wide)
	m.Solver = fails{straight{c, 10, 2e9}, 14.5e-9, 15.5e-9} // the lines cross at 15; no point of the scan lies within
	if r, err := m.Find(500); !errors.Is(err, flow.ErrUnsolved) {
		t.Errorf("%v, %v", r, err)
	}
}
