package thermal

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"meltload/materials/checks"
)

// The check values and their sources are in testdata/checks.json.

func TestCylinderFirstTerms(t *testing.T) {
	checks.Each(t, "cyl_oneterm", func(c *checks.Case) {
		z, c1 := NewCylinder(c.In("Bi")).OneTerm()
		c.Want("zeta1", z)
		c.Want("C1", c1)
	})
	checks.Each(t, "bessel_zeros", func(c *checks.Case) {
		cyl := NewCylinder(math.Inf(1))
		var j1 []float64
		for _, z := range cyl.Zeta {
			j1 = append(j1, math.J1(z))
		}
		c.WantList("zeros", cyl.Zeta[:])
		c.WantList("J1", j1)
		c.WantList("center_coeff", cyl.centre[:])
		c.WantList("mean_coeff", cyl.mean[:])
	})
}

func TestCylinderSeries(t *testing.T) {
	checks.Each(t, "cyl_wall", func(c *checks.Case) {
		cyl := NewCylinder(math.Inf(1))
		c.Want("theta", cyl.At(c.In("Fo"), c.In("r")))
		c.Want("theta_mean", cyl.Mean(c.In("Fo")))
	})
	checks.Each(t, "cyl_conv", func(c *checks.Case) {
		cyl := NewCylinder(c.In("Bi"))
		c.Want("theta_center", cyl.Centre(c.In("Fo")))
		c.Want("theta_surface", cyl.At(c.In("Fo"), 1))
		c.Want("theta_mean", cyl.Mean(c.In("Fo")))
	})
}

func TestCylinderIsMonotoneAndJoinsItsShortForm(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		bi := math.Exp(rapid.Float64Range(-5, 8).Draw(t, "ln Bi"))
		if rapid.Bool().Draw(t, "fixed wall") {
			bi = math.Inf(1)
		}
		c := NewCylinder(bi)
		a := math.Exp(rapid.Float64Range(-12, 2).Draw(t, "ln Fo"))
		b := a * rapid.Float64Range(1.001, 3).Draw(t, "step")
		for _, f := range []func(float64) float64{c.Centre, c.Mean} {
			ya, yb := f(a), f(b)
			if !(yb <= ya+2e-5 && yb >= -1e-9 && ya <= 1+1e-9) {
				t.Fatalf("Bi %g: theta(%g) = %g, theta(%g) = %g", bi, a, ya, b, yb)
			}
		}
		if j := c.Mean(0.001*(1-1e-9)) - c.Mean(0.001*(1+1e-9)); !(math.Abs(j) <= 2e-3) {
			t.Fatalf("Bi %g: the short-time form misses the series by %g", bi, j)
		}
	})
}

func TestBlockClosedForms(t *testing.T) {
	b := Block{Capacity: 20, Loss: 0.05, Ambient: 298.15, Power: 40}
	// First-order balance by hand: time constant 400 s, steady at full power 800 K above ambient.
	if got := b.Steady(40, 0); !(math.Abs(got-(298.15+800)) <= 1e-9) {
		t.Errorf("steady %v", got)
	}
	tw := b.WarmUp(298.15, 498.15)
	if got := b.After(298.15, 40, 0, tw); !(math.Abs(got-498.15) <= 1e-9) {
		t.Errorf("after the warm-up time the block is at %v", got)
	}
	if p := b.PowerFor(498.15, 7); !(math.Abs(p-17) <= 1e-9) {
		t.Errorf("power %v, want 17", p)
	}
	if !math.IsInf(b.WarmUp(298, 1200), 1) {
		t.Error("an unreachable temperature must take forever")
	}
}

func TestSeriesDoNotAllocate(t *testing.T) {
	c := NewCylinder(7)
	if a := testing.AllocsPerRun(100, func() { _ = c.Centre(0.1) + c.Mean(0.1) + c.Mean(1e-4) }); a != 0 {
		t.Errorf("%v allocations", a)
	}
}

func TestViscousHeat(t *testing.T) {
	checks.Each(t, "adiabatic_rise", func(c *checks.Case) {
		c.Want("dT", AdiabaticRise(c.In("dp"), c.In("rho"), c.In("cp")))
	})
}

func TestFourierNumberOfATargetOutOfRange(t *testing.T) {
	c := NewCylinder(3)
	for _, f := range []func(float64) float64{c.FourierForCentre, c.FourierForMean} {
		if fo := f(0); !math.IsInf(fo, 1) {
			t.Errorf("the wall's own temperature is reached at %v", fo)
		}
		if fo := f(-0.1); !math.IsInf(fo, 1) {
			t.Errorf("beyond the wall's temperature at %v", fo)
		}
		if fo := f(1); fo != 0 {
			t.Errorf("the temperature at the start is reached at %v", fo)
		}
		if fo := f(math.NaN()); !math.IsNaN(fo) {
			t.Errorf("no number gives %v", fo)
		}
	}
}
