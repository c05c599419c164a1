package casefile

import (
	"math"
	"slices"
	"strings"
	"testing"

	"meltload/flow/feeder"
	"meltload/flow/vary"
	"meltload/materials/unit"
)

// parsed is a part of a text.
func parsed(t *testing.T, name, text string) *Part {
	t.Helper()
	p, err := ParsePart(name, []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// A file is the same feeder or hot end as another by all but its name, and the hot end by all but its block
// temperature too; a feeder tested by flow with a filament of its own is known by its speeds.
func TestTheSamePart(t *testing.T) {
	f, h := parsed(t, "f.toml", feederText), parsed(t, "h.toml", hotEndText)
	for _, x := range []struct {
		old, new string
		same     bool
	}{{`"twin gear"`, `"other"`, true}, {"mass_g = 180", "mass_g = 181", false}, {"force_N = 52", "force_N = 53",
		false}} {
		if g := parsed(t, "g.toml", strings.Replace(feederText, x.old, x.new, 1)); f.SameFeeder(g) != x.same {
			t.Errorf("%s: the same feeder %t", x.new, !x.same)
		}
	}
	for _, x := range []struct {
		old, new string
		same     bool
	}{{`"long zone"`, `"other"`, true}, {"block_degC = 225", "block_degC = 205", true}, {"mass_g = 60", "mass_g = 61",
		false}, {"length_mm = 22", "length_mm = 23", false}} {
		if g := parsed(t, "g.toml", strings.Replace(hotEndText, x.old, x.new, 1)); h.SameHotEnd(g) != x.same {
			t.Errorf("%s: the same hot end %t", x.new, !x.same)
		}
	}
	const thick = "[filament]\ndiameter_mm = 2.85\n[[feeder.point]]\nflow_mm3_s = 20\nforce_N = 50\n"
	p := parsed(t, "dir/thick.toml", thick)
	want := 20 / (math.Pi / 4 * 2.85 * 2.85) // mm/s
	for diameter, flow := range map[float64]bool{0: false, 1.75: false, 2.85: true} {
		q := p.feeder(diameter).Points[0]
		if (q.Flow != nil) != flow || (q.Speed == nil) != flow || q.Speed != nil && math.Abs(*q.Speed/want-1) > 1e-12 {
			t.Errorf("for %g mm: %+v", diameter, q)
		}
	}
	if *p.f.Feeder.Points[0].Flow != 20 {
		t.Error("the part itself was changed")
	}
	// Names: that which is given, else that of the file.
	if f.FeederName() != "twin gear" || p.FeederName() != "thick" || h.HotEndName() != "long zone" ||
		parsed(t, "x.toml", strings.Replace(feederText, `"twin gear"`, `" "`, 1)).FeederName() != "x" {
		t.Errorf("%q %q %q", f.FeederName(), p.FeederName(), h.HotEndName())
	}
	if f.Polymer() != "" || f.OfPoints() != "pla" || len(f.Refs()) != 1 || f.Refs()[0].File != "f.toml" ||
		parsed(t, "x.toml", "[filament]\nmaterial_file = \"m.toml\"\n"+feederText).Polymer() != "m.toml" {
		t.Errorf("%q, %q, %v", f.Polymer(), f.OfPoints(), f.Refs())
	}
}

// The polymer of all points, by any case of its letters; none where they do not agree, name none, or name one that is
// not built in.
func TestPolymerOfThePoints(t *testing.T) {
	for names, want := range map[string]string{"pla": "pla", "PLA pla": "pla", "pla abs": "", "pla -": "", "- pla": "",
		"- -": "", "blend blend": "", "abs abs abs": "abs"} {
		var points []point
		for _, n := range strings.Fields(names) {
			points = append(points, point{Material: strings.Trim(n, "-")})
		}
		if got := common(points); got != want {
			t.Errorf("%s: %q, want %q", names, got, want)
		}
	}
	if common(nil) != "" {
		t.Error("a polymer of no points")
	}
}

// A feeder and a hot end bring with them how well they are known; the rest stays the duty's, and so does a block
// temperature that it has.
func TestWhatAJoinedCaseTakes(t *testing.T) {
	duty := parsed(t, "duty.toml", string(BuiltIn))
	feed := parsed(t, "f.toml", feederText+"[spread]\nfeeder_force_share = 0.3\nblock_K = 9\nviscosity_factor = 5\n")
	hot := parsed(t, "h.toml",
		hotEndText+"[spread]\nblock_K = 7\nbarrel_mm = 0.1\nfeeder_force_share = 0.6\ndrag_N = [1, 9]\n")
	c, err := Join(duty, feed, hot)
	if err != nil {
		t.Fatal(err)
	}
	for id, want := range map[vary.ID]float64{vary.Force: 0.3, vary.Block: 7, vary.Barrel: 0.1e-3, vary.Viscosity: 2} {
		if got := c.Doubts[string(id)].High; math.Abs(got-want) > 1e-12 {
			t.Errorf("%s known to %g, want %g", id, got, want)
		}
	}
	if _, has := c.Doubts[string(vary.Drag)]; has {
		t.Errorf("%+v", c.Doubts)
	}
	if c.Block != unit.Kelvin(215) || len(c.Refs) != 2 || c.Feeder.Name != "twin gear" || c.HotEnd.Name != "long zone" {
		t.Errorf("block %g, %v", c.Block, c.Refs)
	}
	// On a duty without a block that of the hot end counts, and one that neither gives is missing, once.
	bare, err := Duty("pla", 0, 0)
	if err != nil {
		t.Fatal(err)
	}
	if c, err = Join(bare, feed, hot); err != nil || c.Block != unit.Kelvin(225) || c.Filament.Diameter != 1.75e-3 {
		t.Errorf("%v", err)
	}
	cold := parsed(t, "n.toml", strings.Replace(hotEndText, "block_degC = 225\n", "", 1))
	if _, err = Join(bare, feed, cold); fields(err) != "hot_end.block_degC" {
		t.Errorf("%v", err)
	}
	warm, err := Duty("abs", 2.85, 240)
	if err != nil {
		t.Fatal(err)
	}
	c, err = Join(warm, feed, parsed(t, "w.toml", strings.ReplaceAll(strings.Replace(hotEndText, "block_degC = 225\n",
		"", 1), "diameter_mm = 2\n", "diameter_mm = 3.2\n")))
	if err != nil || c.Block != unit.Kelvin(240) || c.Filament.Diameter != 2.85e-3 || c.Material.ID != "abs" {
		t.Errorf("%v", err)
	}
	for _, x := range []struct {
		material        string
		diameter, block float64
		blamed          string
	}{{"none", 0, 0, "filament.material"}, {"pla", 9, 0, "filament.diameter_mm"}, {"pla", 0, 900, "hot_end.block_degC"},
		{"pla", 0, 50, ""}} {
		if _, err := Duty(x.material, x.diameter, x.block); fields(err) != x.blamed {
			t.Errorf("%+v: %v", x, err)
		}
	}
}

// A point of a file is replaced by one at its flow within two per cent and of its polymer; speeds are flows of the
// file's filament, and forces in kilograms newtons.
func TestWhichPointIsReplaced(t *testing.T) {
	number := func(x float64) *float64 { return &x }
	area := math.Pi / 4 * 1.75 * 1.75
	for _, x := range []struct {
		q    point
		flow float64 // mm3/s, of the new one
		of   string
		same bool
	}{
		{point{Flow: number(5)}, 5.099, "", true}, {point{Flow: number(5)}, 5.103, "", false},
		{point{Flow: number(5.099)}, 5, "", true}, {point{Flow: number(5.101)}, 5, "", false},
		{point{Speed: number(2)}, 2 * area, "", true}, {point{Speed: number(2)}, 2.1 * area, "", false}, {point{}, 5,
			"", false},
		{point{Flow: number(5), Material: "PLA"}, 5, "pla", true}, {point{Flow: number(5), Material: "abs"}, 5, "pla",
			false},
		{point{Flow: number(5), Material: "abs"}, 5, "", true}, {point{Flow: number(5)}, 5, "pla", true},
	} {
		if got := same(x.q, NewPoint{Flow: x.flow * unit.MM3, Stock: x.of}, 1.75e-3); got != x.same {
			t.Errorf("%+v and %g of %q: the same %t", x.q, x.flow, x.of, got)
		}
	}
	if forceOf(point{ForceN: number(7)}) != 7 || forceOf(point{ForceKG: number(2)}) != 2*unit.KGF ||
		forceOf(point{}) != 0 || orUnknown("") != string(feeder.Mixed) || orUnknown("skip") != "skip" {
		t.Error("force and cause of a point")
	}
	full := NewPoint{Flow: 5 * unit.MM3, Force: 70, SD: 1.5, Repeats: 2, Cause: "grind", Block: unit.Kelvin(200),
		Stock: "pla", Current: 0.8, Kind: "rms", From: "a\nb"}
	if got, want := full.toml(),
		"[[feeder.point]]  # a b\nflow_mm3_s = 5\nforce_N = 70\ncause = \"grind\"\nrepeats = 2\n"+
			"sd_N = 1.5\nblock_degC = 200\nmaterial = \"pla\"\ncurrent_A = 0.8\ncurrent_kind = \"rms\""; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	for _, x := range []NewPoint{{Flow: 5 * unit.MM3, Force: 70, Repeats: 1, SD: 3, Cause: "skip"},
		{Flow: 5 * unit.MM3, Force: 70, Repeats: 1, Cause: "skip"}} {
		if got, want := x.toml(),
			"[[feeder.point]]\nflow_mm3_s = 5\nforce_N = 70\ncause = \"skip\"\nrepeats = 1"; got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// Points put into a file: the filament of the file turns its speeds into flows, the lines of the point that is replaced
// go with it and no others, and one that does not stand by itself is not touched.
func TestPointsPutIntoAFile(t *testing.T) {
	thick := "[filament]\ndiameter_mm = 2.85\n\n[feeder]\nname = \"n\"\n\n[[feeder.point]]\n" +
		"speed_mm_s = 3.135\nforce_N = 50\n\n# mine\n[[feeder.point]]\nflow_mm3_s = 9\nforce_N = 40\n"
	text, changes, err := MergePoints("f.toml", []byte(thick), []NewPoint{{Flow: 20 * unit.MM3, Force: 60, Repeats: 1,
		Cause: "grind"}}, 1.75e-3)
	want := "[filament]\ndiameter_mm = 2.85\n\n[feeder]\nname = \"n\"\n\n\n# mine\n[[feeder.point]]\nflow_mm3_s = 9\n" +
		"force_N = 40\n\n[[feeder.point]]\nflow_mm3_s = 20\nforce_N = 60\ncause = \"grind\"\nrepeats = 1\n"
	if err != nil || string(text) != want || !slices.Equal(changes,
		[]string{"20 mm3/s: 60 N by grind, n = 1, was 50 N by " + "unknown, n = 1"}) {
		t.Errorf("%v, %q\n%s", err, changes, text)
	}
	// Without a filament of its own the diameter that is given counts: 3.135 mm/s are then 7.54 mm3/s.
	bare := strings.Replace(thick, "[filament]\ndiameter_mm = 2.85\n\n", "", 1)
	for flow, was := range map[float64]bool{7.54: true, 20: false} {
		_, changes, err := MergePoints("f.toml", []byte(bare), []NewPoint{{Flow: flow * unit.MM3, Force: 60, Repeats: 1,
			Cause: "grind"}}, 1.75e-3)
		if err != nil || len(changes) != 1 || strings.Contains(changes[0], "was 50 N") != was ||
			strings.HasPrefix(changes[0], "new ") == was {
			t.Errorf("%g mm3/s: %q, %v", flow, changes, err)
		}
	}
	inline := "[feeder]\npoint = [{flow_mm3_s = 5, force_N = 50}]\n"
	_, _, err = MergePoints("f.toml", []byte(inline), []NewPoint{{Flow: 5 * unit.MM3, Force: 60, Repeats: 1,
		Cause: "grind"}}, 1.75e-3)
	if err == nil || !strings.Contains(err.Error(), "the point at 5 mm3/s does not stand") {
		t.Errorf("%v", err)
	}
}

// A key that is set goes onto its line, or first under its table, or in a table of its own at the end, or at the top; a
// remark that says assumed goes with the value that it was of.
func TestWhereAKeyGoes(t *testing.T) {
	base := "title = \"t\"\n[filament]\nmaterial = \"pla\"\ndiameter_mm = 1.75\n[hot_end]\n" +
		"block_degC = 215   # assumed: middle\n" +
		"tip_drop_K = 5 # mine\n" + strings.SplitN(hotEndText, "mass_g = 60\n", 2)[1] +
		feederText
	for _, x := range []struct {
		key, value, remark, want string
	}{
		{"hot_end.block_degC", "220", "fit", "\nblock_degC = 220  # fit\n"},
		{"hot_end.block_degC", "220", "", "\nblock_degC = 220\n"},
		{"hot_end.tip_drop_K", "6", "fit", "\ntip_drop_K = 6  # mine\n"},
		{"hot_end.heater_W", "40", "fit", "[hot_end]\nheater_W = 40  # fit\nblock_degC"},
		{"path.drag_N", "3", "", "\n\n[path]\ndrag_N = 3\n"},
		{"title", "\"u\"", "", "title = \"u\"\n[filament]"},
		{"hot_end.section[2].channels", "1", "", "[[hot_end.section]]\nchannels = 1\nname = \"cone\"\n"},
	} {
		out, c, err := Patch("x.toml", []byte(base), map[string]string{x.key: x.value}, x.remark)
		if err != nil || c == nil || strings.Count(string(out), x.want) != 1 {
			t.Errorf("%s = %s: %v\n%s", x.key, x.value, err, out)
		}
	}
	untitled := strings.TrimPrefix(base, "title = \"t\"\n")
	out, _, err := Patch("x.toml", []byte(untitled), map[string]string{"title": `"u"`, "path.drag_N": "3",
		"path.friction": "0.1", "hot_end.heater_W": "40", "filament.inlet_degC": "20"}, "")
	if s := string(out); err != nil || !strings.HasPrefix(s, "title = \"u\"\n[filament]\ninlet_degC = 20\nmaterial") ||
		!strings.Contains(s, "[hot_end]\nheater_W = 40\n") || !strings.HasSuffix(s,
		"\n\n[path]\ndrag_N = 3\nfriction = 0.1\n") {
		t.Errorf("%v\n%s", err, out)
	}
	// A feeder is put where the other stood, with one empty line after it.
	graft, _, err := Graft("x.toml", []byte(base+"\n[path]\ndrag_N = 1\n"), []byte(strings.Replace(base, "force_N = 70",
		"force_N = 99", 1)+"\n\n"))
	if s := string(graft); err != nil || !strings.HasSuffix(s,
		"force_N = 52\ncause = \"skip\"\nmaterial = \"pla\"\n\n[path]\n"+"drag_N = 1\n") || !strings.Contains(s,
		"force_N = 99") {
		t.Errorf("%v\n%s", err, graft)
	}
}

// The list of inputs: every value that is given or assumed with its unit, those that are nothing and not given left
// out; what is marked as assumed counts so.
func TestListOfInputs(t *testing.T) {
	c, err := changed(t, "bend_deg = 0 ", "# bend_deg = 0 ", "friction = 0.2", "# friction = 0.2",
		"heater_W = 50\n", "heater_W = 50 # assumed: as most\n")
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]Input{}
	for _, i := range c.Inputs {
		got[i.Key] = i
	}
	for key, want := range map[string]Input{
		"path.drag_N": {"", "2", "N", false}, "path.friction": {"", "0.2", "", true},
		"hot_end.heater_W":                 {"", "50", "W", true}, // marked
		"hot_end.section[2].angle_deg":     {"", "60", "deg", false},
		"spread.contact_W_m2K":             {"", "3000 to inf", "W/(m2 K)", false},
		"limits.mount_max_N":               {"", "0", "N", false},
		"target.temperatures_degC":         {"", "190 to 240", "degC", false},
		"mould.contact_range_W_m2K":        {"", "1000 to inf", "W/(m2 K)", true},
		"limits.processing_window":         {"", "false", "", false},
		"feeder.stock_degC":                {"", "30", "degC", true},
		"mould.element[3].cavity":          {"", "true", "", false},
		"hot_end.section[1].diameter_mm":   {"", "2", "mm", false},
		"spread.samples":                   {"", got["spread.samples"].Value, "", true},
		"feeder.point[3].force_N":          {"", "57", "N", false},
		"mould.element[1].end_diameter_mm": {"", "3", "mm", false},
	} {
		want.Key = key
		if got[key] != want {
			t.Errorf("%+v, want %+v", got[key], want)
		}
	}
	for _, key := range []string{"path.bend_deg", "feeder.slip_per_N", "feeder_file", "hot_end.section[1].channels",
		"feeder.motor", "spread.correlations"} {
		if x, has := got[key]; has {
			t.Errorf("%+v", x)
		}
	}
	keys := map[string]Key{}
	for _, k := range Keys() {
		keys[k.Path] = k
	}
	for path, want := range map[string]Key{
		"filament.diameter_mm":            {Need: true, Low: 1, High: 5, Kind: "float64"},
		"path.drag_N":                     {Low: 0, High: 200, Kind: "float64", Default: "2"},
		"feeder.point[].repeats":          {Low: 0, High: 10000, Kind: "int"},
		"hot_end.section[].channels":      {Low: 0, High: 1000, Kind: "int"},
		"mould.shots":                     {Low: 0, High: 200, Kind: "int"},
		"feeder.motor.current_kind":       {Need: true, Kind: "string", Low: math.Inf(-1), High: math.Inf(1)},
		"hot_end.section[].wall_degC":     {Low: -20, High: 500, Kind: "slice"},
		"target.temperatures_degC":        {Low: 50, High: 500, Kind: "slice"},
		"feeder.motor.iron_loss_share":    {Low: 0, High: 0.5, Kind: "float64"},
		"feeder.drive.worm.friction":      {Need: true, Low: 0.001, High: 0.5, Kind: "float64"},
		"spread.correlations[].value":     {Need: true, Low: -1, High: 1, Kind: "float64"},
		"mould.element[].end_diameter_mm": {Low: 0.01, High: 500, Kind: "float64"},
	} {
		k := keys[path]
		if k.Need != want.Need || k.Low != want.Low || k.High != want.High || k.Kind != want.Kind ||
			k.Default != want.Default || k.Doc == "" || k.Allowed == "" {
			t.Errorf("%s: %+v, want %+v", path, k, want)
		}
	}
	if k := keys["title"]; k.Allowed != "" || k.Need {
		t.Errorf("%+v", k)
	}
}

// Every other default of a file, by number: each is an assumption that results list.
func TestDefaultsOfAFile(t *testing.T) {
	d := defaults()
	for what, x := range map[string][2]float64{"tolerance": {d.Filament.Tolerance, 0.03}, "inlet": {d.Filament.Inlet,
		25}, "capacity": {d.HotEnd.Capacity, 15}, "loss": {d.HotEnd.Loss, 0.05}, "ambient": {d.HotEnd.Ambient, 25},
		"drag": {d.Path.Drag, 2}, "friction": {d.Path.Friction, 0.2}, "stock": {d.Feeder.Stock, 30},
		"air":     {d.Mould.Air, 25},
		"contact": {d.HotEnd.Contact, 10000}, "heated": {d.HotEnd.Heated, 0.75}, "eccentricity": {d.HotEnd.Eccentric,
			0.4},
		"tip": {d.HotEnd.Tip, 5}, "safety": {d.Limits.Safety, 1.25}, "least flow": {d.Limits.MinFlow, 0.5},
		"most flow": {d.Limits.MaxFlow, 60}} {
		if x[0] != x[1] {
			t.Errorf("%s: %g, want %g", what, x[0], x[1])
		}
	}
}
