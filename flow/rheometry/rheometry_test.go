package rheometry_test

import (
	"math"
	"testing"

	"meltload/flow/rheometry"
	"meltload/materials"
	"meltload/materials/checks"
)

// The table of testdata/materials.md gives melt flow rates computed by an unrelated program.
func TestComputedMeltFlowRates(t *testing.T) {
	for _, c := range []struct {
		id         string
		degC, load float64
		want       float64
	}{
		{"pla", 210, 2.16, 7.9}, {"abs", 220, 10, 29}, {"asa", 220, 10, 33}, {"ps", 200, 5, 4.9}, {"pc", 300, 1.2, 14},
		{"pp", 230, 2.16, 16}, {"hdpe", 190, 2.16, 0.52}, {"ldpe", 190, 2.16, 0.68}, {"pmma", 230, 3.8, 5.7},
		{"tpu", 230, 2.16, 25},
	} {
		m, err := materials.Get(c.id)
		if err != nil {
			t.Fatal(err)
		}
		if c.id == "abs" { // the record has since been set between that table's law and others; here the table's own
			m.Viscosity.FlowCurve.Tau, m.Viscosity.Shift.Eta0 = 5e4, 8.52e16
		}
		// That table holds the melt density at its stored value.
		q := rheometry.ISO1133.VolumeRate(&m.Viscosity, c.degC+273.15, c.load) * m.Density.Melt * 600e3
		if !(math.Abs(q/c.want-1) <= 0.03) {
			t.Errorf("%s: melt flow rate %.3g g/10 min, the table prints %.3g", c.id, q, c.want)
		}
		v, f := rheometry.ISO1133.ScaleToMFR(m, c.degC+273.15, c.load, 6)
		s := *m
		s.Viscosity = v
		if got := rheometry.ISO1133.MFR(&s, c.degC+273.15, c.load); !(math.Abs(got/6-1) <= 0.01) {
			t.Errorf("%s: scaled by %.3g to 6 g/10 min gives %.4g", c.id, f, got)
		}
	}
}

func TestMeltFlowIndexer(t *testing.T) {
	checks.Each(t, "mfr", func(c *checks.Case) {
		x := rheometry.Indexer{c.In("D_die"), c.In("L_die"), c.In("D_piston")}
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

// A melt flow rate is the volume rate times the density at zero pressure, over ten minutes, in grams.
func TestMassRateIsVolumeRateTimesDensity(t *testing.T) {
	m, err := materials.Get("pp")
	if err != nil {
		t.Fatal(err)
	}
	const T, load = 503.15, 2.16
	q := rheometry.ISO1133.VolumeRate(&m.Viscosity, T, load)
	if got, want := rheometry.ISO1133.MFR(m, T, load),
		q*600*1000/m.Density.Volume(T, 0); !(math.Abs(got/want-1) <= 1e-12) || got < 1 {
		t.Errorf("%.4g g/10 min, want %.4g", got, want)
	}
}

// A power law too is brought to its melt flow rate: what the indexer computes with the scaled law is the sheet's rate.
func TestPowerLawScaledToItsRate(t *testing.T) {
	pp, err := materials.Get("pp")
	if err != nil {
		t.Fatal(err)
	}
	m := *pp
	m.Viscosity = materials.Viscosity{FlowCurve: materials.FlowCurve{Kind: materials.PowerLaw, N: 0.4, Tau: 2e4},
		Shift: materials.Shift{Kind: materials.Arrhenius, Eta0: 3000, Tref: 503.15, E: 40e3}, Cap: 1e30}
	const T, load = 503.15, 2.16
	for _, sheet := range []float64{1, 6, 40} {
		v, f := rheometry.ISO1133.ScaleToMFR(&m, T, load, sheet)
		s := m
		s.Viscosity = v
		if got := rheometry.ISO1133.MFR(&s, T, load); !(math.Abs(got/sheet-1) <= 1e-6) {
			t.Errorf("scaled by %.3g to %g g/10 min gives %.4g", f, sheet, got)
		}
	}
}
