package march_test

import (
	"math"
	"testing"

	"meltload/flow"
	"meltload/flow/flowtest"
	"meltload/flow/march"
	"meltload/materials/unit"
)

// Full axisymmetric Stokes and energy solutions, computed for this project with a
// general-purpose finite-element library (DOLFINx 0.5, P2/P1): testdata/README.md.

func TestHeatedFiniteElementTable(t *testing.T) {
	var d flow.Solution
	for _, row := range flowtest.Table("fem_heated.csv") {
		c, T, q := flowtest.Heated(row)
		if err := march.New(c, march.Options{}).Solve(T, q, &d); err != nil {
			t.Fatal(err)
		}
		limit := 0.05
		if row.F("Tcentre_cone_entry_C") < 140 {
			limit = 0.12
		}
		if e := d.Pressure/row.F("dp_total_Pa") - 1; math.Abs(e) > limit {
			t.Errorf("%s: drop off by %+.1f %%, allowed %.0f %%", row["case"], 100*e, 100*limit)
		}
		if e := unit.Celsius(d.ExitBulk) - row.F("Tmix_exit_C"); math.Abs(e) > 1 {
			t.Errorf("%s: exit mixing cup off by %+.2f K", row["case"], e)
		}
		if e := unit.Celsius(d.EntryCentre) - row.F("Tcentre_cone_entry_C"); math.Abs(e) > 2 {
			t.Errorf("%s: centre at the cone entry off by %+.2f K", row["case"], e)
		}
		if e := d.Viscous/row.F("viscous_heat_W") - 1; math.Abs(e) > limit {
			t.Errorf("%s: viscous heat off by %+.1f %%", row["case"], 100*e)
		}
	}
}

// The columns march_* of the table are an independent slender-channel solution
// without elongation, good to 2e-5.
func TestLubricationAgainstAnIndependentMarch(t *testing.T) {
	var d flow.Solution
	for _, row := range flowtest.Table("fem_heated.csv") {
		c, T, q := flowtest.Heated(row)
		for _, r := range []struct {
			opt     march.Options
			rel, dT float64
		}{{march.Options{NoElong: true}, 4e-3, 0.28}, {march.Options{NoElong: true, Cells: 60, Axial: 6}, 5e-4, 0.05}} {
			march.New(c, r.opt).Solve(T, q, &d)
			if e := d.Pressure/row.F("march_dp_total_Pa") - 1; math.Abs(e) > r.rel {
				t.Errorf("%s %+v: drop off by %+.3f %%", row["case"], r.opt, 100*e)
			}
			if e := unit.Celsius(d.ExitBulk) - row.F("march_Tmix_exit_C"); math.Abs(e) > r.dT {
				t.Errorf("%s: exit mixing cup off by %+.3f K", row["case"], e)
			}
		}
	}
}

func TestIsothermalFiniteElementTable(t *testing.T) {
	var d flow.Solution
	for _, row := range flowtest.Table("fem_isothermal.csv") {
		c, T, q := flowtest.Isothermal(row)
		if err := march.New(c, march.Options{}).Solve(T, q, &d); err != nil {
			t.Fatal(err)
		}
		limit := 0.03
		if row.F("angle_deg") > 90 {
			limit = 0.05
		}
		if e := d.Pressure/row.F("dp_total_Pa") - 1; math.Abs(e) > limit {
			t.Errorf("%s %s %s deg: drop off by %+.1f %%", row["case"], row["fluid"], row["angle_deg"], 100*e)
		}
	}
}
