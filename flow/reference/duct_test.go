package reference_test

import (
	"math"
	"testing"

	"meltload/flow/duct"
	"meltload/flow/reference"
	"meltload/materials"
	"meltload/materials/checks"
)

func TestNewtonianAndPowerLawTubes(t *testing.T) {
	checks.Each(t, "tube_newton", func(c *checks.Case) {
		dp, tau, rate := reference.PowerMelt{K: c.In("eta"), N: 1}.Tube(c.In("Q"), c.In("R"), c.In("L"))
		c.Want("dp", dp)
		c.Want("tau_w", tau)
		c.Want("gamma_w", rate)
		c.Want("v_mean", c.In("Q")/(math.Pi*c.In("R")*c.In("R")))
	})
	checks.Each(t, "tube_powerlaw", func(c *checks.Case) {
		k, n, q, r, l := c.In("K"), c.In("n"), c.In("Q"), c.In("R"), c.In("L")
		dp, tau, rate := reference.PowerMelt{K: k, N: n}.Tube(q, r, l)
		c.Want("gamma_app", 4*q/(math.Pi*r*r*r))
		c.Want("gamma_w", rate)
		c.Want("tau_w", tau)
		c.Want("dp", dp)
		c.Want("umax_over_umean", (3*n+1)/(n+1))
		c.Want("eta_app_at_wall", tau/(4*q/(math.Pi*r*r*r)))
		if got := reference.PowerLaw(k, n).TubeDrop(q, r, l); !(math.Abs(got/dp-1) <= 1e-9) {
			t.Errorf("quadrature gives %v, closed form %v", got, dp)
		}
	})
	checks.Each(t, "slit_powerlaw", func(c *checks.Case) {
		k, n, q, w, h, l := c.In("K"), c.In("n"), c.In("Q"), c.In("W"), c.In("h"), c.In("L")
		dp, tau, rate := reference.PowerMelt{K: k, N: n}.Slit(q, w, h, l)
		if _, ok := c.Expected["gamma_app"]; ok {
			c.Want("gamma_app", 6*q/(w*h*h))
			c.Want("gamma_w", rate)
			c.Want("tau_w", tau)
		}
		c.Want("dp", dp)
		if _, ok := c.Expected["force"]; ok {
			c.Skip("force")
		}
		if got := reference.PowerLaw(k, n).SlitDrop(q, w, h, l); !(math.Abs(got/dp-1) <= 1e-9) {
			t.Errorf("quadrature gives %v, closed form %v", got, dp)
		}
	})
}

func TestRabinowitsch(t *testing.T) {
	checks.Each(t, "tube_ellis", func(c *checks.Case) {
		l := reference.Ellis(c.In("eta0"), c.In("tau_half"), c.In("alpha"))
		tau, r := c.In("tau_w"), c.In("R")
		q := l.TubeFlow(tau, r)
		c.Want("Q", q)
		c.Want("gamma_w", l(tau))
		c.Want("gamma_app", 4*q/(math.Pi*r*r*r))
	})
	checks.Each(t, "wr_table", func(c *checks.Case) {
		g, tau := c.List("gamma_app"), c.List("tau_w")
		n, ka, k, rate := reference.RabinowitschTable(g, tau)
		eta := make([]float64, len(g))
		for i := range g {
			eta[i] = tau[i] / rate[i]
		}
		c.Want("n_prime", n)
		c.Want("K_prime", ka)
		c.Want("K", k)
		c.WantList("gamma_w", rate)
		c.WantList("eta", eta)
	})
	plateau := func(c *checks.Case, f func(g float64) float64) duct.Law {
		return reference.WithPlateau(c.In("eta0"), c.In("etainf"), f)
	}
	carreau := func(c *checks.Case) duct.Law {
		s := materials.FlowCurve{Kind: materials.CarreauYasuda, N: c.In("n"), Tau: 1 / c.In("lam"), A: 2}
		return plateau(c, s.H)
	}
	cross := func(c *checks.Case) duct.Law {
		s := materials.FlowCurve{Kind: materials.Cross, N: 1 - c.In("m"), Tau: 1 / c.In("lam")}
		return plateau(c, s.H)
	}
	for kind, law := range map[string]func(*checks.Case) duct.Law{"tube_carreau": carreau, "tube_cross": cross} {
		checks.Each(t, kind, func(c *checks.Case) {
			l := law(c)
			c.Want("gamma_w", l(c.In("tau_w")))
			c.Want("Q", l.TubeFlow(c.In("tau_w"), c.In("R")))
		})
	}
	for kind, law := range map[string]func(*checks.Case) duct.Law{"slit_carreau": carreau, "slit_cross": cross} {
		checks.Each(t, kind, func(c *checks.Case) {
			l := law(c)
			c.Want("gamma_w", l(c.In("tau_w")))
			c.Want("Q", l.SlitFlow(c.In("tau_w"), c.In("W"), c.In("h")))
		})
	}
}

func TestCones(t *testing.T) {
	checks.Each(t, "cone_powerlaw", func(c *checks.Case) {
		r1, r2, a := c.In("R1"), c.In("R2"), c.In("half_angle_deg")*math.Pi/180
		k, n, q := c.In("K"), c.In("n"), c.In("Q")
		length := math.Abs(r1-r2) / math.Tan(a)
		dp := reference.PowerMelt{K: k, N: n}.Cone(q, r1, r2, a)
		c.Want("L", length)
		c.Want("dp", dp)
		if got := reference.PowerLaw(k, n).ConeDrop(q, r1, r2, length); !(math.Abs(got/dp-1) <= 1e-7) {
			t.Errorf("quadrature gives %v, closed form %v", got, dp)
		}
	})
	checks.Each(t, "cone_newton", func(c *checks.Case) {
		r1, r2, l := c.In("R1"), c.In("R2"), c.In("L")
		c.Want("dp", reference.PowerMelt{K: c.In("eta"), N: 1}.Cone(c.In("Q"), r1, r2, math.Atan(math.Abs(r1-r2)/l)))
	})
	checks.Each(t, "cone_stokes", func(c *checks.Case) {
		a := c.In("half_angle_deg") * math.Pi / 180
		axis, work := reference.ConeStokes(c.In("eta"), c.In("Q"), c.In("R1"), c.In("R2"), a)
		lub := reference.PowerMelt{K: c.In("eta"), N: 1}.Cone(c.In("Q"), c.In("R1"), c.In("R2"), a)
		c.Want("dp_axis", axis)
		c.Want("dp_work", work)
		c.Want("dp_lubrication", lub)
		c.Want("ratio_axis", axis/lub)
		c.Want("ratio_work", work/lub)
	})
	checks.Each(t, "nozzle_chain", func(c *checks.Case) {
		k, n, q := c.In("K"), c.In("n"), c.In("Q")
		b, _, _ := reference.PowerMelt{K: k, N: n}.Tube(q, c.In("Rb"), c.In("Lb"))
		cone := reference.PowerMelt{K: k, N: n}.Cone(q, c.In("Rb"), c.In("R"), c.In("half_angle_deg")*math.Pi/180)
		land, _, _ := reference.PowerMelt{K: k, N: n}.Tube(q, c.In("R"), c.In("L"))
		c.Want("dp_barrel", b)
		c.Want("dp_cone", cone)
		c.Want("dp_land", land)
		c.Want("dp", b+cone+land)
		c.Want("force_on_rod_area", (b+cone+land)*math.Pi*c.In("Rb")*c.In("Rb"))
	})
}

func TestAnnuli(t *testing.T) {
	checks.Each(t, "annulus_newton", func(c *checks.Case) {
		q, peak, outer, inner := reference.Annulus{c.In("Ri"), c.In("Ro")}.Newton(c.In("dp")/c.In("L"), c.In("eta"))
		c.Want("Q", q)
		c.Want("r_umax", peak)
		c.Want("tau_outer", outer)
		c.Want("tau_inner", inner)
	})
	checks.Each(t, "annulus_rod", func(c *checks.Case) {
		d := reference.Annulus{c.In("Ri"), c.In("Ro")}.Rod(c.In("V"), c.In("eta"), c.In("dp"), c.In("L"))
		c.Want("Q_drag", d.In)
		c.Want("Q_back", d.Back)
		c.Want("Q_net", d.In-d.Back)
		c.Want("F_shear", d.Force)
		c.Want("dp_no_leak", d.NoLeak)
	})
	checks.Each(t, "annulus_powerlaw", func(c *checks.Case) {
		q, l := reference.Annulus{c.In("Ri"), c.In("Ro")}.Power(c.In("dp")/c.In("L"), c.In("K"), c.In("n"))
		c.Want("lambda_umax", l)
		c.Want("Q", q)
	})
}

// A melt zone of tube, cone and bore with g = phi tau^m, from tube and cone laws; v is the speed of the melt in the
// wide tube.
func TestThreeZoneMomentumBalance(t *testing.T) {
	checks.Each(t, "bellini", func(c *checks.Case) {
		n, r1, r2 := 1/c.In("m"), c.In("D1")/2, c.In("D2")/2
		k := math.Pow(c.In("phi"), -n) * math.Exp(c.In("act")*(1/c.In("T")-1/c.In("Ta")))
		q := c.In("v") * math.Pi * r1 * r1
		dp1, _, _ := reference.PowerMelt{K: k, N: n}.Tube(q, r1, c.In("L1"))
		dp2 := reference.PowerMelt{K: k, N: n}.Cone(q, r1, r2, c.In("cone_full_angle_deg")/2*math.Pi/180)
		dp3, _, _ := reference.PowerMelt{K: k, N: n}.Tube(q, r2, c.In("L2"))
		c.Want("dp1", dp1)
		c.Want("dp2", dp2)
		c.Want("dp3", dp3)
		c.Want("dp", dp1+dp2+dp3)
		c.Want("force", (dp1+dp2+dp3)*math.Pi/4*c.In("D_fil")*c.In("D_fil"))
	})
}

func TestOtherSections(t *testing.T) {
	checks.Each(t, "duct_triangle_eq", func(c *checks.Case) {
		q := reference.TriangleFlow(1)
		c.Want("flow_coeff", q)
		// f Re = Dh^2 A/(2 Q eta/G), Dh = 1/sqrt3, A = sqrt3/4.
		c.Want("fRe", math.Sqrt(3)/4/3/(2*q))
	})
	checks.Each(t, "duct_ellipse",
		func(c *checks.Case) { c.Want("flow_coeff", reference.EllipseFlow(c.In("a"), c.In("b"))) })
}
