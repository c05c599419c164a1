package flow

import (
	"math"
	"testing"

	"meltload/materials"
	"meltload/materials/checks"

	"pgregory.net/rapid"
)

// The check values and their sources are in testdata/checks.json.

func TestNewtonianAndPowerLawTubes(t *testing.T) {
	checks.Each(t, "tube_newton", func(c *checks.Case) {
		dp, tau, rate := PowerTube(c.In("eta"), 1, c.In("Q"), c.In("R"), c.In("L"))
		c.Want("dp", dp)
		c.Want("tau_w", tau)
		c.Want("gamma_w", rate)
		c.Want("v_mean", c.In("Q")/(math.Pi*c.In("R")*c.In("R")))
	})
	checks.Each(t, "tube_powerlaw", func(c *checks.Case) {
		k, n, q, r, l := c.In("K"), c.In("n"), c.In("Q"), c.In("R"), c.In("L")
		dp, tau, rate := PowerTube(k, n, q, r, l)
		c.Want("gamma_app", 4*q/(math.Pi*r*r*r))
		c.Want("gamma_w", rate)
		c.Want("tau_w", tau)
		c.Want("dp", dp)
		c.Want("umax_over_umean", (3*n+1)/(n+1))
		c.Want("eta_app_at_wall", tau/(4*q/(math.Pi*r*r*r)))
		if got := PowerLaw(k, n).TubeDrop(q, r, l); math.Abs(got/dp-1) > 1e-9 {
			t.Errorf("quadrature gives %v, closed form %v", got, dp)
		}
	})
	checks.Each(t, "slit_powerlaw", func(c *checks.Case) {
		k, n, q, w, h, l := c.In("K"), c.In("n"), c.In("Q"), c.In("W"), c.In("h"), c.In("L")
		dp, tau, rate := PowerSlit(k, n, q, w, h, l)
		if _, ok := c.Expected["gamma_app"]; ok {
			c.Want("gamma_app", 6*q/(w*h*h))
			c.Want("gamma_w", rate)
			c.Want("tau_w", tau)
		}
		c.Want("dp", dp)
		if _, ok := c.Expected["force"]; ok {
			c.Skip("force")
		}
		if got := PowerLaw(k, n).SlitDrop(q, w, h, l); math.Abs(got/dp-1) > 1e-9 {
			t.Errorf("quadrature gives %v, closed form %v", got, dp)
		}
	})
}

func TestRabinowitsch(t *testing.T) {
	checks.Each(t, "tube_ellis", func(c *checks.Case) {
		l := Ellis(c.In("eta0"), c.In("tau_half"), c.In("alpha"))
		tau, r := c.In("tau_w"), c.In("R")
		q := l.TubeFlow(tau, r)
		c.Want("Q", q)
		c.Want("gamma_w", l(tau))
		c.Want("gamma_app", 4*q/(math.Pi*r*r*r))
	})
	checks.Each(t, "wr_table", func(c *checks.Case) {
		g, tau := c.List("gamma_app"), c.List("tau_w")
		n, ka, k, rate := RabinowitschTable(g, tau)
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
	plateau := func(c *checks.Case, f func(g float64) float64) Law {
		return WithPlateau(c.In("eta0"), c.In("etainf"), f)
	}
	carreau := func(c *checks.Case) Law {
		s := materials.FlowCurve{Kind: materials.CarreauYasuda, N: c.In("n"), Tau: 1 / c.In("lam"), A: 2}
		return plateau(c, s.H)
	}
	cross := func(c *checks.Case) Law {
		s := materials.FlowCurve{Kind: materials.Cross, N: 1 - c.In("m"), Tau: 1 / c.In("lam")}
		return plateau(c, s.H)
	}
	for kind, law := range map[string]func(*checks.Case) Law{"tube_carreau": carreau, "tube_cross": cross} {
		checks.Each(t, kind, func(c *checks.Case) {
			l := law(c)
			c.Want("gamma_w", l(c.In("tau_w")))
			c.Want("Q", l.TubeFlow(c.In("tau_w"), c.In("R")))
		})
	}
	for kind, law := range map[string]func(*checks.Case) Law{"slit_carreau": carreau, "slit_cross": cross} {
		checks.Each(t, kind, func(c *checks.Case) {
			l := law(c)
			c.Want("gamma_w", l(c.In("tau_w")))
			c.Want("Q", l.SlitFlow(c.In("tau_w"), c.In("W"), c.In("h")))
		})
	}
}

func crossWLF(c *checks.Case) *materials.Viscosity {
	return &materials.Viscosity{
		FlowCurve: materials.FlowCurve{Kind: materials.Cross, N: c.In("n"), Tau: c.In("taustar")},
		Shift:     materials.Shift{Kind: materials.WLF, Eta0: c.In("D1"), Tref: c.In("D2"), A1: c.In("A1"), A2: c.In("A2")},
		Cap:       1e30,
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
		l := At(v, c.In("T"), 0)
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
		v := materials.Viscosity{FlowCurve: materials.FlowCurve{N: 1, Tau: 1}, Shift: materials.Shift{Kind: materials.Arrhenius, Eta0: 1, Tref: c.In("Tref"), E: c.In("Ea")}, Cap: 1e30}
		c.Want("aT", 1/v.Fluidity(c.In("T"), 0))
	})
	checks.Each(t, "shift_wlf", func(c *checks.Case) {
		v := materials.Viscosity{FlowCurve: materials.FlowCurve{N: 1, Tau: 1}, Shift: materials.Shift{Kind: materials.WLF, Eta0: 1, Tref: c.In("Tref"), A1: c.In("C1") * math.Ln10, A2: c.In("C2")}, Cap: 1e30}
		a := 1 / v.Fluidity(c.In("T"), 0)
		c.Want("aT", a)
		c.Want("log10_aT", math.Log10(a))
	})
}

func TestCones(t *testing.T) {
	checks.Each(t, "cone_powerlaw", func(c *checks.Case) {
		r1, r2, a := c.In("R1"), c.In("R2"), c.In("half_angle_deg")*math.Pi/180
		k, n, q := c.In("K"), c.In("n"), c.In("Q")
		length := math.Abs(r1-r2) / math.Tan(a)
		dp := PowerCone(k, n, q, r1, r2, a)
		c.Want("L", length)
		c.Want("dp", dp)
		if got := PowerLaw(k, n).ConeDrop(q, r1, r2, length); math.Abs(got/dp-1) > 1e-7 {
			t.Errorf("quadrature gives %v, closed form %v", got, dp)
		}
	})
	checks.Each(t, "cone_newton", func(c *checks.Case) {
		r1, r2, l := c.In("R1"), c.In("R2"), c.In("L")
		c.Want("dp", PowerCone(c.In("eta"), 1, c.In("Q"), r1, r2, math.Atan(math.Abs(r1-r2)/l)))
	})
	checks.Each(t, "cone_stokes", func(c *checks.Case) {
		a := c.In("half_angle_deg") * math.Pi / 180
		axis, work := ConeStokes(c.In("eta"), c.In("Q"), c.In("R1"), c.In("R2"), a)
		lub := PowerCone(c.In("eta"), 1, c.In("Q"), c.In("R1"), c.In("R2"), a)
		c.Want("dp_axis", axis)
		c.Want("dp_work", work)
		c.Want("dp_lubrication", lub)
		c.Want("ratio_axis", axis/lub)
		c.Want("ratio_work", work/lub)
	})
	checks.Each(t, "nozzle_chain", func(c *checks.Case) {
		k, n, q := c.In("K"), c.In("n"), c.In("Q")
		b, _, _ := PowerTube(k, n, q, c.In("Rb"), c.In("Lb"))
		cone := PowerCone(k, n, q, c.In("Rb"), c.In("R"), c.In("half_angle_deg")*math.Pi/180)
		land, _, _ := PowerTube(k, n, q, c.In("R"), c.In("L"))
		c.Want("dp_barrel", b)
		c.Want("dp_cone", cone)
		c.Want("dp_land", land)
		c.Want("dp", b+cone+land)
		c.Want("force_on_rod_area", (b+cone+land)*math.Pi*c.In("Rb")*c.In("Rb"))
	})
}

func TestAnnuli(t *testing.T) {
	checks.Each(t, "annulus_newton", func(c *checks.Case) {
		q, peak, outer, inner := Annulus{c.In("Ri"), c.In("Ro")}.Newton(c.In("dp")/c.In("L"), c.In("eta"))
		c.Want("Q", q)
		c.Want("r_umax", peak)
		c.Want("tau_outer", outer)
		c.Want("tau_inner", inner)
	})
	checks.Each(t, "annulus_rod", func(c *checks.Case) {
		d := Annulus{c.In("Ri"), c.In("Ro")}.Rod(c.In("V"), c.In("eta"), c.In("dp"), c.In("L"))
		c.Want("Q_drag", d.In)
		c.Want("Q_back", d.Back)
		c.Want("Q_net", d.In-d.Back)
		c.Want("F_shear", d.Force)
		c.Want("dp_no_leak", d.NoLeak)
	})
	checks.Each(t, "annulus_powerlaw", func(c *checks.Case) {
		q, l := Annulus{c.In("Ri"), c.In("Ro")}.Power(c.In("dp")/c.In("L"), c.In("K"), c.In("n"))
		c.Want("lambda_umax", l)
		c.Want("Q", q)
	})
}

func TestDucts(t *testing.T) {
	checks.Each(t, "duct_rect", func(c *checks.Case) {
		d := Rectangle(1, c.In("aspect"))
		mean, peak := rectSeries(c.In("aspect"))
		c.Want("fRe", d.FRe(1))
		c.Want("umax_over_umean", peak/mean)
		c.Want("flow_factor", RectFactor(c.In("aspect")))
		c.Want("kozicki_a", d.A)
		c.Want("kozicki_b", d.B)
	})
	checks.Each(t, "rect_dp", func(c *checks.Case) {
		c.Want("dp", Rectangle(c.In("W"), c.In("h")).PowerDrop(c.In("eta"), 1, c.In("Q"), c.In("L")))
	})
	checks.Each(t, "kozicki_fre", func(c *checks.Case) { c.Want("fRe", Duct{A: c.In("a"), B: c.In("b")}.FRe(c.In("n"))) })
	checks.Each(t, "duct_semicircle", func(c *checks.Case) {
		d := HalfRound(1)
		q := 1 / d.PowerDrop(1, 1, 1, 1)
		c.Want("flow_coeff", q, 2e-3)
		c.Want("fRe", d.FRe(1), 2e-3)
		c.Want("ratio_to_half_of_full_tube", q/(math.Pi/16), 2e-3)
	})
	checks.Each(t, "duct_triangle_eq", func(c *checks.Case) {
		q := TriangleFlow(1)
		c.Want("flow_coeff", q)
		// f Re = Dh^2 A/(2 Q eta/G), Dh = 1/sqrt3, A = sqrt3/4.
		c.Want("fRe", math.Sqrt(3)/4/3/(2*q))
	})
	checks.Each(t, "duct_ellipse", func(c *checks.Case) { c.Want("flow_coeff", EllipseFlow(c.In("a"), c.In("b"))) })
	// The two-number rule against finite-element values: a few per cent, as its source says.
	flowAt := func(d Duct, n float64) float64 { // flow at unit gradient and K = 1
		return math.Pow(1/d.PowerDrop(1, n, 1, 1), 1/n)
	}
	fem := func(kind string, rel float64, duct func(c *checks.Case) Duct) {
		checks.Each(t, kind, func(c *checks.Case) {
			d := duct(c)
			c.Want("fRe", d.FRe(c.In("n")), rel)
			c.Want("flow_coeff", flowAt(d, c.In("n")), 1.2*rel/c.In("n"))
			c.Want("area", d.Area, 1e-6)
			c.Want("perimeter", d.Perimeter, 1e-6)
		})
	}
	fem("duct_fem_square", 0.04, func(c *checks.Case) Duct { return Rectangle(1, 1) })
	fem("duct_fem_halfround", 0.01, func(c *checks.Case) Duct { return HalfRound(1) })
	fem("duct_fem_trapezoid", 0.05, func(c *checks.Case) Duct { return Trapezoid(c.In("wide"), c.In("narrow"), c.In("height")) })
	// Any law in a duct: the power law must give the closed form.
	d := Rectangle(2e-3, 1e-3)
	if got, want := d.Drop(PowerLaw(5000, 0.4), 1e-8, 0.01), d.PowerDrop(5000, 0.4, 1e-8, 0.01); math.Abs(got/want-1) > 1e-6 {
		t.Errorf("general duct rule %v, closed form %v", got, want)
	}
}

func TestCapillaryCorrections(t *testing.T) {
	checks.Each(t, "cogswell_cone", func(c *checks.Case) {
		a := c.In("half_angle_deg") * math.Pi / 180
		s, e := CogswellCone(c.In("K"), c.In("n"), c.In("KE"), c.In("m"), a, c.In("R"), c.In("Rb"), c.In("Gamma"))
		c.Want("dp_shear", s)
		c.Want("dp_ext", e)
		c.Want("dp_entry", s+e)
		c.Want("ext_rate_at_die", c.In("Gamma")*math.Tan(a)/2)
	})
	checks.Each(t, "cogswell_flat", func(c *checks.Case) {
		s, r, v := CogswellFlat(c.In("dp_entry"), c.In("n"), c.In("K"), c.In("Gamma"))
		c.Want("sigma_ext", s)
		c.Want("rate_ext", r)
		c.Want("eta_ext", v)
	})
	checks.Each(t, "cogswell_P0", func(c *checks.Case) {
		p, a := CogswellLoss(c.In("n"), c.In("eta"), c.In("lam_ext"), c.In("Gamma"))
		c.Want("P0", p)
		c.Want("half_angle_deg", a*180/math.Pi)
	})
	checks.Each(t, "bagley", func(c *checks.Case) {
		tau, end, e := Bagley(c.List("L_over_R"), c.List("p"))
		c.Want("tau_w", tau)
		c.Want("dp_end", end)
		c.Want("e", e)
	})
	checks.Each(t, "capillary", func(c *checks.Case) {
		q, g, a, k := Capillary{c.In("D_barrel"), c.In("D_die"), c.In("L_die")}.Point(c.In("v_piston"), c.In("p"), c.In("dp_end"))
		c.Want("Q", q)
		c.Want("gamma_app", g)
		c.Want("tau_app", a)
		c.Want("tau_corr", k)
		c.Want("eta_app", a/g)
		c.Want("eta_bagley", k/g)
	})
	checks.Each(t, "mfr", func(c *checks.Case) {
		x := Indexer{c.In("D_die"), c.In("L_die"), c.In("D_piston")}
		q := c.In("mfr_g_10min") / 1000 / 600 / c.In("rho_melt")
		tau := x.WallStress(c.In("mass_kg"))
		g := 32 * q / (math.Pi * math.Pow(x.Die, 3))
		c.Want("pressure", x.Pressure(c.In("mass_kg")))
		c.Want("tau_app", tau)
		c.Want("Q", q)
		c.Want("gamma_app", g)
		c.Want("eta_app", tau/g)
		c.Want("mvr_cm3_10min", q*600*1e6)
	})
}

// The table of testdata/materials.md gives melt flow rates computed by an unrelated program.
func TestComputedMeltFlowRates(t *testing.T) {
	for _, c := range []struct {
		id         string
		degC, load float64
		want       float64
	}{
		{"pla", 210, 2.16, 7.9}, {"abs", 220, 10, 29}, {"asa", 220, 10, 33}, {"ps", 200, 5, 4.9}, {"pc", 300, 1.2, 14},
		{"pp", 230, 2.16, 16}, {"hdpe", 190, 2.16, 0.52}, {"ldpe", 190, 2.16, 0.68}, {"pmma", 230, 3.8, 5.7}, {"tpu", 230, 2.16, 25},
	} {
		m, err := materials.Get(c.id)
		if err != nil {
			t.Fatal(err)
		}
		// That table holds the melt density at its stored value.
		q := ISO1133.VolumeRate(&m.Viscosity, c.degC+273.15, c.load) * m.Density.Melt * 600e3
		if math.Abs(q/c.want-1) > 0.03 {
			t.Errorf("%s: melt flow rate %.3g g/10 min, the table prints %.3g", c.id, q, c.want)
		}
		v, f := ISO1133.ScaleToMFR(m, c.degC+273.15, c.load, 6)
		s := *m
		s.Viscosity = v
		if got := ISO1133.MFR(&s, c.degC+273.15, c.load); math.Abs(got/6-1) > 0.01 {
			t.Errorf("%s: scaled by %.3g to 6 g/10 min gives %.4g", c.id, f, got)
		}
	}
}

func TestAnyLawIsInvertedInTubeAndSlit(t *testing.T) {
	names := materials.Names()
	rapid.Check(t, func(t *rapid.T) {
		m, _ := materials.Get(rapid.SampledFrom(names).Draw(t, "material"))
		T := rapid.Float64Range(300, 700).Draw(t, "T")
		q := math.Exp(rapid.Float64Range(-27, -16).Draw(t, "ln Q"))
		l := At(&m.Viscosity, T, 0)
		tau := l.TubeStress(q, 2e-4)
		if got := l.TubeFlow(tau, 2e-4); math.Abs(got/q-1) > 1e-9 {
			t.Fatalf("%s at %g K: flow %g at the stress found for %g", m.ID, T, got, q)
		}
		if more := l.TubeStress(q*1.5, 2e-4); !(more > tau) {
			t.Fatalf("stress does not rise with flow: %g, %g", tau, more)
		}
	})
}

// A melt zone of tube, cone and bore with g = phi tau^m, from tube and cone laws; v is the speed of the melt in the wide tube.
func TestThreeZoneMomentumBalance(t *testing.T) {
	checks.Each(t, "bellini", func(c *checks.Case) {
		n, r1, r2 := 1/c.In("m"), c.In("D1")/2, c.In("D2")/2
		k := math.Pow(c.In("phi"), -n) * math.Exp(c.In("act")*(1/c.In("T")-1/c.In("Ta")))
		q := c.In("v") * math.Pi * r1 * r1
		dp1, _, _ := PowerTube(k, n, q, r1, c.In("L1"))
		dp2 := PowerCone(k, n, q, r1, r2, c.In("cone_full_angle_deg")/2*math.Pi/180)
		dp3, _, _ := PowerTube(k, n, q, r2, c.In("L2"))
		c.Want("dp1", dp1)
		c.Want("dp2", dp2)
		c.Want("dp3", dp3)
		c.Want("dp", dp1+dp2+dp3)
		c.Want("force", (dp1+dp2+dp3)*math.Pi/4*c.In("D_fil")*c.In("D_fil"))
	})
}
