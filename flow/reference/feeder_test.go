package reference_test

import (
	"math"
	"testing"

	"meltload/flow/reference"
	"meltload/materials/checks"
)

// The check values and their sources are in testdata/checks.json.

func TestColumnsMotorsAndGears(t *testing.T) {
	checks.Each(t, "current_rise", func(c *checks.Case) {
		c.Want("t_rise", reference.RiseTime(c.In("V"), c.In("R"), c.In("L"), c.In("I")))
		c.Want("t_linear", c.In("L")*c.In("I")/c.In("V"))
		c.Want("tau", c.In("L")/c.In("R"))
	})
	checks.Each(t, "static_angle", func(c *checks.Case) {
		c.Want("angle_deg", reference.StaticAngle(c.In("T"), c.In("T_hold"), int(c.In("p")))*180/math.Pi)
		c.Skip("half_step_angle_deg")
	})
	checks.Each(t, "spur_train", func(c *checks.Case) {
		e := reference.SpurEfficiency(c.In("eff_per_mesh"), int(c.In("meshes")))
		c.Want("eff", e)
		c.Want("torque_gain", e*c.In("ratio"))
	})
	checks.Each(t, "worm_geometry", func(c *checks.Case) {
		lead, angle, wheel, centre, ratio := reference.Worm{int(c.In("threads")), c.In("Pd"), c.In("D_worm"),
			int(c.In("gear_teeth"))}.Geometry()
		c.Want("lead", lead)
		c.Want("lead_angle_deg", angle*180/math.Pi)
		c.Want("D_gear", wheel)
		c.Want("center_distance", centre)
		c.Want("ratio", ratio)
		c.Want("gear_rpm", c.In("rpm")/ratio)
	})
	checks.Each(t, "euler_rod", func(c *checks.Case) {
		d, l, k := c.In("d"), c.In("L"), c.In("K")
		c.Want("P_cr", reference.Euler(d, c.In("E"), l, k))
		c.Want("I", math.Pi*math.Pow(d, 4)/64)
		c.Want("slenderness", k*l/(d/4))
	})
	checks.Each(t, "secant_column", func(c *checks.Case) {
		c.Want("sigma_max", reference.Secant(c.In("A"), c.In("r_gyr"), c.In("L_eff"), c.In("E"), c.In("ecc_ratio"),
			c.In("P")))
	})
}

// Up to which viscosity a free length holds against the pressure of a bore alone.
func TestColumnAgainstBorePressure(t *testing.T) {
	checks.Each(t, "buckle_vs_pressure", func(c *checks.Case) {
		d := c.In("d_fil")
		stress := reference.Euler(d, c.In("E"), c.In("L_free"), 1) / (math.Pi / 4 * d * d)
		perViscosity, _, _ := reference.PowerMelt{K: 1, N: 1}.Tube(c.In("Q"), c.In("r_noz"), c.In("l_noz"))
		c.Want("sigma_cr", stress)
		c.Want("eta_max", stress/perViscosity)
		c.Want("E_over_eta_min", c.In("E")*perViscosity/stress)
	})
}
