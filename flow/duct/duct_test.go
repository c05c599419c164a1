package duct_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"meltload/flow/duct"
	"meltload/flow/reference"
	"meltload/materials"
	"meltload/materials/checks"
)

// The check values and their sources are in testdata/checks.json.

func crossWLF(c *checks.Case) *materials.Viscosity {
	return &materials.Viscosity{
		FlowCurve: materials.FlowCurve{Kind: materials.Cross, N: c.In("n"), Tau: c.In("taustar")},
		Shift: materials.Shift{Kind: materials.WLF, Eta0: c.In("D1"), Tref: c.In("D2"), A1: c.In("A1"),
			A2: c.In("A2")},
		Cap: 1e30,
	}
}

func TestCrossWLF(t *testing.T) {
	checks.Each(t, "visc_crosswlf", func(c *checks.Case) {
		v := crossWLF(c)
		c.Want("eta0", 1/v.Fluidity(c.In("T"), 0))
		c.Want("eta", v.Eta(c.In("gamma"), c.In("T"), 0))
	})
	checks.Each(t, "tube_crosswlf", func(c *checks.Case) {
		v := crossWLF(c)
		l := duct.At(v, c.In("T"), 0)
		tau := l.TubeStress(c.In("Q"), c.In("R"))
		c.Want("eta0", 1/v.Fluidity(c.In("T"), 0))
		c.Want("tau_w", tau)
		c.Want("gamma_w", l(tau))
		c.Want("eta_w", tau/l(tau))
		c.Want("dp", l.TubeDrop(c.In("Q"), c.In("R"), c.In("L")))
	})
	checks.Each(t, "visc_carreau_yasuda", func(c *checks.Case) {
		s := materials.FlowCurve{Kind: materials.CarreauYasuda, N: c.In("n"), Tau: 1 / c.In("lam"), A: c.In("a")}
		c.Want("eta", c.In("etainf")+(c.In("eta0")-c.In("etainf"))*s.H(c.In("gamma")))
	})
	checks.Each(t, "shift_arrhenius", func(c *checks.Case) {
		v := materials.Viscosity{FlowCurve: materials.FlowCurve{N: 1, Tau: 1},
			Shift: materials.Shift{Kind: materials.Arrhenius, Eta0: 1, Tref: c.In("Tref"), E: c.In("Ea")}, Cap: 1e30}
		c.Want("aT", 1/v.Fluidity(c.In("T"), 0))
	})
	checks.Each(t, "shift_wlf", func(c *checks.Case) {
		v := materials.Viscosity{FlowCurve: materials.FlowCurve{N: 1, Tau: 1},
			Shift: materials.Shift{Kind: materials.WLF, Eta0: 1, Tref: c.In("Tref"), A1: c.In("C1") * math.Ln10,
				A2: c.In("C2")}, Cap: 1e30}
		a := 1 / v.Fluidity(c.In("T"), 0)
		c.Want("aT", a)
		c.Want("log10_aT", math.Log10(a))
	})
}

func TestDucts(t *testing.T) {
	checks.Each(t, "duct_rect", func(c *checks.Case) {
		d := duct.Rectangle(1, c.In("aspect"))
		mean, peak := duct.RectangleVelocity(c.In("aspect"))
		c.Want("fRe", d.FRe(1))
		c.Want("umax_over_umean", peak/mean)
		c.Want("flow_factor", reference.RectFactor(c.In("aspect")))
		c.Want("kozicki_a", d.A)
		c.Want("kozicki_b", d.B)
	})
	checks.Each(t, "rect_dp", func(c *checks.Case) {
		c.Want("dp", duct.Rectangle(c.In("W"), c.In("h")).PowerDrop(c.In("eta"), 1, c.In("Q"), c.In("L")))
	})
	checks.Each(t, "kozicki_fre",
		func(c *checks.Case) { c.Want("fRe", duct.Duct{A: c.In("a"), B: c.In("b")}.FRe(c.In("n"))) })
	checks.Each(t, "duct_semicircle", func(c *checks.Case) {
		d := duct.HalfRound(1)
		q := 1 / d.PowerDrop(1, 1, 1, 1)
		c.Want("flow_coeff", q, 2e-3)
		c.Want("fRe", d.FRe(1), 2e-3)
		c.Want("ratio_to_half_of_full_tube", q/(math.Pi/16), 2e-3)
	})
	// The two-number rule against finite-element values: a few per cent, as its source says.
	flowAt := func(d duct.Duct, n float64) float64 { // flow at unit gradient and K = 1
		return math.Pow(1/d.PowerDrop(1, n, 1, 1), 1/n)
	}
	fem := func(kind string, rel float64, duct func(c *checks.Case) duct.Duct) {
		checks.Each(t, kind, func(c *checks.Case) {
			d := duct(c)
			c.Want("fRe", d.FRe(c.In("n")), rel)
			c.Want("flow_coeff", flowAt(d, c.In("n")), 1.2*rel/c.In("n"))
			c.Want("area", d.Area, 1e-6)
			c.Want("perimeter", d.Perimeter, 1e-6)
		})
	}
	fem("duct_fem_square", 0.04, func(c *checks.Case) duct.Duct { return duct.Rectangle(1, 1) })
	fem("duct_fem_halfround", 0.01, func(c *checks.Case) duct.Duct { return duct.HalfRound(1) })
	fem("duct_fem_trapezoid", 0.05,
		func(c *checks.Case) duct.Duct { return duct.Trapezoid(c.In("wide"), c.In("narrow"), c.In("height")) })
	// Any law in a duct: the power law must give the closed form.
	d := duct.Rectangle(2e-3, 1e-3)
	if got, want := d.Drop(reference.PowerLaw(5000, 0.4), 1e-8, 0.01),
		d.PowerDrop(5000, 0.4, 1e-8, 0.01); !(math.Abs(got/want-1) <= 1e-6) {
		t.Errorf("general duct rule %v, closed form %v", got, want)
	}
}

func TestAnyLawIsInvertedInTubeAndSlit(t *testing.T) {
	names := materials.Names()
	rapid.Check(t, func(t *rapid.T) {
		m, _ := materials.Get(rapid.SampledFrom(names).Draw(t, "material"))
		T := rapid.Float64Range(300, 700).Draw(t, "T")
		q := math.Exp(rapid.Float64Range(-27, -16).Draw(t, "ln Q"))
		l := duct.At(&m.Viscosity, T, 0)
		tau := l.TubeStress(q, 2e-4)
		if got := l.TubeFlow(tau, 2e-4); !(math.Abs(got/q-1) <= 1e-9) {
			t.Fatalf("%s at %g K: flow %g at the stress found for %g", m.ID, T, got, q)
		}
		if more := l.TubeStress(q*1.5, 2e-4); !(more > tau) {
			t.Fatalf("stress does not rise with flow: %g, %g", tau, more)
		}
	})
}

// A flow beyond what any stress gives, or below, is said to be so and not taken for the end of the search.
func TestStressOutOfRange(t *testing.T) {
	l := reference.PowerLaw(1000, 0.4)
	if tau := l.TubeStress(1e300, 1e-3); !math.IsInf(tau, 1) {
		t.Errorf("a flow without end takes %v Pa", tau)
	}
	if tau := l.TubeStress(1e-300, 1e-3); tau != 0 {
		t.Errorf("no flow takes %v Pa", tau)
	}
	if tau := duct.Law(func(float64) float64 { return math.NaN() }).TubeStress(1e-9, 1e-3); !math.IsNaN(tau) {
		t.Errorf("a law that is not a number takes %v Pa", tau)
	}
}
