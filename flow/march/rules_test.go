package march_test

import (
	"math"
	"testing"

	"meltload/flow"
	"meltload/flow/flowtest"
	"meltload/flow/march"
	"meltload/flow/reference"
	"meltload/materials"
	"meltload/materials/unit"
)

// held is a case whose stock fills the bore from the first millimetre, so that the values below follow by hand.
func held(c *flow.Case) *flow.Case {
	c.Stock.Stick = true
	return c
}

func solve(t *testing.T, s *march.Solver, block, q float64) *flow.Solution {
	t.Helper()
	var d flow.Solution
	if err := s.Solve(block, q, &d); err != nil {
		t.Fatal(err)
	}
	return &d
}

// The viscosity factor multiplies the melt's own viscosity and leaves the cap of unmelted stock as it is: 1e6 Pa s
// under a cap of 1e6 flow as 0.5e6, three times 1e6 under the same cap as 0.75e6.
func TestViscosityFactorLeavesTheCap(t *testing.T) {
	v := powerLaw(1e6, 1)
	v.Cap = 1e6
	q := 1e-9
	for factor, eta := range map[float64]float64{0: 0.5e6, 1: 0.5e6, 3: 0.75e6, 1.0 / 3: 0.25e6} {
		c := held(tube(flowtest.Uniform("cap", v, 1200, 2000, 0.2, 0), 1e-3, 10e-3, math.Inf(1), 500))
		c.ViscosityFactor = factor
		want, _, _ := reference.PowerMelt{K: eta, N: 1}.Tube(q, 0.5e-3, 10e-3)
		if got := solve(t, march.New(c, march.Options{NoHeat: true}), 500, q).Pressure; math.Abs(got/want-1) > 1e-3 {
			t.Errorf("factor %g: %.4g MPa, want %.4g MPa", factor, got/1e6, want/1e6)
		}
		if got := 1 / c.Fluidity(500, 0); math.Abs(got/eta-1) > 1e-12 {
			t.Errorf("factor %g: %.6g Pa s, want %.6g Pa s", factor, got, eta)
		}
	}
}

// Where no place of the path reaches the flow point, all of the load is spent below it: shear and elongation.
func TestLoadBelowTheFlowPointCountsElongation(t *testing.T) {
	v := powerLaw(500, 0.5)
	m := flowtest.Uniform("below", v, 1200, 2000, 0.2, unit.Kelvin(300))
	m.Viscosity.Trouton = 30
	c := held(flowtest.Case(m, flowtest.Nozzle(2e-3, 10e-3, 60, 0.4e-3, 1e-3, math.Inf(1)), 480))
	d := solve(t, march.New(c, march.Options{}), 500, 5e-9)
	var ext float64
	for _, s := range d.Sections {
		ext += s.Elongation
	}
	if ext < 0.05*d.Pressure {
		t.Fatalf("elongation is %.1f %% of the drop: it shows nothing", 100*ext/d.Pressure)
	}
	if math.Abs(d.BelowFlowPoint/d.Pressure-1) > 1e-9 {
		t.Errorf("%.4g MPa of %.4g MPa are spent below a flow point that is not reached", d.BelowFlowPoint/1e6,
			d.Pressure/1e6)
	}
	m.FirstFlow = unit.Kelvin(100)
	if d := solve(t, march.New(c, march.Options{}), 500, 5e-9); d.BelowFlowPoint != 0 {
		t.Errorf("%.4g MPa are spent below a flow point that all stock has passed", d.BelowFlowPoint/1e6)
	}
}

// The pressure along the path begins with that of the inlet and is spent at the exit, elongation and all.
func TestPressureIsSpentAtTheExit(t *testing.T) {
	m := flowtest.Uniform("drawn", powerLaw(500, 0.5), 1200, 2000, 0.2, 0)
	m.Viscosity.Trouton = 30
	c := held(flowtest.Case(m, flowtest.Nozzle(2e-3, 10e-3, 60, 0.4e-3, 1e-3, math.Inf(1)), 480))
	s := march.New(c, march.Options{Fields: true})
	d := solve(t, s, 500, 5e-9)
	var ext float64
	for _, x := range d.Sections {
		ext += x.Elongation
	}
	p := s.Field.P
	if first, last := p[0], p[len(p)-1]; ext < 0.05*d.Pressure || math.Abs(first/d.Pressure-1) > 1e-6 ||
		math.Abs(last) > 1e-3*d.Pressure {
		t.Errorf("from %.5g to %.5g MPa; the inlet has %.5g MPa, elongation takes %.3g MPa", first/1e6, last/1e6,
			d.Pressure/1e6, ext/1e6)
	}
}

// The core is what is colder than the flow point: its radius from the profile itself, all of the bore and none of it at
// the ends.
func TestCoreRadius(t *testing.T) {
	c, T, q := flowtest.Heated(flowtest.Table("fem_heated.csv")[4])
	held(c)
	m := *c.Material
	c.Material = &m
	s := march.New(c, march.Options{Fields: true})
	for _, degC := range []float64{20, 120, 140, 160, 400} {
		m.FirstFlow = unit.Kelvin(degC)
		d := solve(t, s, T, q)
		f := &s.Field
		last := 0
		for i, k := range f.Section {
			if k == 0 {
				last = i
			}
		}
		cells, edge := f.T[last*f.Cells:(last+1)*f.Cells], f.Radius[last*f.Cells:(last+1)*f.Cells]
		// The radius lies between the places of the mean temperatures on both sides of the flow point: a third of the
		// area of a cell out from its inner edge, where velocity falls to nothing across it, to half, where it is even.
		inner, outer := 0.0, edge[f.Cells-1]
		lo := 0.0
		for i, x := range cells {
			in, out := math.Sqrt((2*lo*lo+edge[i]*edge[i])/3), math.Sqrt((lo*lo+edge[i]*edge[i])/2)
			lo = edge[i]
			if x < m.FirstFlow {
				inner = in
			} else {
				outer = out
				break
			}
		}
		got := d.Sections[0].CoreRadius
		switch {
		case degC == 20 && got != 0, degC == 400 && math.Abs(got-1e-3) > 1e-9, got < inner-1e-9, got > outer+1e-9:
			t.Errorf("flow point %g degC: core of %.4f mm, the profile has it between %.4f and %.4f mm", degC, got*1e3,
				inner*1e3, outer*1e3)
		}
	}
}

// What flows out beyond what flows in came from the wall, from flow, and from the content: heat that the content takes
// up counts as stored.
func TestStoredHeatHasItsSign(t *testing.T) {
	c, T, q := flowtest.Heated(flowtest.Table("fem_heated.csv")[4])
	held(c)
	s := march.New(c, march.Options{})
	const rho, cp = 1200.0, 2000.0 // of the table's fluid
	var d flow.Solution
	balance := func(what string) {
		t.Helper()
		out := rho * q * cp * (d.ExitBulk - c.Filament.Inlet)
		if in := d.WallHeat + d.Viscous - d.Stored; math.Abs(in/out-1) > 0.02 {
			t.Errorf("%s: %.3f W carried out, %.3f W from wall, flow and content", what, out, in)
		}
	}
	dt := solve(t, s, T, q).Residence / 20
	s.Soak(T)
	for range 5 { // cold stock drives hot melt out
		if err := s.Advance(T, q, dt, &d); err != nil {
			t.Fatal(err)
		}
	}
	balance("after a soak")
	if d.Stored > -0.2*d.WallHeat {
		t.Errorf("a soaked melt zone that cools stores %.3f W, of %.3f W from the wall", d.Stored, d.WallHeat)
	}
	for range 400 {
		if err := s.Advance(T, q, dt, &d); err != nil {
			t.Fatal(err)
		}
	}
	for range 5 { // a hotter wall warms the content
		if err := s.Advance(T+40, q, dt, &d); err != nil {
			t.Fatal(err)
		}
	}
	balance("after a step of the block")
	if d.Stored < 0.02*d.WallHeat {
		t.Errorf("a melt zone that warms stores %.3f W, of %.3f W from the wall", d.Stored, d.WallHeat)
	}
}

// Fluidity of a case by hand: the law's own at a factor of one.
func TestFluidityOfACase(t *testing.T) {
	m, err := materials.Get("pla")
	if err != nil {
		t.Fatal(err)
	}
	c := &flow.Case{Material: m}
	if got, want := c.Fluidity(480, 0), m.Viscosity.Fluidity(480, 0); got != want {
		t.Errorf("%g, want %g", got, want)
	}
}
