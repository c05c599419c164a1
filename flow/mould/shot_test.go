package mould

import (
	"math"
	"testing"

	"meltload/materials/checks"
)

// The check values and their sources are in testdata/checks.json.

func TestShot(t *testing.T) {
	checks.Each(t, "shot", func(c *checks.Case) {
		l, at := Shot(c.In("volume"), c.In("d_fil"), c.In("Q"))
		c.Want("filament_length", l)
		c.Want("fill_time", at)
	})
	checks.Each(t, "plunger_pressure", func(c *checks.Case) {
		c.Want("p", c.In("F")/(math.Pi/4*c.In("d")*c.In("d")))
	})
}
