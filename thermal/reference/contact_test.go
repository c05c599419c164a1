package reference

import (
	"math"
	"testing"

	"meltload/materials/checks"
)

func TestContactTemperature(t *testing.T) {
	checks.Each(t, "contact_temperature", func(c *checks.Case) {
		e1 := Effusivity(c.In("k1"), c.In("rho1"), c.In("c1"))
		e2 := Effusivity(c.In("k2"), c.In("rho2"), c.In("c2"))
		c.Want("effusivity_1", e1)
		c.Want("effusivity_2", e2)
		c.Want("T_contact", ContactTemperature(e1, c.In("T1"), e2, c.In("T2")))
	})
	// By hand: a metal 20 times as effusive keeps the face near its own temperature.
	if got := ContactTemperature(20, 300, 1, 510); math.Abs(got-310) > 1e-12 {
		t.Errorf("face at %g K, want 310", got)
	}
	if got := Effusivity(0.2, 1200, 2000); math.Abs(got-math.Sqrt(480000)) > 1e-9 {
		t.Errorf("effusivity %g", got)
	}
}
