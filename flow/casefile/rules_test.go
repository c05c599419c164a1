package casefile

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"meltload/flow"
	"meltload/flow/feeder"
	"meltload/flow/mould"
	"meltload/flow/setup"
	"meltload/flow/vary"
	"meltload/materials"
	"meltload/materials/strict"
	"meltload/materials/unit"
)

// fields are those that are blamed, with commas; "" for none.
func fields(err error) string {
	var out []string
	if ps, ok := err.(strict.Problems); ok {
		for _, p := range ps {
			out = append(out, p.Field)
		}
	} else if err != nil {
		return err.Error()
	}
	return strings.Join(out, ",")
}

// said are the codes of the notes on a case.
func said(c *Case) string {
	var out []string
	for _, n := range c.Notes {
		out = append(out, n.Code)
	}
	return strings.Join(out, ",")
}

const (
	barrelText = "diameter_mm = 2.0\nlength_mm = 20\n"
	coneText   = "diameter_mm = 2.0\nend_diameter_mm = 0.4\nangle_deg = 60 "
	boreText   = "diameter_mm = 0.4\nlength_mm = 1.0\n"
	boreLine   = "bore_mm = 0.02 "
)

// What may stand in a melt path and what may not, at both sides of every bound, by the key that is blamed; and what is
// remarked.
func TestWhatAMeltPathMayBe(t *testing.T) {
	const at = "hot_end.section"
	slit := "width_mm = 3\ngap_mm = 0.5\nlength_mm = 1\n"
	ring := "diameter_mm = 3\ninner_diameter_mm = 2\nlength_mm = 1\n"
	bore := func(shape, text string) []string { // in place of the bore, which then has no band
		return []string{"name = \"bore\"\nshape = \"tube\"\n" + boreText, "name = \"bore\"\nshape = \"" + shape +
			"\"\n" + text, boreLine, "# "}
	}
	for _, x := range []struct {
		pairs         []string
		blamed, notes string
	}{
		{[]string{coneText, "diameter_mm = 2.018\nend_diameter_mm = 0.4\nangle_deg = 60 "}, "", ""},
		{[]string{coneText, "diameter_mm = 2.021\nend_diameter_mm = 0.4\nangle_deg = 60 "}, at + "[2].diameter_mm", ""},
		{[]string{coneText, "diameter_mm = 1.979\nend_diameter_mm = 0.4\nangle_deg = 60 "}, at + "[2].diameter_mm", ""},
		{[]string{boreText, "diameter_mm = 0.397\nlength_mm = 1.0\n"}, "", ""},
		{[]string{boreText, "diameter_mm = 0.395\nlength_mm = 1.0\n"}, "", "flat-step"},
		{[]string{boreText, "diameter_mm = 0.2\nchannels = 4\nlength_mm = 1.0\n", boreLine, "# "}, "", ""},
		{[]string{barrelText, "diameter_mm = 1.75\nlength_mm = 20\n", coneText,
			"diameter_mm = 1.75\nend_diameter_mm = 0.4\nangle_deg = 60 ", "barrel_mm = 0.05 ", "# "}, at +
			"[1].diameter_mm", ""},
		{[]string{barrelText, "diameter_mm = 1.751\nlength_mm = 20\n", coneText,
			"diameter_mm = 1.751\nend_diameter_mm = 0.4\nangle_deg = 60 ", "barrel_mm = 0.05 ", "# "}, "", ""},
		{[]string{"full_bore", "full_bore"}, "", ""},
		{[]string{coneText, "diameter_mm = 2.0\nend_diameter_mm = 2\nangle_deg = 60 ", boreText,
			"diameter_mm = 2\nlength_mm = 1.0\n"}, at + "[2].end_diameter_mm", ""},
		{[]string{coneText, "length_mm = 1\n" + coneText}, at + "[2].angle_deg", ""},
		{[]string{"angle_deg = 60 ", "# "}, at + "[2].angle_deg", ""},
		{[]string{"angle_deg = 60 ", "width_mm = 3\nangle_deg = 60 "}, at + "[2].width_mm", ""},
		{[]string{"end_diameter_mm = 0.4\nangle", "angle"}, at + "[2].end_diameter_mm", ""},
		{bore("slit", slit), "", ""}, {bore("annulus", ring), "", ""},
		{bore("slit", strings.Replace(slit, "gap_mm = 0.5", "gap_mm = 3", 1)), "", ""},
		{bore("slit", strings.Replace(slit, "gap_mm = 0.5", "gap_mm = 3.1", 1)), at + "[3].gap_mm", ""},
		{bore("slit", "angle_deg = 60\n"+slit), at + "[3].angle_deg", ""},
		{bore("slit", "gap_mm = 0.5\nlength_mm = 1\n"), at + "[3].width_mm", ""},
		{bore("annulus", strings.Replace(ring, "inner_diameter_mm = 2", "inner_diameter_mm = 3", 1)),
			at + "[3].inner_diameter_mm", ""},
		{bore("annulus", strings.Replace(ring, "inner_diameter_mm = 2", "inner_diameter_mm = 2.99", 1)), "", ""},
		{bore("annulus", "gap_mm = 1\n"+ring), at + "[3].gap_mm", ""},
		{bore("annulus", "diameter_mm = 3\nlength_mm = 1\n"), at + "[3].inner_diameter_mm", ""},
		{bore("tube", "angle_deg = 60\n"+boreText), at + "[3].angle_deg", ""},
		{bore("tube", "diameter_mm = 0.4\n"), at + "[3].length_mm", ""},
		{bore("tube", "wall_offset_K = [-5, -9]\nwall_degC = [200, 190]\n"+boreText), at + "[3].wall_degC", ""},
	} {
		if x.pairs[0] == "full_bore" {
			x.pairs = []string{barrelText, "diameter_mm = 1.75\nlength_mm = 20\n", coneText,
				"diameter_mm = 1.75\nend_diameter_mm = 0.4\nangle_deg = 60 ", "tip_drop_K = 5 ",
				"full_bore = true\ntip_drop_K = 5 ",
				"barrel_mm = 0.05 ", "# "}
		}
		c, err := changed(t, x.pairs...)
		if got := fields(err); got != x.blamed {
			t.Errorf("%q: %s is blamed, want %q", x.pairs, got, x.blamed)
		}
		if err == nil && said(c) != x.notes {
			t.Errorf("%q: %v", x.pairs, c.Notes)
		}
	}
	for n, blamed := range map[int]string{36: "", 37: at, 38: at} { // beside the barrel, a step, a cone and a bore
		more := strings.Repeat("[[hot_end.section]]\nshape = \"tube\"\n"+barrelText, n+1)
		if _, err := changed(t, "[[hot_end.section]]\nname = \"cone\"",
			more+"[[hot_end.section]]\nname = \"cone\""); fields(
			err) != blamed {
			t.Errorf("%d sections: %v", n+4, err)
		}
	}
}

// Sections in SI by hand: a cone by its length, a flat one, a slit, a ring, walls of their own, contact of its own, and
// the flat step that a narrowing gets.
func TestSectionsByHand(t *testing.T) {
	read := func(pairs ...string) []flow.Section {
		c, err := changed(t, append(pairs, boreLine, "# ")...)
		if err != nil {
			t.Fatal(err)
		}
		return c.HotEnd.Sections
	}
	close := func(what string, got, want float64) {
		t.Helper()
		if math.Abs(got-want) > 1e-12 {
			t.Errorf("%s: %g, want %g", what, got, want)
		}
	}
	s := read("angle_deg = 60 ", "length_mm = 1.6 ")
	close("length", s[1].Length, 1.6e-3)
	close("half angle", s[1].Half, math.Atan(0.5))
	s = read("angle_deg = 60 ", "angle_deg = 180 ")
	close("flat length", s[1].Length, 0)
	close("flat half angle", s[1].Half, math.Pi/2)
	s = read(boreText, "diameter_mm = 0.4\nlength_mm = 1.0\nwall_offset_K = [-5, -9]\n"+
		"contact_W_m2K = 700\nchannels = 1\n")
	if s[2].Wall != (flow.Wall{Start: -5, End: -9}) || s[2].H != 700 || s[2].Channels != 1 || s[1].H != 10000 {
		t.Errorf("%+v", s[2])
	}
	s = read(boreText, "diameter_mm = 0.3\nlength_mm = 1.0\nwall_degC = [200, 190]\n")
	if len(s) != 4 || s[3].Wall != (flow.Wall{Start: 473.15, End: 463.15, Fixed: true}) {
		t.Fatalf("%+v", s)
	}
	step := s[2]
	if step.Name != "step to bore" || step.Shape != flow.Cone || step.Half != math.Pi/2 || step.Channels != 1 ||
		step.Wall != (flow.Wall{Start: 473.15, End: 473.15, Fixed: true}) || step.H != s[3].H {
		t.Errorf("%+v", step)
	}
	close("step from", step.D1, 0.4e-3)
	close("step to", step.D2, 0.3e-3)
	c, err := changed(t, boreText, "diameter_mm = 0.3\nlength_mm = 1.0\n", boreLine, "# ")
	if err != nil || !slices.Equal(c.sections, []int{1, 2, 0, 3}) {
		t.Errorf("%v, %v", c.sections, err)
	}
	for key, want := range map[string]string{"hot_end.section[4].diameter_mm": "hot_end.section[3].diameter_mm",
		"hot_end.section[3].diameter_mm": "", "hot_end.section[5].diameter_mm": ""} {
		if got, ok := c.FileKey(key); got != want || ok != (want != "") {
			t.Errorf("%s: %q", key, got)
		}
	}
	s = read("shape = \"tube\"\n"+boreText, "shape = \"slit\"\nwidth_mm = 3\ngap_mm = 0.5\nlength_mm = 1\n")
	close("width", s[2].Width, 3e-3)
	close("gap", s[2].Gap, 0.5e-3)
	close("slit, length", s[2].Length, 1e-3)
	s = read("shape = \"tube\"\n"+boreText,
		"shape = \"annulus\"\ndiameter_mm = 3\ninner_diameter_mm = 2\nlength_mm = 1\n")
	close("outer", s[2].D1, 3e-3)
	close("inner", s[2].D2, 2e-3)
	if s[2].Shape != flow.Ring {
		t.Errorf("%+v", s[2])
	}
	s = read("name = \"bore\"\n", "")
	if s[2].Name != "tube 3" {
		t.Errorf("%q", s[2].Name)
	}
}

// What a case refuses between its keys, at both sides of every bound.
func TestKeysThatContradictEachOther(t *testing.T) {
	point := "flow_mm3_s = 5            # or speed_mm_s\nforce_N = 74              # or force_kgf\n"
	for _, x := range []struct {
		blamed string
		pairs  []string
	}{
		{"limits.max_flow_mm3_s", []string{"max_flow_mm3_s = 40", "max_flow_mm3_s = 0.5", "flow_mm3_s = 10 ",
			"flow_mm3_s = 0 "}},
		{"", []string{"max_flow_mm3_s = 40", "max_flow_mm3_s = 0.51", "flow_mm3_s = 10 ", "flow_mm3_s = 0 "}},
		{"target.flow_mm3_s", []string{"max_flow_mm3_s = 40", "max_flow_mm3_s = 9.9"}},
		{"", []string{"max_flow_mm3_s = 40", "max_flow_mm3_s = 10"}},
		{"target.temperatures_degC", []string{"[190, 240]", "[240, 240]"}},
		{"target.temperatures_degC", []string{"[190, 240]", "[240, 190]"}}, {"", []string{"[190, 240]", "[239, 240]"}},
		{"target.layer_height_mm", []string{"# layer_height_mm = 0.2 ", "layer_height_mm = 0.46 #"}},
		{"", []string{"# layer_height_mm = 0.2 ", "layer_height_mm = 0.45 #"}},
		{"feeder.point[1].flow_mm3_s", []string{point, point + "speed_mm_s = 2\n"}},
		{"feeder.point[1].force_kgf", []string{point, point + "force_kgf = 7\n"}},
		{"feeder.point[1]", []string{"flow_mm3_s = 5 ", "#"}}, {"feeder.point[1]", []string{"force_N = 74 ", "#"}},
		{"feeder.point[1].sd_N", []string{"repeats = 2\nsd_N = 3", "sd_N = 3"}},
		{"feeder.point[1].sd_N", []string{"repeats = 2\nsd_N = 3", "repeats = 1\nsd_N = 3"}},
		{"", []string{"repeats = 2\nsd_N = 3", "repeats = 1"}},
		{"feeder.point[1].sd_N", []string{"repeats = 2\nsd_N = 3", "repeats = 2\nsd_N = 74"}},
		{"", []string{"repeats = 2\nsd_N = 3", "repeats = 2\nsd_N = 73.9"}},
		{"feeder.point[1].current_kind", []string{"force_N = 74 ", "current_A = 1\nforce_N = 74 "}},
		{"", []string{"force_N = 74 ", "current_A = 1\ncurrent_kind = \"peak\"\nforce_N = 74 "}},
		{"feeder.drive", []string{"[limits]\n", "[feeder.drive]\nratio = 3\ndiameter_mm = 7.5\n[limits]\n"}},
		{"feeder.motor", []string{"[limits]\n", strings.Replace(motor, "[feeder.drive]\nratio = 3\ndiameter_mm = 7.5\n",
			"", 1)}},
		{"feeder.motor.resistance_ohm", []string{"[limits]\n", strings.Replace(motor, "resistance_ohm = 2.1\n", "",
			1)}},
		{"feeder.motor.inductance_mH", []string{"[limits]\n", strings.Replace(motor, "inductance_mH = 3.4\n", "", 1)}},
		{"feeder.motor.supply_V", []string{"[limits]\n", strings.Replace(motor, "supply_V = 24\n", "", 1)}},
		// 2.1 ohm by 0.6 A by the root of two are 1.782 V.
		{"", []string{"[limits]\n", strings.Replace(motor, "supply_V = 24", "supply_V = 1.79", 1)}},
		{"feeder.motor.supply_V", []string{"[limits]\n", strings.Replace(motor, "supply_V = 24", "supply_V = 1.78",
			1)}},
		{"feeder.motor.curve_rpm_Ncm[2]", []string{"[limits]\n", strings.Replace(motor, "supply_V = 24",
			"curve_rpm_Ncm = [[60, 30], [60, 20], [90, 10]]\nsupply_V = 24", 1)}},
		{"feeder.motor.curve_rpm_Ncm[1]", []string{"[limits]\n", strings.Replace(motor, "supply_V = 24",
			"curve_rpm_Ncm = [[60], [50, 20], [90, 10]]\nsupply_V = 24", 1)}},
		{"filament.material_file", []string{`material = "pla" `, "material_file = \"x.toml\"\nmaterial = \"pla\" "}},
		{"filament.material", []string{`material = "pla" `, "# "}}, {"filament.material", []string{`"pla"`, `"pal"`}},
		{"filament.material_file", []string{`material = "pla" `, "material_file = \"none.toml\" "}},
		{"material", []string{"# [material] ", "[material]\nmelt_flow_rate_kg = 2.16\nmelt_flow_rate_degC = 210 "}},
		{"", []string{"# [material] ", "[material]\nmelt_flow_rate_kg = 2.16\nmelt_flow_rate_degC = 210\n" +
			"melt_flow_rate_g_10min = 17 "}},
		{"", []string{"# [material] ", "[material]\nviscosity_factor = 1.5 "}},
		{"mould.element", []string{"[[mould.element]]         #",
			strings.Repeat("[[mould.element]]\nshape = \"strip\"\n"+"width_mm = 3\nthickness_mm = 1\nlength_mm = 1\n",
				38) + "[[mould.element]]         #"}},
		{"", []string{"[[mould.element]]         #", strings.Repeat("[[mould.element]]\nshape = \"strip\"\n"+
			"width_mm = 3\nthickness_mm = 1\nlength_mm = 1\n", 37) + "[[mould.element]]         #"}},
		{"mould.flow_mm3_s", []string{"flow_mm3_s = 12 ", "#", "flow_mm3_s = 10 ", "flow_mm3_s = 0 "}},
		{"spread.calibrated[2]", []string{"block_K = 3", "block_K = 3\ncalibrated = [\"block_K\", \"blok_K\"]"}},
		{"spread.contact_W_m2K", []string{"[3000, inf]", "[inf, 3000]"}},
	} {
		if _, err := changed(t, x.pairs...); fields(err) != x.blamed {
			t.Errorf("%q: %v, want %q blamed", x.pairs, err, x.blamed)
		}
	}
	// A block no warmer than the filament, and filament too soft to be pushed.
	m, err := materials.Get("pla")
	if err != nil {
		t.Fatal(err)
	}
	soft := unit.Celsius(flow.SolidTo(m))
	for _, x := range []struct {
		inlet  float64
		block  string
		blamed string
	}{{50, "50", "hot_end.block_degC"}, {49.9, "50", ""}, {soft - 0.01, "215", ""},
		{soft + 0.1, "215", "filament.inlet_degC"}} {
		_, err := changed(t, "inlet_degC = 25 ", fmt.Sprintf("inlet_degC = %g ", x.inlet), "block_degC = 215 ",
			"block_degC = "+x.block+".0 ", "[190, 240]", "[160, 240]", "mould_degC = 45 ", "mould_degC = 20 ")
		if fields(err) != x.blamed {
			t.Errorf("%+v: %v", x, err)
		}
	}
}

// A feeder by its data sheet, in SI and with what stands in for what is not given.
func TestFeedersByHand(t *testing.T) {
	worm := "[feeder.drive.worm]\nlead_angle_deg = 10\npressure_angle_deg = 20\nfriction = 0.1\n[feeder.grip]\n"
	e, _ := feeder.WormEfficiency(unit.Deg(10), unit.Deg(20), 0.1)
	curve := strings.Replace(motor, "supply_V = 24", "supply_V = 24\ncurve_rpm_Ncm = [[60, 30], [600, 12.5]]", 1)
	for _, x := range []struct {
		what  string
		text  string
		get   func(m *feeder.Model) float64
		want  float64
		notes string
	}{
		{"efficiency", motor, func(m *feeder.Model) float64 { return m.Drive.Efficiency }, 0.85,
			"default-efficiency,default-usable-voltage"},
		{"own efficiency", strings.Replace(motor, "ratio = 3", "efficiency = 0.7\nratio = 3", 1),
			func(m *feeder.Model) float64 { return m.Drive.Efficiency }, 0.7, "default-usable-voltage"},
		{"worm", strings.Replace(motor, "[feeder.grip]\n", worm, 1),
			func(m *feeder.Model) float64 { return m.Drive.Efficiency }, e, "default-usable-voltage"},
		{"worm and more", strings.Replace(strings.Replace(motor, "[feeder.grip]\n", worm, 1), "ratio = 3",
			"efficiency = 0.5\nratio = 3", 1), func(m *feeder.Model) float64 { return m.Drive.Efficiency }, 0.5 * e,
			"default-usable-voltage"},
		{"tension", motor, func(m *feeder.Model) float64 { return m.Grip.Tension }, 1, ""},
		{"own tension", strings.Replace(motor, "wheels = 2", "wheels = 2\ntension = 0.6", 1),
			func(m *feeder.Model) float64 { return m.Grip.Tension }, 0.6, ""},
		{"ends of the gap", motor, func(m *feeder.Model) float64 { return m.Gap.K }, feeder.FixedPinned, ""},
		{"own ends", strings.Replace(motor, "length_mm = 6", "length_mm = 6\nlength_factor = 0.5", 1),
			func(m *feeder.Model) float64 { return m.Gap.K }, 0.5, ""},
		{"usable", strings.Replace(motor, "supply_V = 24", "supply_V = 24\nusable_share = 0.3", 1),
			func(m *feeder.Model) float64 { return m.Motor.Usable }, 0.3, "default-efficiency"},
		{"iron", strings.Replace(motor, "supply_V = 24", "supply_V = 24\niron_loss_share = 0.2", 1),
			func(m *feeder.Model) float64 { return m.Motor.IronLoss }, 0.2, ""},
		{"curve, speed", curve, func(m *feeder.Model) float64 { return m.Motor.Curve[1][0] }, 10,
			"default-efficiency,motor-curve-peak"},
		{"curve, torque", curve, func(m *feeder.Model) float64 { return m.Motor.Curve[1][1] }, 0.125, ""},
		{"curve, its current", strings.Replace(curve, "supply_V = 24", "supply_V = 24\ncurve_current_A = 0.5\n"+
			"curve_supply_V = 36", 1), func(m *feeder.Model) float64 { return m.Motor.CurveCurrent }, 0.5 * math.Sqrt2,
			"default-efficiency"},
		{"curve, its supply", strings.Replace(curve, "supply_V = 24", "supply_V = 24\ncurve_supply_V = 36", 1),
			func(m *feeder.Model) float64 { return m.Motor.CurveSupply }, 36, ""},
		{"rated current", strings.Replace(motor, "current_A = 0.6", "current_A = 1", 1),
			func(m *feeder.Model) float64 { return m.Motor.Current }, math.Sqrt2,
			"default-efficiency,default-usable-voltage"},
		{"overdriven", strings.Replace(motor, "current_A = 0.6", "current_A = 1.1", 1),
			func(m *feeder.Model) float64 { return m.Motor.Current }, 1.1 * math.Sqrt2,
			"default-efficiency,default-usable-voltage,motor-overdriven"},
		{"hardly overdriven", strings.Replace(motor, "current_A = 0.6", "current_A = 1.0009", 1),
			func(m *feeder.Model) float64 { return m.Motor.Rated }, 1, "default-efficiency,default-usable-voltage"},
		{"stock", strings.Replace(motor, "[limits]\n", "", 1) + "[limits]\n",
			func(m *feeder.Model) float64 { return m.Stock }, 303.15, ""},
	} {
		c, err := changed(t, "[limits]\n", x.text)
		if err != nil {
			t.Errorf("%s: %v", x.what, err)
			continue
		}
		if got := x.get(c.Feeder.Model); math.Abs(got-x.want) > 1e-9 {
			t.Errorf("%s: %g, want %g", x.what, got, x.want)
		}
		if x.notes != "" && said(c) != x.notes {
			t.Errorf("%s: %s, want %s", x.what, said(c), x.notes)
		}
		for _, n := range c.Notes {
			if n.Code == "motor-overdriven" && !strings.Contains(n.Message, "121 % of rated") ||
				n.Code == "motor-curve-peak" && !strings.Contains(n.Message, fmt.Sprintf("(%.2f A RMS)",
					c.Feeder.Model.Motor.CurvePeak()/math.Sqrt2)) {
				t.Errorf("%s", n.Message)
			}
		}
	}
	// A motor's kind of current is that of its points, where they say none; a peak is as it stands.
	for _, x := range []struct {
		point, kind string
		want        float64
	}{{"", "rms", 2 * math.Sqrt2}, {"", "peak", 2}, {"current_kind = \"peak\"\n", "rms", 2},
		{"current_kind = \"rms\"\n", "peak", 2 * math.Sqrt2}} {
		c, err := changed(t, "force_N = 74 ", "current_A = 2\n"+x.point+"force_N = 74 ", "[limits]\n",
			strings.Replace(motor, `"rms"`, `"`+x.kind+`"`, 1))
		if err != nil || math.Abs(c.Feeder.Points[0].Current-x.want) > 1e-12 {
			t.Errorf("%+v: %v", x, err)
		}
	}
	c, err := changed(t, "force_N = 74 ", "stock_degC = 40\nblock_degC = 200\nmaterial = \"pla\"\nforce_N = 74 ",
		"mass_g = 130", "mass_g = 130\ncost = 20\nslip_per_N = 0.001\nforce_factor = 0.9\nstock_degC = 35")
	if err != nil {
		t.Fatal(err)
	}
	p := c.Feeder.Points[0]
	if math.Abs(p.Stock-313.15) > 1e-9 || math.Abs(p.Block-473.15) > 1e-9 || p.Material != "pla" ||
		c.Feeder.Cost != 20 || c.Feeder.Slip != 0.001 || c.Feeder.Factor != 0.9 ||
		math.Abs(c.Feeder.Stock.Temperature-308.15) > 1e-9 || c.Feeder.Stock.Diameter != 1.75e-3 {
		t.Errorf("%+v, %+v", p, c.Feeder)
	}
}

// What is changed of a material: a melt flow rate scales its law by what is said, its flow point only where it is
// amorphous, and its bound.
func TestChangesOfAMaterial(t *testing.T) {
	crystalline, amorphous := "", ""
	for _, n := range materials.Names() {
		m, err := materials.Get(n)
		if err != nil {
			t.Fatal(err)
		}
		if m.SemiCrystalline() && crystalline == "" {
			crystalline = n
		} else if !m.SemiCrystalline() && amorphous == "" {
			amorphous = n
		}
	}
	text := func(name, change string) []byte {
		return append([]byte(strings.Replace(string(lean), `"pla"`, `"`+name+`"`, 1)), "[material]\n"+change+"\n"...)
	}
	if _, ps := Parse("x", text(crystalline, "flow_point_degC = 120")); fields(ps.Err()) != "material.flow_point_degC" {
		t.Errorf("%s: %v", crystalline, ps)
	}
	c, ps := Parse("x", text(amorphous, "flow_point_degC = 120\nsolid_cap_Pa_s = 2e6\nviscosity_factor = 1.5\n"+
		"entrance_factor = 0.5"))
	if len(ps) > 0 || math.Abs(c.Material.FlowPoint()-393.15) > 1e-9 || c.Material.Viscosity.Cap != 2e6 ||
		c.ViscosityFactor != 1.5 || c.EntranceFactor != 0.5 || c.RateFactor != 1 {
		t.Errorf("%v, %+v", ps, c)
	}
	plain, ps := Parse("x", text(amorphous, ""))
	if len(ps) > 0 || plain.Material.FlowPoint() == c.Material.FlowPoint() || plain.RateFactor != 1 ||
		said(plain) != "" {
		t.Errorf("%v, %s", ps, said(plain))
	}
	// Twice the rate is half the viscosity of a melt that thins little at this load, and said.
	var factors [2]float64
	for i, rate := range []string{"10", "20"} {
		c, ps := Parse("x", text("pla",
			"melt_flow_rate_g_10min = "+rate+"\nmelt_flow_rate_degC = 210\nmelt_flow_rate_kg = 2.16"))
		if len(ps) > 0 || said(c) != "scaled-viscosity" {
			t.Fatalf("%v, %s", ps, said(c))
		}
		factors[i] = c.RateFactor
	}
	if r := factors[0] / factors[1]; !(r > 1.5 && r < 6) {
		t.Errorf("factors %v", factors)
	}
}

// Bands are read in the unit of their quantity: plus or minus as a difference, a factor, a share of the value, an
// interval; those of the feeder count for what it is: measured or modelled.
func TestBandsByHand(t *testing.T) {
	for _, x := range []struct {
		pairs []string
		id    vary.ID
		want  setup.Doubt // Kind "" where there is none
	}{
		{nil, vary.Block, setup.Doubt{High: 3}}, {nil, vary.Bore, setup.Doubt{High: 0.02e-3}},
		{nil, vary.Viscosity, setup.Doubt{Kind: setup.Factor, High: 2}},
		{nil, vary.Contact, setup.Doubt{Kind: setup.Interval, Low: 3000, High: math.Inf(1)}},
		{[]string{"block_K = 3", "block_K = 3\ncalibrated = [\"block_K\"]"}, vary.Block, setup.Doubt{High: 3,
			Calibrated: true}},
		{[]string{"block_K = 3", "block_K = 3\nfeeder_force_share = 0.2\nmotor_torque_share = 0.3"}, vary.Force,
			setup.Doubt{High: 0.2}},
		{[]string{"block_K = 3", "block_K = 3\ntip_drop_K = [2, 9]"}, vary.Tip, setup.Doubt{Kind: setup.Interval,
			Low: 2, High: 9}},
		{[]string{"force_factor", ""}, vary.Force, setup.Doubt{High: 0.4}},
	} {
		if len(x.pairs) > 0 && x.pairs[0] == "force_factor" { // a share of twice the force
			x.pairs = []string{"mass_g = 130", "mass_g = 130\nforce_factor = 2", "block_K = 3",
				"block_K = 3\nfeeder_force_share = 0.2"}
		}
		c, err := changed(t, x.pairs...)
		if err != nil {
			t.Errorf("%s: %v", x.id, err)
			continue
		}
		d := c.Doubts[string(x.id)]
		if d.Kind != x.want.Kind || math.Abs(d.Low-x.want.Low) > 1e-12 || d.High != x.want.High &&
			math.Abs(d.High-x.want.High) > 1e-12 || d.Calibrated != x.want.Calibrated {
			t.Errorf("%s: %+v, want %+v", x.id, d, x.want)
		}
	}
	// By its motor alone the torque's share counts.
	points := string(BuiltIn)[strings.Index(string(BuiltIn), "# Measured on the bench"):strings.Index(string(BuiltIn),
		"[limits]")]
	c, err := changed(t, points, "", "[limits]\n", motor, "block_K = 3",
		"block_K = 3\nfeeder_force_share = 0.2\nmotor_torque_share = 0.3")
	if err != nil || math.Abs(c.Doubts[string(vary.Force)].High-0.3) > 1e-12 {
		t.Errorf("%+v, %v", c.Doubts, err)
	}
	// A band about a value that is given must hold it, to what the file rounds.
	for band, blamed := range map[string]string{"[5, 9]": "", "[5.000004, 9]": "", "[5.00001, 9]": "spread.tip_drop_K",
		"[2, 4.99999]": "spread.tip_drop_K", "[2, 4.999996]": ""} {
		if _, err := changed(t, "block_K = 3", "block_K = 3\ntip_drop_K = "+band); fields(err) != blamed {
			t.Errorf("%s: %v", band, err)
		}
	}
	// One whose value is not given brings it: the middle, on the scale of the quantity.
	for _, x := range []struct {
		pairs []string
		id    vary.ID
		want  float64
	}{{[]string{"tip_drop_K = 5 ", "# ", "block_K = 3", "block_K = 3\ntip_drop_K = [6, 10]"}, vary.Tip, 8},
		{[]string{"tip_drop_K = 5 ", "# ", "block_K = 3", "block_K = 3\ntip_drop_K = [4, 10]"}, vary.Tip, 5},
		{[]string{"block_K = 3", "block_K = 3\nentrance_factor = [4, 9]"}, vary.Entrance, 6}, // even in the logarithm
	} {
		c, err := changed(t, x.pairs...)
		if err != nil {
			t.Errorf("%q: %v", x.pairs, err)
			continue
		}
		q := vary.Must(&c.Setup, x.id)
		if got := q.Get(&c.Setup); math.Abs(got-x.want) > 1e-9 || (said(c) == "value-from-band") != (x.want != 5) {
			t.Errorf("%s: %g, want %g; %s", x.id, got, x.want, said(c))
		}
	}
	if got := idOf("block_K"); got != string(vary.Block) || idOf("none") != "" {
		t.Errorf("%q", got)
	}
	if got := keysOf(map[string]bool{"b": true, "a": true}); !slices.Equal(got, []string{"a", "b"}) {
		t.Errorf("%v", got)
	}
}

// Keys of older files are told what they are now, at any depth and only where they are unknown.
func TestOldKeys(t *testing.T) {
	ps := strict.Problems{{Field: "hot_end.conductance_W_m2K", Seen: "an unknown key"}, {Field: "viscosity_level",
		Seen: "an unknown key"}, {Field: "a.viscosity_level", Seen: "3"}, {Field: "my_viscosity_level",
		Seen: "an unknown key"}}
	renamed(ps)
	for i, old := range []bool{true, true, false, false} {
		if (ps[i].Seen == "a key of older case files") != old || (ps[i].Advice != "") != old {
			t.Errorf("%+v", ps[i])
		}
	}
}

// A mould's elements by the keys that each shape needs, takes and refuses.
func TestElementsByTheirKeys(t *testing.T) {
	keys := []string{"diameter_mm", "end_diameter_mm", "width_mm", "narrow_width_mm", "thickness_mm", "length_mm"}
	for shape, use := range map[string]string{ // y needed, o may be, n not used
		"sprue": "yonnny", "round": "yonnny", "half-round": "ynnnny", "trapezoid": "nnyyyy", "rectangle": "nnynyy",
		"strip": "nnynyy", "disc": "yynnyn"} {
		for without := -1; without < len(keys); without++ {
			x := mouldElement{Shape: shape, Copies: 2, Cavity: true}
			to := []**float64{&x.Diameter, &x.End, &x.Width, &x.Narrow, &x.Height, &x.Length}
			values := []float64{4, 9, 6, 3, 2, 7}
			for i := range to {
				if i != without {
					*to[i] = &values[i]
				}
			}
			var want []string
			for i, k := range keys {
				if i != without && use[i] == 'n' || i == without && use[i] == 'y' {
					want = append(want, "p."+k)
				}
			}
			doc, _ := strict.Decode("x", nil, &file{})
			b := &builder{f: &file{}, doc: doc}
			e := b.element("p", &x)
			if got := fields(b.found.Err()); got != strings.Join(want, ",") {
				t.Errorf("%s without %d: %q, want %q", shape, without, got, want)
			}
			for i, v := range []float64{e.D1, e.D2, e.Width, e.Narrow, e.Height, e.Length} {
				w := values[i] * 1e-3
				if i == without || use[i] == 'n' {
					w = 0
				}
				if i == 1 && i == without && use[1] == 'o' { // straight
					w = 4e-3
				}
				if math.Abs(v-w) > 1e-12 {
					t.Errorf("%s without %d: %s is %g, want %g", shape, without, keys[i], v, w)
				}
			}
			if e.Shape != mould.Shape(shape) || e.Copies != 2 || !e.Cavity {
				t.Errorf("%+v", e)
			}
		}
	}
	for rim, blamed := range map[float64]string{4: "p.end_diameter_mm", 3.9: "p.end_diameter_mm", 4.1: ""} {
		gate, thick := 4.0, 2.0
		doc, _ := strict.Decode("x", nil, &file{})
		b := &builder{f: &file{}, doc: doc}
		b.element("p", &mouldElement{Shape: "disc", Diameter: &gate, End: &rim, Height: &thick})
		if got := fields(b.found.Err()); got != blamed {
			t.Errorf("a rim of %g mm: %q", rim, got)
		}
	}
}

// The wall of a mould: its material, or numbers of its own over it, and air behind it.
func TestWallOfAMould(t *testing.T) {
	metal, _ := mould.WallOf("aluminium")
	for _, x := range []struct {
		line string
		want mould.Wall
	}{
		{"", metal}, {"wall_mm = 7\n", mould.Wall{Name: metal.Name, K: metal.K, RhoC: metal.RhoC, Depth: 7e-3,
			Air: metal.Air}},
		{"wall_W_mK = 30\n", mould.Wall{Name: "aluminium, own numbers", K: 30, RhoC: metal.RhoC, Depth: metal.Depth,
			Air: metal.Air}},
		{"wall_J_m3K = 3e6\nback_W_m2K = 12\nair_degC = 30\n", mould.Wall{Name: "aluminium, own numbers", K: metal.K,
			RhoC: 3e6, Depth: metal.Depth, Air: 12, AirT: 303.15}},
	} {
		c, err := changed(t, "mould_degC = 45 ", x.line+"mould_degC = 45.0 ")
		if err != nil {
			t.Fatal(err)
		}
		if x.want.AirT == 0 {
			x.want.AirT = 298.15
		}
		if w := c.Mould.Wall; w.Name != x.want.Name || math.Abs(w.K-x.want.K) > 1e-9 ||
			math.Abs(w.RhoC-x.want.RhoC) > 1 || math.Abs(w.Depth-x.want.Depth) > 1e-12 || w.Air != x.want.Air ||
			math.Abs(w.AirT-x.want.AirT) > 1e-9 {
			t.Errorf("%q: %+v, want %+v", x.line, w, x.want)
		}
	}
	c, err := changed(t, `wall_material = "aluminium" #`, "wall_W_mK = 30 #")
	if err != nil || c.Mould.Wall.Name != "own" {
		t.Errorf("%+v, %v", c.Mould.Wall, err)
	}
	// The range of the contact reaches to a value that is given, either way; what is not given has its default.
	for contact, want := range map[string][2]float64{"3000": {1000, math.Inf(1)}, "500": {500, math.Inf(1)}} {
		c, err := changed(t, "contact_W_m2K = 3000 ", "contact_W_m2K = "+contact+".0 ")
		if err != nil || c.Mould.ContactRange != want || c.Mould.NoFlow != 0 || c.Mould.SurfaceRange != 5 ||
			c.Mould.NoFlowRange != 15 || c.Mould.Open != 20 || c.Mould.Shots != 12 || c.Mould.SolidCap != 1e7 {
			t.Errorf("%s: %+v, %v", contact, c.Mould, err)
		}
	}
	c, err = changed(t, "mould_degC = 45 ", "no_flow_degC = 120\nno_flow_range_K = 4\nmould_range_K = 3\nopen_s = 9\n"+
		"cycle_s = 60\nshots = 4\nset_melt_cap_Pa_s = 1e8\nmould_degC = 45 ", "name = \"gate\"\n", "")
	if m := c.Mould; err != nil || math.Abs(m.NoFlow-393.15) > 1e-9 || m.NoFlowRange != 4 || m.SurfaceRange != 3 ||
		m.Open != 9 || m.Cycle != 60 || m.Shots != 4 || m.SolidCap != 1e8 || m.Elements[1].Name != "rectangle 2" {
		t.Errorf("%+v, %v", c.Mould, err)
	}
}

// Points are counted by rising speed, whether a row gives a speed or a flow: 2.4 mm2 of filament make 4 mm/s of
// 9.6 mm3/s. Where the feeder pooled some there is no order.
func TestPointsByRisingSpeed(t *testing.T) {
	const area = 2.4e-6
	number := func(x float64) *float64 { return &x }
	two := &feeder.Feeder{Points: make([]feeder.Point, 2)}
	for flow, want := range map[float64][]int{9.5: {2, 1}, 9.7: {1, 2}} {
		if got := pointOrder(two, []point{{Speed: number(4)}, {Flow: number(flow)}}, area); !slices.Equal(got, want) {
			t.Errorf("4 mm/s and %g mm3/s: %v, want %v", flow, got, want)
		}
	}
	if got := pointOrder(two, make([]point, 3), area); got != nil {
		t.Errorf("three rows of which two are left: %v", got)
	}
}
