package march_test

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"meltload/flow"
	"meltload/flow/duct"
	"meltload/flow/flowtest"
	"meltload/flow/lumped"
	"meltload/flow/march"
	"meltload/flow/reference"
	"meltload/materials"
	"meltload/materials/unit"
	"meltload/thermal"
	heat "meltload/thermal/reference"
)

// powerLaw is a fluid of constant K (Pa s^n) and index n.
func powerLaw(k, n float64) materials.Viscosity {
	return materials.Viscosity{
		FlowCurve: materials.FlowCurve{Kind: materials.PowerLaw, N: n, Tau: k},
		Shift:     materials.Shift{Kind: materials.Exponential, Eta0: k, Tref: 500},
		Cap:       1e30,
	}
}

func tube(m *materials.Material, d, length, h, inlet float64) *flow.Case {
	hot := flow.HotEnd{Sections: []flow.Section{{Name: "tube", Shape: flow.Tube, D1: d, D2: d, Length: length,
		Channels: 1, H: h}}}
	return flowtest.Case(m, hot, inlet)
}

// L. Graetz (1883), power-law form; slug flow as the limit of small n. The
// series themselves are held against published values in package thermal.
func TestGraetzLimit(t *testing.T) {
	for _, n := range []float64{1, 0.5, 0.2, 0.05} {
		m := flowtest.Uniform("graetz", powerLaw(1e-3, n), 1200, 2000, 0.2, 0)
		g := heat.NewGraetz(n, 60)
		alpha, dia, q := 0.2/(1200*2000), 2e-3, 5e-9
		u := q / (math.Pi * dia * dia / 4)
		for _, xs := range []float64{0.01, 0.05, 0.1} {
			c := tube(m, dia, xs*dia*dia*u/alpha, math.Inf(1), 300)
			var d flow.Solution
			march.New(c, march.Options{NoHeat: true, NoElong: true, Cells: 60, Axial: 4}).Solve(500, q, &d)
			got, want := (500-d.ExitBulk)/200, g.MixingCup(xs)
			if math.Abs(got-want) > 2e-3 {
				t.Errorf("n = %g, x* = %g: theta %.5f, series %.5f", n, xs, got, want)
			}
		}
	}
}

// H. S. Carslaw, J. C. Jaeger (1959) sec. 7.7: a rod with a heat-transfer coefficient at its surface. A
// power law of n = 0.02 moves as a plug but for 2 % at the wall.
func TestRodWithBiotNumber(t *testing.T) {
	m := flowtest.Uniform("rod", powerLaw(1e3, 0.02), 1200, 2000, 0.2, 0)
	q, alpha := 5e-9, 0.2/(1200*2000)
	for _, bi := range []float64{0.5, 2, 10} {
		c := tube(m, 2e-3, 20e-3, bi*0.2/1e-3, 300)
		var d flow.Solution
		march.New(c, march.Options{NoHeat: true, NoElong: true, Cells: 40, Axial: 3}).Solve(500, q, &d)
		cyl := thermal.NewCylinder(bi)
		fo := alpha * math.Pi * 20e-3 / q
		if got, want := (500-d.ExitBulk)/200, cyl.Mean(fo); math.Abs(got-want) > 0.008 {
			t.Errorf("Bi %g: mean %.4f, series %.4f", bi, got, want)
		}
		if got, want := (500-d.ExitCentre)/200, cyl.Centre(fo); math.Abs(got-want) > 0.012 {
			t.Errorf("Bi %g: centre %.4f, series %.4f", bi, got, want)
		}
	}
}

// H. C. Brinkman (1951), developed limit, for n = 1 and n = 1/2.
func TestBrinkmanLimit(t *testing.T) {
	for _, n := range []float64{1, 0.5} {
		k := 400 * math.Pow(1000, 1-n)
		m := flowtest.Uniform("brinkman", powerLaw(k, n), 1200, 2000, 0.2, 0)
		c := tube(m, 0.6e-3, 60e-3, math.Inf(1), 500)
		var d flow.Solution
		q := 5e-9
		march.New(c, march.Options{Cells: 40, Axial: 2}).Solve(500, q, &d)
		_, tau, rate := reference.PowerMelt{K: k, N: n}.Tube(q, 0.3e-3, 1)
		b := heat.NewBrinkman(n)
		scale := tau * rate * 0.3e-3 * 0.3e-3 / 0.2
		if got, want := d.ExitBulk-500, scale*b.MixingCup; math.Abs(got/want-1) > 0.005 {
			t.Errorf("n = %g: mixing cup %+.3f K, closed form %+.3f K", n, got, want)
		}
		if got, want := d.ExitCentre-500, scale*b.Centre; math.Abs(got/want-1) > 0.005 {
			t.Errorf("n = %g: centre %+.3f K, closed form %+.3f K", n, got, want)
		}
	}
}

// E. A. Kearsley (1962), P. C. Sukanek (1971): viscosity falling as exp(-b dT). At a
// given flow B = Q/Q_iso - 1 with Q_iso at the wall stress reached, and b dT = 2 n ln(1+B).
func TestNahmeLimit(t *testing.T) {
	const b = 0.03
	for _, n := range []float64{1, 0.5} {
		k := 2000 * math.Pow(1000, 1-n)
		v := powerLaw(k, n)
		v.B = b * n // the law shifts K by exp(-B dT); its fluidity then goes with B/n
		m := flowtest.Uniform("nahme", v, 1200, 2000, 0.2, 0)
		c := tube(m, 0.6e-3, 80e-3, math.Inf(1), 500)
		var d flow.Solution
		q := 8e-9
		s := march.New(c, march.Options{Cells: 40, Axial: 3, Fields: true, NoElong: true})
		s.Solve(500, q, &d)
		f := s.Field
		i := len(f.Z) - 1
		tau := (f.P[i-1] - f.P[i]) / (f.Z[i] - f.Z[i-1]) * 0.3e-3 / 2
		iso := reference.PowerLaw(k, n).TubeFlow(tau, 0.3e-3)
		B := q/iso - 1
		want := 2 * n * math.Log1p(B) / (b * n)
		if got := d.ExitCentre - 500; B < 0.1 || math.Abs(got/want-1) > 0.01 {
			t.Errorf("n = %g: B = %.3f, centre rise %.3f K, closed form %.3f K", n, B, got, want)
		}
	}
}

// W. J. Harrison (1920): exact creeping flow in a cone, by the work it takes. The ends of the
// cone are spheres there and planes here, so agreement is for slender cones.
func TestExactConeFlow(t *testing.T) {
	m := flowtest.Uniform("cone", powerLaw(500, 1), 1200, 2000, 0.2, 0)
	for _, deg := range []float64{3, 6, 10} {
		a := unit.Deg(deg)
		r1, r2 := 1e-3, 0.2e-3
		hot := flow.HotEnd{Sections: []flow.Section{{Shape: flow.Cone, D1: 2 * r1, D2: 2 * r2, Half: a,
			Length: (r1 - r2) / math.Tan(a), Channels: 1, H: math.Inf(1)}}}
		var d flow.Solution
		march.New(flowtest.Case(m, hot, 500), march.Options{NoHeat: true}).Solve(500, 5e-9, &d)
		_, work := reference.ConeStokes(500, 5e-9, r1, r2, a)
		if e := d.Pressure/work - 1; math.Abs(e) > 0.02 {
			t.Errorf("half angle %g deg: off by %+.2f %%", deg, 100*e)
		}
	}
}

// A melt whose viscosity rises as exp(beta p) in a tube: p(z) has a closed form,
// p = -ln(1 - beta G L)/beta with G the gradient at no pressure.
func TestPressureSensitiveViscosity(t *testing.T) {
	v := powerLaw(800, 1)
	v.Beta = 2e-8
	m := flowtest.Uniform("beta", v, 1200, 2000, 0.2, 0)
	c := tube(m, 1e-3, 30e-3, math.Inf(1), 500)
	var d flow.Solution
	q := 10e-9
	march.New(c, march.Options{NoHeat: true}).Solve(500, q, &d)
	g, _, _ := reference.PowerMelt{K: 800, N: 1}.Tube(q, 0.5e-3, 30e-3)
	want := -math.Log(1-v.Beta*g) / v.Beta
	if e := d.Pressure/want - 1; math.Abs(e) > 0.01 {
		t.Errorf("%.3f MPa, closed form %.3f MPa (without pressure %.3f)", d.Pressure/1e6, want/1e6, g/1e6)
	}
}

// Where beta G L reaches 1 no pressure drives the flow (the closed form above has a pole): the passes run out, and it
// is said.
func TestPassesThatRunOutAreSaid(t *testing.T) {
	for _, x := range []struct {
		pole    float64 // beta times the drop without the effect of pressure
		settles bool
	}{{0.2, true}, {0.9, true}, {1.2, false}} {
		v := powerLaw(800, 1)
		q := 10e-9
		g, _, _ := reference.PowerMelt{K: 800, N: 1}.Tube(q, 0.5e-3, 30e-3)
		v.Beta = x.pole / g
		c := tube(flowtest.Uniform("beta", v, 1200, 2000, 0.2, 0), 1e-3, 30e-3, math.Inf(1), 500)
		var d flow.Solution
		err := march.New(c, march.Options{NoHeat: true}).Solve(500, q, &d)
		warned := materials.Warned(c.Warnings(&d), "not-settled")
		if said := err != nil || warned; said == x.settles {
			t.Errorf("beta times drop %g: error %v, warned %v, %.4g MPa", x.pole, err, warned, d.Pressure/1e6)
		}
		if want := -math.Log(1-x.pole) / v.Beta; x.settles && math.Abs(d.Pressure/want-1) > 0.03*x.pole {
			t.Errorf("beta times drop %g: %.4g MPa, closed form %.4g MPa", x.pole, d.Pressure/1e6, want/1e6)
		}
	}
}

func TestSlitAnnulusAndChannels(t *testing.T) {
	m := flowtest.IsothermalFluid("cross_2000")
	var d flow.Solution
	q := 5e-9
	solve := func(s flow.Section) float64 {
		s.H = math.Inf(1)
		march.New(flowtest.Case(m, flow.HotEnd{Sections: []flow.Section{s}}, 500),
			march.Options{NoHeat: true}).Solve(500, q, &d)
		return d.Pressure
	}
	law := duct.At(&m.Viscosity, 500, 0)
	got := solve(flow.Section{Shape: flow.Slit, Width: 8e-3, Gap: 0.5e-3, Length: 10e-3, Channels: 1})
	if want := law.SlitDrop(q, 8e-3, 0.5e-3, 10e-3); math.Abs(got/want-1) > 0.005 {
		t.Errorf("slit %.4g Pa, quadrature %.4g Pa", got, want)
	}
	one := solve(flow.Section{Shape: flow.Tube, D1: 0.8e-3, D2: 0.8e-3, Length: 5e-3, Channels: 4})
	if want := law.TubeDrop(q/4, 0.4e-3, 5e-3); math.Abs(one/want-1) > 0.005 {
		t.Errorf("four channels %.4g Pa, a quarter of the flow in one %.4g Pa", one, want)
	}
	// Newtonian annulus: the unrolled gap against the exact law.
	m = flowtest.IsothermalFluid("newton500")
	got = solve(flow.Section{Shape: flow.Ring, D1: 2e-3, D2: 1.6e-3, Length: 5e-3, Channels: 1})
	exact, _, _, _ := reference.Annulus{Ri: 0.8e-3, Ro: 1e-3}.Newton(1e6, 500)
	if want := q / exact * 1e6 * 5e-3; math.Abs(got/want-1) > 0.01 {
		t.Errorf("annulus %.4g Pa, exact %.4g Pa", got, want)
	}
}

// Every library material over its window: balances close, pressure rises with
// flow and falls with temperature, nothing is NaN, nothing allocates.
func TestLibraryMaterials(t *testing.T) {
	// A hotter wall, or a slower feed, draws the core out while it is still stiff, and holds the stock over a longer
	// part of the barrel: the elongation there follows neither rule, and its shear does for each length that is held.
	// What follows may be off by a millinewton.
	const noise = 500 // Pa
	rest := func(d *flow.Solution) float64 { return d.Pressure - d.Sections[0].Elongation - d.Sections[0].Shear }
	gradient := func(d *flow.Solution) float64 { return d.Sections[0].Shear / d.Stretches.Held }
	names := materials.Names()
	rapid.Check(t, func(t *rapid.T) {
		m, _ := materials.Get(rapid.SampledFrom(names).Draw(t, "material"))
		h := flowtest.Nozzle(2e-3, rapid.Float64Range(8e-3, 40e-3).Draw(t, "length"),
			rapid.Float64Range(20, 180).Draw(t, "angle"), rapid.Float64Range(0.2e-3, 1.2e-3).Draw(t, "bore"), 0.8e-3,
			math.Exp(rapid.Float64Range(6, 12).Draw(t, "ln h")))
		c := flowtest.Free(m, h)
		q := math.Exp(rapid.Float64Range(-23, -17.5).Draw(t, "ln q"))
		T := rapid.Float64Range(m.Window[0], m.Window[1]).Draw(t, "T")
		s := march.New(c, march.Options{})
		var a, b, hot flow.Solution
		s.Solve(T, q, &a)
		if !(a.Pressure > 0) || math.IsInf(a.Pressure, 0) || !(a.ExitBulk > 250 && a.ExitBulk < 1500) {
			t.Fatalf("%s: pressure %g, exit %g", m.ID, a.Pressure, a.ExitBulk)
		}
		if a.Stats.HeatBalance > 1e-6 || a.Stats.WorkBalance > 1e-6 || a.Stats.MassBalance > 1e-6 {
			t.Fatalf("%s: balances %+v", m.ID, a.Stats)
		}
		if rise := a.ExitBulk - T; rise > 0 && rise > 1.2*a.Pressure/(m.Density.Melt*m.Heat.Cp.At(T))+0.5 {
			t.Fatalf("%s: exit %.1f K above the wall, more than its own work can give", m.ID, rise)
		}
		if a.EntryCentre < m.FlowPoint()+5 {
			return // a core that has not melted: the load need not be monotone, and a warning says so
		}
		s.Solve(T, q*1.3, &b)
		if rest(&b) < rest(&a)*0.999-noise || gradient(&b) < gradient(&a)*0.999 {
			t.Fatalf("%s: pressure falls with flow, %g at %g, %g at %g", m.ID, a.Pressure, q, b.Pressure, q*1.3)
		}
		s.Solve(T+10, q, &hot)
		if rest(&hot) > rest(&a)*1.001+noise || gradient(&hot) > gradient(&a)*1.001 {
			t.Fatalf("%s: pressure rises with temperature, %g to %g", m.ID, a.Pressure, hot.Pressure)
		}
	})
}

func TestSolveDoesNotAllocate(t *testing.T) {
	c, T, q := flowtest.Heated(flowtest.Table("fem_heated.csv")[4])
	s := march.New(c, march.Options{})
	var d flow.Solution
	s.Solve(T, q, &d)
	if a := testing.AllocsPerRun(20, func() { s.Solve(T, q, &d) }); a != 0 {
		t.Errorf("%v allocations a solve", a)
	}
	c, T, q = flowtest.Startup(flowtest.Table("stock", "startup_ratio.csv")[1])
	s = march.New(c, march.Options{})
	s.Solve(T, q, &d)
	if a := testing.AllocsPerRun(20, func() { s.Solve(T, q, &d) }); a != 0 {
		t.Errorf("%v allocations a solve with a rod", a)
	}
}

// A solve does not depend on what was solved before, to the last bit: sampling in parallel is reproducible.
func TestSolvesAreIndependent(t *testing.T) {
	rows := flowtest.Table("fem_heated.csv")
	c, T, q := flowtest.Heated(rows[12])
	fresh := march.New(c, march.Options{})
	var a, b, other flow.Solution
	fresh.Solve(T, q, &a)
	used := march.New(c, march.Options{})
	used.Solve(T+20, 30e-9, &other)
	used.Solve(T-15, 1e-9, &other)
	used.Solve(T, q, &b)
	if a.Pressure != b.Pressure || a.ExitBulk != b.ExitBulk {
		t.Errorf("fresh %.12g Pa, used %.12g Pa", a.Pressure, b.Pressure)
	}
	c, T, q = flowtest.Startup(flowtest.Table("stock", "startup_ratio.csv")[1])
	fresh, used = march.New(c, march.Options{}), march.New(c, march.Options{})
	fresh.Solve(T, q, &a)
	used.Solve(T+20, 30e-9, &other)
	used.Solve(T-15, 1e-9, &other)
	used.Solve(T, q, &b)
	if a.Pressure != b.Pressure || a.ExitBulk != b.ExitBulk {
		t.Errorf("with a rod: fresh %.12g Pa, used %.12g Pa", a.Pressure, b.Pressure)
	}
}

func TestBadInput(t *testing.T) {
	c, _, _ := flowtest.Heated(flowtest.Table("fem_heated.csv")[4])
	s := march.New(c, march.Options{})
	var d flow.Solution
	for _, in := range [][2]float64{{500, 0}, {500, -1}, {500, math.NaN()}, {500, math.Inf(1)}, {0, 1e-9},
		{math.NaN(), 1e-9}, {900, 1e-9}} {
		if err := s.Solve(in[0], in[1], &d); err == nil {
			t.Errorf("block %g K, flow %g: no error", in[0], in[1])
		}
	}
	// A bore that cannot be meant, built in code: an error, not a NaN.
	last := &c.HotEnd.Sections[len(c.HotEnd.Sections)-1]
	last.D1, last.D2 = 0, 0
	for _, s := range []flow.Solver{march.New(c, march.Options{}), lumped.New(c)} {
		if err := s.Solve(500, 5e-9, &d); err == nil || !strings.Contains(err.Error(), "(bore).D1") {
			t.Errorf("%s: %g Pa, %v", s.Name(), d.Pressure, err)
		}
	}
}

// A solver counts what it and all made from it are asked to solve.
func TestSolvesAreCounted(t *testing.T) {
	c := tube(flowtest.HeatedFluid(), 2e-3, 20e-3, 3000, 298.15)
	s := march.New(c, march.Options{})
	var d flow.Solution
	s.Solve(500, 5e-9, &d)
	s.Clone().Solve(500, 5e-9, &d)
	s.For(c).Solve(500, 5e-9, &d)
	s.WithFields().Solve(500, 5e-9, &d)
	if n := s.Solves(); n != 4 {
		t.Errorf("counted %d of 4", n)
	}
}
