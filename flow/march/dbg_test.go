package march_test

import (
	"math"
	"meltload/flow"
	"meltload/flow/flowtest"
	"meltload/flow/march"
	"testing"
)

func show(t *testing.T, n string, c *flow.Case, T, q float64) float64 {
	var d flow.Solution
	if e := march.New(c, march.Options{}).Solve(T, q, &d); e != nil {
		t.Log(n, e)
		return 0
	}
	t.Logf("%s: F %.2f N p %.2f MPa rod %.2f wet %.2f held %.2f soft %.1f centre %.0f bulk %.0f load b %.2f c %.2f e %.2f bore %.2f tau %.3f pass %d st %d heat %.1e work %.1e %s", n, d.Force, d.Pressure/1e6, d.Stretches.Rod*1e3, d.Stretches.Wetted*1e3, d.Stretches.Held*1e3, d.Stretches.Softening-273.15, d.EntryCentre-273.15, d.EntryBulk-273.15, d.Load.Barrel, d.Load.Cone, d.Load.Entrance, d.Load.Bore, d.WallStress/1e6, d.Stats.Passes, d.Stats.Stations, d.Stats.HeatBalance, d.Stats.WorkBalance, d.Stats.RanOut)
	return d.Force
}
func TestDbg(t *testing.T) {
	for _, r := range flowtest.Table("stock", "startup_ratio.csv") {
		c, T, q := flowtest.Startup(r)
		F := show(t, r["rig"]+r["flow_mm3_s"], c, T, q)
		// soaked plateau
		h := *c
		h.Stock.Stick = true
		h.Filament.Inlet = T
		f0 := show(t, "   soaked", &h, T, q)
		t.Logf("ratio %.2f meas %s", F/f0, r["ratio"])
	}
	for _, r := range flowtest.Table("stock", "flow_growth.csv") {
		c, T, q, ref := flowtest.Growth(r)
		a := show(t, "g "+r["flow_mm3_s"], c, T, q)
		b := show(t, "g "+r["reference_flow_mm3_s"], c, T, ref)
		t.Logf("growth %.2f meas %s", a/b, r["ratio"])
	}
	for _, r := range flowtest.Table("stock", "flow_limits.csv") {
		c, T, q := flowtest.FlowLimit(r)
		show(t, "limit "+r["melt_zone_mm"], c, T, q)
	}
	c := flowtest.ABSForce(flow.DefaultWettedH, 3)
	c.Stock = flow.Stock{Eccentricity: .4}
	c.HotEnd.TipDrop = 5
	c.Material.Viscosity.Cap = 1e12
	c.HotEnd.Sections[1].Half = 37 * math.Pi / 180
	c.HotEnd.Sections[1].Length = .8e-3 / math.Tan(37*math.Pi/180)
	e, rows := flowtest.CompareABSForce(func(q float64) float64 { return show(t, "abs", c, flowtest.ABSForceBlock, q) })
	t.Log(e, rows)
}
