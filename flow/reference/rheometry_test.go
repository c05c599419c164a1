package reference_test

import (
	"math"
	"testing"

	"meltload/flow/reference"
	"meltload/materials/checks"
)

func TestCapillaryCorrections(t *testing.T) {
	checks.Each(t, "cogswell_cone", func(c *checks.Case) {
		a := c.In("half_angle_deg") * math.Pi / 180
		s, e := reference.Elongating{PowerMelt: reference.PowerMelt{K: c.In("K"), N: c.In("n")}, KE: c.In("KE"),
			M: c.In("m")}.Entry(a, c.In("R"), c.In("Rb"),
			c.In("Gamma"))
		c.Want("dp_shear", s)
		c.Want("dp_ext", e)
		c.Want("dp_entry", s+e)
		c.Want("ext_rate_at_die", c.In("Gamma")*math.Tan(a)/2)
	})
	checks.Each(t, "cogswell_flat", func(c *checks.Case) {
		s, r, v := reference.CogswellFlat(c.In("dp_entry"), c.In("n"), c.In("K"), c.In("Gamma"))
		c.Want("sigma_ext", s)
		c.Want("rate_ext", r)
		c.Want("eta_ext", v)
	})
	checks.Each(t, "cogswell_P0", func(c *checks.Case) {
		p, a := reference.CogswellLoss(c.In("n"), c.In("eta"), c.In("lam_ext"), c.In("Gamma"))
		c.Want("P0", p)
		c.Want("half_angle_deg", a*180/math.Pi)
	})
	checks.Each(t, "bagley", func(c *checks.Case) {
		tau, end, e := reference.Bagley(c.List("L_over_R"), c.List("p"))
		c.Want("tau_w", tau)
		c.Want("dp_end", end)
		c.Want("e", e)
	})
	checks.Each(t, "capillary", func(c *checks.Case) {
		q, g, a, k := reference.Capillary{c.In("D_barrel"), c.In("D_die"), c.In("L_die")}.Point(c.In("v_piston"),
			c.In("p"), c.In("dp_end"))
		c.Want("Q", q)
		c.Want("gamma_app", g)
		c.Want("tau_app", a)
		c.Want("tau_corr", k)
		c.Want("eta_app", a/g)
		c.Want("eta_bagley", k/g)
	})
}
