package casefile

import (
	"strings"
	"testing"
)

func TestPatch(t *testing.T) {
	out, err := Patch("x", BuiltIn, map[string]float64{"hot_end.conductance_W_m2K": 1234, "material.viscosity_level": 1.5, "path.drag_N": 3, "material.trouton_ratio": 4}, "calibrated")
	if err != nil {
		t.Fatal(err)
	}
	c, ps := Parse("x", out)
	if len(ps) > 0 {
		t.Fatal(ps)
	}
	if c.Conductance != 1234 || c.Level != 1.5 || c.Path.Drag != 3 || c.Material.Viscosity.Trouton != 4 {
		t.Errorf("conductance %g, level %g, drag %g, Trouton %g", c.Conductance, c.Level, c.Path.Drag, c.Material.Viscosity.Trouton)
	}
	if !strings.Contains(string(out), "# wall to polymer") {
		t.Error("the remark of the line is gone")
	}
	// Patching what was patched changes the value, not the shape of the file.
	again, err := Patch("x", out, map[string]float64{"material.viscosity_level": 2}, "calibrated")
	if err != nil {
		t.Fatal(err)
	}
	if strings.Count(string(again), "viscosity_level = ") != strings.Count(string(out), "viscosity_level = ") {
		t.Error("the key stands twice")
	}
	if _, err := Patch("x", []byte("nonsense ="), nil, ""); err == nil {
		t.Error("nonsense was patched")
	}
}
