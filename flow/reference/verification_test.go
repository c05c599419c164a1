package reference_test

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"meltload/flow/reference"
	"meltload/materials/checks"
)

const sobolPoints = 1 << 14

func TestSobolIndicesOfKnownFunctions(t *testing.T) {
	near := func(c *checks.Case, name string, got, want float64) {
		if !(math.Abs(got-want) <= 0.02) {
			t.Errorf("%s %s: %.4f, exact %.4f", c.ID, name, got, want)
		}
	}
	checks.Each(t, "ishigami", func(c *checks.Case) {
		a, b := c.In("a"), c.In("b")
		s := reference.SobolIndices(func(u []float64) float64 {
			x := [3]float64{}
			for i := range x {
				x[i] = math.Pi * (2*u[i] - 1)
			}
			return math.Sin(x[0]) + a*math.Pow(math.Sin(x[1]), 2) + b*math.Pow(x[2], 4)*math.Sin(x[0])
		}, 3, sobolPoints, 1)
		c.Want("mean", s.Mean, 0.01)
		c.Want("variance", s.Variance, 0.02)
		for i, n := range []string{"1", "2", "3"} {
			near(c, "S"+n, s.First[i], c.Number("S"+n))
			near(c, "ST"+n, s.Total[i], c.Number("ST"+n))
		}
	})
	checks.Each(t, "gfunction", func(c *checks.Case) {
		a := c.List("a")
		s := reference.SobolIndices(func(u []float64) float64 {
			y := 1.0
			for i, ai := range a {
				y *= (math.Abs(4*u[i]-2) + ai) / (1 + ai)
			}
			return y
		}, len(a), sobolPoints, 1)
		c.Want("mean", s.Mean, 0.01)
		c.Want("variance", s.Variance, 0.03)
		for i, w := range c.Numbers("S") {
			near(c, "S", s.First[i], w)
		}
		for i, w := range c.Numbers("ST") {
			near(c, "ST", s.Total[i], w)
		}
	})
	checks.Each(t, "linear_sobol", func(c *checks.Case) {
		k, sd := c.List("c"), c.List("sd")
		s := reference.SobolIndices(func(u []float64) float64 {
			y := 0.0
			for i := range k {
				y += k[i] * sd[i] * distuv.UnitNormal.Quantile(u[i])
			}
			return y
		}, len(k), sobolPoints, 1)
		c.Want("variance", s.Variance, 0.02)
		for i, w := range c.Numbers("S") {
			near(c, "S", s.First[i], w)
		}
	})
	checks.Each(t, "product_sobol", func(c *checks.Case) {
		mu, sd := c.List("mu"), c.List("sd")
		s := reference.SobolIndices(func(u []float64) float64 {
			y := 1.0
			for i := range mu {
				y *= mu[i] + sd[i]*distuv.UnitNormal.Quantile(u[i])
			}
			return y
		}, len(mu), sobolPoints, 1)
		c.Want("variance", s.Variance, 0.02)
		for i, w := range c.Numbers("S") {
			near(c, "S", s.First[i], w)
		}
		for i, w := range c.Numbers("ST") {
			near(c, "ST", s.Total[i], w)
		}
	})
}

func TestVerificationFormulas(t *testing.T) {
	checks.Each(t, "gci_const_r", func(c *checks.Case) {
		g := reference.NewGridIndex(c.In("f1"), c.In("f2"), c.In("f3"), c.In("r"), c.In("Fs"))
		c.Want("p", g.Order)
		c.Want("f_extrapolated", g.Extrapolated)
		c.Want("gci12_pct", 100*g.Fine)
		c.Want("gci23_pct", 100*g.Coarse)
		c.Want("asymptotic_ratio", g.Asymptotic)
	})
	checks.Each(t, "gci_celik", func(c *checks.Case) {
		f1, f2, r := c.In("phi1"), c.In("phi2"), c.In("r21")
		p := reference.CelikOrder(f1, f2, c.In("phi3"), r, c.In("r32"))
		k := math.Pow(r, p)
		ext := (k*f1 - f2) / (k - 1)
		ea := math.Abs((f1 - f2) / f1)
		c.Want("p", p)
		c.Want("phi_ext", ext)
		c.Want("e_a_pct", 100*ea)
		c.Want("e_ext_pct", 100*math.Abs((ext-f1)/ext))
		c.Want("gci_pct", 125*ea/(k-1))
	})
	checks.Each(t, "order_observed", func(c *checks.Case) {
		c.Want("p", reference.ObservedOrder(c.In("e_coarse"), c.In("e_fine"), c.In("r")))
	})
	checks.Each(t, "vv20", func(c *checks.Case) {
		e, u := reference.Validation(c.In("S"), c.In("D"), c.In("u_num"), c.In("u_input"), c.In("u_D"))
		c.Want("E", e)
		c.Want("u_val", u)
		c.Want("lo", e-c.In("k")*u)
		c.Want("hi", e+c.In("k")*u)
	})
}
