package casefile

import (
	"math"
	"strings"
	"testing"

	"meltload/flow"
	"meltload/flow/feeder"
	"meltload/flow/mould"
)

// changed is the starter case with texts replaced; every one must be in it.
func changed(t *testing.T, pairs ...string) (*Case, error) {
	t.Helper()
	text := string(BuiltIn)
	for i := 0; i < len(pairs); i += 2 {
		next := strings.Replace(text, pairs[i], pairs[i+1], 1)
		if next == text {
			t.Fatalf("%q is not in the starter case", pairs[i])
		}
		text = next
	}
	c, ps := Parse("changed.toml", []byte(text))
	return c, ps.Err()
}

const motor = "[feeder.motor]\nholding_torque_Ncm = 40\nrated_A = 1\ncurrent_A = 0.6\ncurrent_kind = \"rms\"\n" +
	"resistance_ohm = 2.1\ninductance_mH = 3.4\nsupply_V = 24\n[feeder.drive]\nratio = 3\ndiameter_mm = 7.5\n" +
	"[feeder.grip]\narea_mm2 = 0.8\nwheels = 2\n[feeder.gap]\nlength_mm = 6\n\n[limits]\n"

// Every number of a case in SI, by hand.
func TestCaseInSI(t *testing.T) {
	c, err := changed(t, "[limits]\n", motor, "mount_max_N = 0", "mount_max_N = 90")
	if err != nil {
		t.Fatal(err)
	}
	area := math.Pi / 4 * 1.75e-3 * 1.75e-3
	h, m, f := c.HotEnd, c.Feeder.Model, c.Feeder
	for _, x := range []struct {
		what      string
		got, want float64
	}{
		{"filament", c.Filament.Diameter, 1.75e-3}, {"tolerance", c.Filament.Tolerance, 3e-5},
		{"inlet", c.Filament.Inlet, 298.15}, {"block", c.Block, 488.15}, {"contact", c.Contact, 1e4},
		{"heated", h.HeatedShare, 0.75}, {"eccentricity", c.Stock.Eccentricity, 0.4}, {"tip", h.TipDrop, 5},
		{"heater", h.Block.Power, 50}, {"capacity", h.Block.Capacity, 15}, {"loss", h.Block.Loss, 0.05},
		{"ambient", h.Block.Ambient, 298.15}, {"mass", h.Mass, 0.042}, {"barrel", h.Sections[0].D1, 2e-3},
		{"barrel, length", h.Sections[0].Length, 20e-3}, {"cone, half angle", h.Sections[1].Half, math.Pi / 6},
		{"cone, end", h.Sections[1].D2, 0.4e-3}, {"bore", h.Sections[2].D2, 0.4e-3}, {"drag", c.Path.Drag, 2},
		{"friction", c.Path.Friction, 0.2}, {"bend", c.Path.Bend, 0}, {"feeder, mass", f.Mass, 0.13},
		{"point, speed", f.Points[1].Speed, 15e-9 / area}, {"point, force", f.Points[1].Force, 66},
		{"point, scatter", f.Points[1].SD, 2}, {"safety", c.Limits.Safety, 1.25}, {"mount", c.Limits.MountMax, 90},
		{"least flow", c.Limits.MinFlow, 0.5e-9}, {"most flow", c.Limits.MaxFlow, 40e-9},
		{"residence", c.Limits.Residence, 600}, {"target", c.Target, 10e-9}, {"from", c.Temps[0], 463.15},
		{"to", c.Temps[1], 513.15}, {"torque", m.Motor.Holding, 0.4}, {"rated", m.Motor.Rated, 1},
		{"current", m.Motor.Current, 0.6 * math.Sqrt2}, {"resistance", m.Motor.Resistance, 2.1},
		{"inductance", m.Motor.Inductance, 3.4e-3}, {"supply", m.Motor.Supply, 24},
		{"teeth", float64(m.Motor.Teeth), 50},
		{"ratio", m.Drive.Ratio, 3}, {"wheel", m.Drive.Diameter, 7.5e-3}, {"grip", m.Grip.Area, 0.8e-6},
		{"wheels", float64(m.Grip.Wheels), 2}, {"gap", m.Gap.Length, 6e-3},
		{"filament of the model", m.Diameter, 1.75e-3},
		{"mould", c.Mould.Surface, 318.15}, {"mould, contact", c.Mould.Contact, 3000},
		{"mould, flow", c.Mould.Flow, 12e-9},
		{"clamp", c.Mould.Safety, 1.5}, {"gate", c.Mould.Elements[1].Width, 3e-3},
		{"gate, thickness", c.Mould.Elements[1].Height, 1.6e-3}, {"gate, length", c.Mould.Elements[1].Length, 1.2e-3},
		{"sprue, end", c.Mould.Elements[0].D2, 3e-3}, {"copies", float64(c.Mould.Elements[2].Copies), 1},
	} {
		if math.Abs(x.got-x.want) > 1e-9*math.Max(math.Abs(x.want), 1e-9) {
			t.Errorf("%s: %g, want %g", x.what, x.got, x.want)
		}
	}
	if f.Points[0].Cause != feeder.Grind || f.Points[1].Cause != feeder.Skip || h.Sections[1].Shape != flow.Cone ||
		!c.Mould.Elements[2].Cavity || c.Mould.Elements[0].Shape != mould.Sprue {
		t.Errorf("%+v", c.Setup)
	}
}

// What stands in for what is left out, by hand.
func TestLeftOutByHand(t *testing.T) {
	for _, x := range []struct {
		what  string
		pairs []string
		get   func(c *Case) float64
		want  float64
	}{
		{"step of 0.9 deg", []string{"[limits]\n", strings.Replace(motor, "rated_A = 1\n",
			"rated_A = 1\nstep_deg = 0.9\n", 1)},
			func(c *Case) float64 { return float64(c.Feeder.Model.Motor.Teeth) }, 100},
		{"peak current", []string{"[limits]\n", strings.Replace(motor, `"rms"`, `"peak"`, 1)},
			func(c *Case) float64 { return c.Feeder.Model.Motor.Current }, 0.6},
		{"share of the supply", []string{"[limits]\n", motor}, func(c *Case) float64 {
			return c.Feeder.Model.Motor.Usable
		}, feeder.DefaultVoltageShare},
		{"iron loss", []string{"[limits]\n", motor}, func(c *Case) float64 { return c.Feeder.Model.Motor.IronLoss },
			feeder.DefaultIronLoss},
		{"mould flow", []string{"flow_mm3_s = 12", "#"}, func(c *Case) float64 { return c.Mould.Flow }, 10e-9},
		{"clamp", []string{"clamp_safety_factor = 1.5", "#"}, func(c *Case) float64 { return c.Mould.Safety },
			mould.DefaultSafety},
		{"a straight sprue", []string{"end_diameter_mm = 3", "#"},
			func(c *Case) float64 { return c.Mould.Elements[0].D2 }, 2.5e-3},
		{"conductivity of the mould", []string{"mould_degC = 45", "wall_W_mK = 30\nmould_degC = 45"},
			func(c *Case) float64 { return c.Mould.Wall.K }, 30},
		{"copies go on", []string{"length_mm = 1.2", "copies = 4\nlength_mm = 1.2"},
			func(c *Case) float64 { return float64(c.Mould.Elements[2].Copies) }, 4},
	} {
		c, err := changed(t, x.pairs...)
		if err != nil {
			t.Errorf("%s: %v", x.what, err)
			continue
		}
		if got := x.get(c); math.Abs(got-x.want) > 1e-9*math.Max(math.Abs(x.want), 1e-9) {
			t.Errorf("%s: %g, want %g", x.what, got, x.want)
		}
	}
}

// Where a mould, a band or a search becomes one that is refused: the key is blamed and no other.
func TestRefusedByItsKey(t *testing.T) {
	for _, x := range []struct {
		key   string // "" for none
		pairs []string
	}{
		{"mould.clamp_safety_factor", []string{"clamp_safety_factor = 1.5", "clamp_safety_factor = 0.99"}},
		{"", []string{"clamp_safety_factor = 1.5", "clamp_safety_factor = 1"}},
		{"mould.mould_degC", []string{"mould_degC = 45", "mould_degC = 215"}},
		{"", []string{"mould_degC = 45", "mould_degC = 214"}},
		{"mould.element", []string{"cavity = true", "cavity = false"}},
		{"mould.element[3].copies", []string{"length_mm = 1.2", "copies = 4\nlength_mm = 1.2", "cavity = true",
			"copies = 3\ncavity = true"}},
		{"mould.element[3].thickness_mm", []string{"width_mm = 5\nthickness_mm = 4",
			"width_mm = 5\nthickness_mm = 5.1"}},
		{"", []string{"width_mm = 5\nthickness_mm = 4", "width_mm = 5\nthickness_mm = 5"}},
		{"mould.element[2].thickness_mm", []string{"thickness_mm = 1.6", "#"}},
		{"mould.element[2].diameter_mm", []string{"thickness_mm = 1.6", "diameter_mm = 2\nthickness_mm = 1.6"}},
		{"mould.contact_range_W_m2K", []string{"contact_W_m2K = 3000",
			"contact_range_W_m2K = [3001, 9000]\ncontact_W_m2K = 3000"}},
		{"mould.contact_range_W_m2K", []string{"contact_W_m2K = 3000",
			"contact_range_W_m2K = [1000, 2999]\ncontact_W_m2K = 3000"}},
		{"", []string{"contact_W_m2K = 3000", "contact_range_W_m2K = [3000, 3000]\ncontact_W_m2K = 3000"}},
		{"spread.heated_share", []string{"heated_share = [0.5, 1.0]", "heated_share = [0.76, 1.0]"}},
		{"spread.heated_share", []string{"heated_share = [0.5, 1.0]", "heated_share = [0.5, 0.74]"}},
		{"", []string{"heated_share = [0.5, 1.0]", "heated_share = [0.75, 0.75]"}},
	} {
		_, err := changed(t, x.pairs...)
		switch {
		case x.key == "" && err != nil:
			t.Errorf("%v: %v", x.pairs, err)
		case x.key != "" && (err == nil || strings.Count(err.Error(), "\n") > 0 || !strings.Contains(err.Error(),
			" "+x.key+": ")):
			t.Errorf("%v: %v, want %s blamed", x.pairs, err, x.key)
		}
	}
}
