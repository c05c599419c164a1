package casefile

import (
	"math"
	"strings"
	"testing"

	"meltload/flow/vary"
	"meltload/materials/strict"
)

func TestPatch(t *testing.T) {
	out, _, err := Patch("x", BuiltIn,
		map[string]string{"hot_end.contact_W_m2K": "1234", "spread.contact_W_m2K": "[1000, 2000]",
			"material.viscosity_factor": "1.5", "path.drag_N": "3", "material.entrance_factor": "4",
			"hot_end.section[3].diameter_mm": "0.38", "hot_end.section[3].contact_W_m2K": "900"}, "calibrated")
	if err != nil {
		t.Fatal(err)
	}
	c, ps := Parse("x", out)
	if len(ps) > 0 {
		t.Fatal(ps)
	}
	if c.Contact != 1234 || c.ViscosityFactor != 1.5 || c.Path.Drag != 3 || c.EntranceFactor != 4 {
		t.Errorf("contact %g, viscosity factor %g, drag %g, entrance factor %g", c.Contact, c.ViscosityFactor,
			c.Path.Drag, c.EntranceFactor)
	}
	if b := c.HotEnd.Sections[len(c.HotEnd.Sections)-1]; math.Abs(b.D1-0.38e-3) > 1e-9 || b.H != 900 {
		t.Errorf("bore %+v", b)
	}
	if !strings.Contains(string(out), "# wall to melt") {
		t.Error("the remark of the line is gone")
	}
	// Patching what was patched changes the value, not the shape of the file.
	again, _, err := Patch("x", out, map[string]string{"material.viscosity_factor": "2"}, "calibrated")
	if err != nil {
		t.Fatal(err)
	}
	if strings.Count(string(again), "viscosity_factor = ") != strings.Count(string(out), "viscosity_factor = ") {
		t.Error("the key stands twice")
	}
	// A value out of range comes back with its problems; a quoted # is no remark.
	bad, _, err := Patch("x",
		[]byte(strings.Replace(string(BuiltIn), `name = "club hot end"`, `name = "end #1"  # ours`, 1)),
		map[string]string{"hot_end.block_degC": "900", "hot_end.name": `"end #2"`}, "")
	if _, ok := err.(strict.Problems); !ok || !strings.Contains(string(bad), `name = "end #2"  # ours`) {
		t.Errorf("%v\n%s", err, bad)
	}
	if _, _, err := Patch("x", []byte("nonsense ="), nil, ""); err == nil {
		t.Error("nonsense was patched")
	}
}

func TestGraft(t *testing.T) {
	other := strings.NewReplacer(`name = "club feeder"`, `name = "other"`, "force_N = 74", "force_N = 90",
		"block_degC = 215", "block_degC = 200").Replace(string(BuiltIn))
	out, _, err := Graft("x", BuiltIn, []byte(other))
	if err != nil {
		t.Fatal(err)
	}
	c, ps := Parse("x", out)
	if len(ps) > 0 {
		t.Fatal(ps)
	}
	if c.Feeder.Name != "other" || c.Feeder.Points[0].Force != 90 || math.Abs(c.Block-488.15) > 1e-9 ||
		len(c.Feeder.Points) != 3 {
		t.Errorf("feeder %+v, block %g", c.Feeder, c.Block)
	}
	if back, _, err := Graft("x", out, BuiltIn); err != nil ||
		strings.TrimSpace(string(back)) != strings.TrimSpace(string(BuiltIn)) {
		t.Errorf("to and fro changes the text: %v", err)
	}
	if _, _, err := Graft("x", BuiltIn, []byte("feeder = 3")); err == nil {
		t.Error("grafted nothing")
	}
}

// A viscosity factor goes over a melt flow rate: the factor that a calibration writes multiplies the law that meets the
// rate, and leaves the rate alone.
func TestFactorOverAMeltFlowRate(t *testing.T) {
	text := string(lean) + "[material]\nmelt_flow_rate_g_10min = 12\nmelt_flow_rate_degC = 210\nmelt_flow_rate_kg = " +
		"2.16\n"
	before, ps := Parse("rate.toml", []byte(text))
	if len(ps) > 0 {
		t.Fatal(ps)
	}
	q := vary.Must(&before.Setup, vary.Viscosity)
	set, err := q.With(&before.Setup, 1.5)
	if err != nil {
		t.Fatal(err)
	}
	out, err := before.Rewritten(q.Edits(set), "fitted")
	if err != nil {
		t.Fatal(err)
	}
	after, ps := Parse("rate.toml", out)
	if len(ps) > 0 {
		t.Fatal(ps)
	}
	if before.RateFactor == 1 || after.RateFactor != before.RateFactor || after.ViscosityFactor != 1.5 {
		t.Errorf("the rate scales by %g, then %g; the factor is %g, want 1.5", before.RateFactor, after.RateFactor,
			after.ViscosityFactor)
	}
}
