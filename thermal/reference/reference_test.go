package reference

import (
	"math"
	"testing"

	"meltload/materials/checks"
	"meltload/thermal"
)

func TestGraetz(t *testing.T) {
	checks.Each(t, "graetz_eigs", func(c *checks.Case) {
		g := NewGraetz(1, 100)
		flux := make([]float64, len(g.Lam))
		axis := make([]float64, len(g.Lam))
		for i, l := range g.Lam {
			flux[i] = l * l * g.Weight[i] / 8
			axis[i] = g.Axis[i]
		}
		c.WantList("lam", g.Lam)
		c.WantList("mix", g.Weight)
		c.WantList("G", flux)
		c.WantList("C", axis, 2e-6)
	})
	checks.Each(t, "graetz_tube", func(c *checks.Case) {
		g := NewGraetz(c.In("n"), 100)
		local, mean := g.Nusselt(c.In("xstar"))
		rel := 1e-6
		if c.In("xstar") < 0.005 {
			// 40 and 100 modes agree here to 3e-9 and give the 10.130 and 15.384 of Shah and
			// London's table (from memory); the entry's own series stops earlier.
			rel = 2e-4
		}
		c.Want("theta_m", g.MixingCup(c.In("xstar")), rel)
		c.Want("Nu_x", local, rel)
		c.Want("Nu_mean", mean, rel)
	})
	checks.Each(t, "graetz_nuinf", func(c *checks.Case) {
		n := c.In("n")
		c.Want("Nu_T", NewGraetz(n, 40).NusseltDeveloped())
		c.Want("Nu_H", NusseltFlux(n))
	})
	checks.Each(t, "slit_graetz", func(c *checks.Case) {
		g := NewSlitGraetz(1, 40)
		c.Want("lam1", g.Lam[0])
		// On the hydraulic diameter 2h the number is (8/3) lam1^2 = 4 lam1^2/PeakRatio.
		c.Want("Nu_T", 4*g.NusseltDeveloped())
		c.Skip("Nu_H") // the constant 140/17: slit flux heating is not offered
	})
	checks.Each(t, "leveque", func(c *checks.Case) {
		one, mean1 := Leveque(c.In("n"), 1)
		local, _ := Leveque(c.In("n"), c.In("xstar"))
		c.Want("coef_local", one)
		c.Want("coef_mean", mean1)
		c.Want("Nu_x", local)
	})
	checks.Each(t, "corr_hausen", func(c *checks.Case) { c.Want("Nu_mean", Hausen(c.In("Gz"))) })
	checks.Each(t, "corr_baehr_stephan", func(c *checks.Case) { c.Want("Nu_mean", BaehrStephan(c.In("Gz"))) })
}

func TestViscousHeating(t *testing.T) {
	checks.Each(t, "brinkman_tube", func(c *checks.Case) {
		b := NewBrinkman(c.In("n"))
		c.Want("center", b.Centre)
		c.Want("mixing_cup", b.MixingCup)
		c.Want("Nu", b.Nusselt)
	})
	checks.Each(t, "brinkman_case", func(c *checks.Case) {
		n, R := c.In("n"), c.In("R")
		g := 4 * c.In("Q") / (math.Pi * R * R * R) * (3*n + 1) / (4 * n)
		scale := c.In("K") * math.Pow(g, n+1) * R * R / c.In("k")
		b := NewBrinkman(n)
		c.Want("gamma_w", g)
		c.Want("dT_center", scale*b.Centre)
		c.Want("dT_mix", scale*b.MixingCup)
	})
	checks.Each(t, "brinkman_flux", func(c *checks.Case) {
		w, nu := BrinkmanFlux(c.In("Br"))
		c.Want("wall_minus_mix", w)
		c.Want("Nu", nu)
		c.Skip("Br_crit") // -11/24, in the formula
	})
	checks.Each(t, "nahme_tube", func(c *checks.Case) {
		s, ok := NewNahme(c.In("delta"), c.In("n"))
		if !ok {
			t.Fatal("no solution below the critical value")
		}
		c.Want("B", s.B)
		c.Want("dT_center_times_b", s.Centre)
		c.Want("Q_ratio", 1+s.B)
		c.Want("delta_crit", NahmeCritical(c.In("n")))
	})
	checks.Each(t, "nahme_tube_crit", func(c *checks.Case) {
		n := c.In("n")
		d := NahmeCritical(n)
		s, ok := NewNahme(d, n)
		if !ok {
			t.Fatal("the critical value itself has a solution")
		}
		if _, ok := NewNahme(d*1.0001, n); ok {
			t.Error("a solution above the critical value")
		}
		c.Want("delta_crit", d)
		c.Want("dT_center_times_b", s.Centre, 1e-7) // a double root: half the digits
		c.Want("Q_ratio", 1+s.B, 1e-7)
	})
	checks.Each(t, "nahme_couette", func(c *checks.Case) {
		r, rise := NahmeCouette(c.In("Na"))
		c.Want("tau_ratio", r)
		c.Want("dT_max_times_b", rise)
	})
}

func TestFreezing(t *testing.T) {
	checks.Each(t, "neumann_1ph", func(c *checks.Case) { c.Want("lam", Stefan(c.In("Ste"))) })
	checks.Each(t, "neumann_2ph", func(c *checks.Case) {
		f := Freeze{KSolid: c.In("k_s"), KLiquid: c.In("k_l"), Rho: c.In("rho"), CSolid: c.In("c_s"),
			CLiquid: c.In("c_l"),
			Latent:  c.In("Lf"), Melt: c.In("T_melt"), Freeze: c.In("T_f"), Wall: c.In("T_wall")}
		c.Want("lam", f.Lambda())
		c.Want("layer", f.Layer(c.In("t")))
	})
	checks.Each(t, "contact_plate", func(c *checks.Case) {
		x := pressed(c).Plate()
		c.Want("V", x.Speed)
		c.Want("film", x.Film)
		c.Want("p_center", x.Pressure)
	})
	checks.Each(t, "contact_hole", func(c *checks.Case) {
		x := pressed(c).Hole(c.In("Ri"), c.In("half_angle_deg")*math.Pi/180, c.In("p_i"))
		c.Want("V", x.Speed)
		c.Want("film", x.Film)
		c.Want("Q", x.Speed*math.Pi*c.In("R")*c.In("R"))
		c.Want("geom", x.Shape)
	})
	x := Pressed{Radius: 1e-3, Force: 10, Eta: 500, K: 0.2, Density: 1100, Step: 60, Heat: 3e5}.Hole(2e-4, 1, 1e8)
	if x.Speed != 0 {
		t.Errorf("a force below the pressure melts at %g m/s", x.Speed)
	}
}

func pressed(c *checks.Case) Pressed {
	return Pressed{Radius: c.In("R"), Force: c.In("F"), Eta: c.In("eta"), K: c.In("k"), Density: c.In("rho"),
		Step: c.In("dT"), Heat: c.In("dh")}
}

func TestFeedLimits(t *testing.T) {
	limit := func(c *checks.Case, cyl *thermal.Cylinder) {
		R, L, alpha, target := c.In("R"), c.In("L"), c.In("alpha"), c.In("theta_target")
		fo := cyl.FourierForCentre(target)
		zeta, c1 := cyl.OneTerm()
		v := FeedSpeedLimit(alpha, L, R, fo)
		c.Want("Fo_exact", fo)
		c.Want("Fo_one_term", math.Log(c1/target)/(zeta*zeta))
		c.Want("v_max", v)
		c.Want("Q_max", v*math.Pi*R*R)
		if _, ok := c.Expected["Pe_R"]; ok {
			c.Want("Pe_R", v*R/alpha)
		}
	}
	checks.Each(t, "rod_vmax", func(c *checks.Case) { limit(c, thermal.NewCylinder(math.Inf(1))) })
	checks.Each(t, "rod_vmax_conv", func(c *checks.Case) { limit(c, thermal.NewCylinder(c.In("Bi"))) })
	checks.Each(t, "rod_vmax_mean", func(c *checks.Case) {
		fo := thermal.NewCylinder(math.Inf(1)).FourierForMean(c.In("theta_target"))
		R := c.In("R")
		v := FeedSpeedLimit(c.In("alpha"), c.In("L"), R, fo)
		c.Want("Fo_exact", fo)
		c.Want("v_max", v)
		c.Want("Q_max", v*math.Pi*R*R)
	})
	checks.Each(t, "melt_numbers", func(c *checks.Case) {
		v, R, L, a := c.In("v"), c.In("R"), c.In("L"), c.In("alpha")
		n := NewFeedNumbers(v, R, L, a)
		c.Want("Pe_R", n.Peclet)
		c.Want("Gz", n.Graetz)
		c.Want("Fo", n.Fourier)
		c.Want("dT_scale", c.In("eta")*v*v/c.In("k"))
		c.Want("Na", thermal.Shear{Stress: c.In("eta") * v / R, Rate: v / R, Radius: R, K: c.In("k")}.Nahme(c.In("b")))
	})
	checks.Each(t, "heater_limit", func(c *checks.Case) {
		c.Want("Q_max", HeaterFlow(c.In("P"), c.In("rho"), c.In("cp")*c.In("dT")+c.In("h_fus")))
	})
}

func TestBlockWithANozzleHungOnIt(t *testing.T) {
	b := thermal.Block{Capacity: 20, Loss: 0.05, Ambient: 298.15, Power: 40}
	n := TwoNode{Block: b, NozzleCapacity: 3, NozzleLoss: 0.01, Joint: 1}
	tn := n.SteadyNozzle(498.15, 2)
	if _, dn := n.Rates(498.15, tn, 0, 0, 2); math.Abs(dn) > 1e-12 {
		t.Errorf("nozzle drifts at %v K/s in its steady state", dn)
	}
	if db, _ := n.Rates(b.Ambient, b.Ambient, 40, 0, 0); math.Abs(db-2) > 1e-12 {
		t.Errorf("cold block warms at %v K/s, want 40 W over 20 J/K", db)
	}
}

func TestPlaneAndRodWithAxialConduction(t *testing.T) {
	checks.Each(t, "plane_oneterm", func(c *checks.Case) {
		z, c1 := PlaneOneTerm(c.In("Bi"))
		c.Want("zeta1", z)
		c.Want("C1", c1)
	})
	checks.Each(t, "rod_axial", func(c *checks.Case) {
		centre, mean := RodAxial(c.In("Pe"), c.In("zstar"))
		c.Want("theta_center", centre)
		c.Want("theta_mean", mean)
		c.Want("theta_mean_no_axial", thermal.NewCylinder(math.Inf(1)).Mean(c.In("zstar")/c.In("Pe")))
	})
}
