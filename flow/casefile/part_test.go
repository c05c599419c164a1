package casefile

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"meltload/flow/feeder"
	"meltload/materials/strict"
)

// folder writes files and returns a way to name them.
func folder(t *testing.T, files map[string]string) func(name string) string {
	t.Helper()
	dir := t.TempDir()
	for name, text := range files {
		path := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return func(name string) string { return filepath.Join(dir, name) }
}

const (
	feederText = `[feeder]
name = "twin gear"
mass_g = 180
cost = 40

[[feeder.point]]
speed_mm_s = 2
force_N = 70
cause = "grind"
material = "pla"
repeats = 3
sd_N = 2

[[feeder.point]]
speed_mm_s = 8
force_N = 52
cause = "skip"
material = "pla"
`
	hotEndText = `[hot_end]
name = "long zone"
block_degC = 225
mass_g = 60

[[hot_end.section]]
name = "barrel"
shape = "tube"
diameter_mm = 2
length_mm = 22

[[hot_end.section]]
name = "cone"
shape = "cone"
diameter_mm = 2
end_diameter_mm = 0.4
angle_deg = 60

[[hot_end.section]]
name = "bore"
shape = "tube"
diameter_mm = 0.4
length_mm = 1
`
	dutyText = `title = "named"
feeder_file = "lib/twin.toml"
hot_end_file = "lib/long.toml"

[filament]
material = "pla"
diameter_mm = 1.75
`
)

func library(t *testing.T, more map[string]string) func(string) string {
	files := map[string]string{"lib/twin.toml": feederText, "lib/long.toml": hotEndText, "case.toml": dutyText}
	for k, v := range more {
		files[k] = v
	}
	return folder(t, files)
}

// A case that names its feeder and hot end is the same as one that holds them.
func TestCaseNamesItsParts(t *testing.T) {
	at := library(t, map[string]string{"whole.toml": "title = \"named\"\n[filament]\nmaterial = \"pla\"\ndiameter_mm " +
		"= 1.75\n" + hotEndText + feederText})
	c, err := Read(at("case.toml"))
	if err != nil {
		t.Fatal(err)
	}
	w, err := Read(at("whole.toml"))
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range []float64{1e-3, 2e-3, 5e-3, 9e-3} {
		if c.Feeder.At(v) != w.Feeder.At(v) {
			t.Errorf("at %g m/s: %+v, in one file %+v", v, c.Feeder.At(v), w.Feeder.At(v))
		}
	}
	if c.Block != w.Block || c.HotEnd.Volume() != w.HotEnd.Volume() || c.HotEnd.Name != "long zone" ||
		c.Feeder.Mass != 0.18 {
		t.Errorf("%+v", c.HotEnd)
	}
	if len(c.Refs) != 2 || c.Refs[0].File != at("lib/twin.toml") || c.Refs[0].Hash != Hash([]byte(feederText)) {
		t.Errorf("files: %+v", c.Refs)
	}
	given := map[string]bool{}
	for _, i := range c.Inputs {
		given[i.Key] = !i.Default
	}
	if !given["feeder.point[1].force_N"] || !given["hot_end.block_degC"] || given["hot_end.loss_W_K"] {
		t.Error("what the named files give is not shown as given")
	}
}

// What the case says goes over what the file says; points of its own take the place of all of the file's.
func TestCaseGoesOverItsParts(t *testing.T) {
	at := library(t, map[string]string{"over.toml": dutyText + "[hot_end]\nblock_degC = 205\n[feeder]\nslip_per_N = " +
		"0.001\n[[feeder.point]]\nspeed_mm_s = 3\nforce_N = 44\n"})
	c, err := Read(at("over.toml"))
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(c.Block-478.15) > 1e-9 || c.Feeder.Slip != 0.001 || c.Feeder.Name != "twin gear" ||
		len(c.Feeder.Points) != 1 || c.Feeder.Points[0].Force != 44 || len(c.HotEnd.Sections) != 3 {
		t.Errorf("block %g, feeder %+v, %d sections", c.Block, c.Feeder, len(c.HotEnd.Sections))
	}
}

// Each problem names the file it stands in, its line and field.
func TestProblemsOfParts(t *testing.T) {
	at := library(t, map[string]string{
		"lib/bad.toml":     strings.Replace(feederText, "force_N = 52", "force_N = -52", 1) + "colour = 1\n",
		"lib/nothing.toml": "[hot_end]\nname = \"x\"\n",
		"lib/noblock.toml": strings.Replace(hotEndText, "block_degC = 225\n", "", 1),
		"lib/nested.toml":  "feeder_file = \"twin.toml\"\n",
		"bad.toml":         strings.Replace(dutyText, "twin.toml", "bad.toml", 1),
		"none.toml":        strings.Replace(dutyText, "twin.toml", "none.toml", 1),
		"wrong-table.toml": strings.Replace(dutyText, "twin.toml", "long.toml", 1),
		"nested.toml":      strings.Replace(dutyText, "twin.toml", "nested.toml", 1),
		"no-block.toml":    strings.Replace(dutyText, "long.toml", "noblock.toml", 1),
		"block.toml": strings.Replace(dutyText, "long.toml", "noblock.toml",
			1) + "[hot_end]\nblock_degC = 210\n",
		"no-sections.toml":  strings.Replace(dutyText, "long.toml", "nothing.toml", 1),
		"cross-check.toml":  dutyText + "[hot_end]\nblock_degC = 20.5\n",
		"only-feeder.toml":  "feeder_file = \"lib/twin.toml\"\n[filament]\nmaterial = \"pla\"\ndiameter_mm = 1.75\n",
		"lib/crossing.toml": strings.Replace(feederText, "sd_N = 2", "sd_N = 90", 1),
		"crossing.toml":     strings.Replace(dutyText, "twin.toml", "crossing.toml", 1),
	})
	for name, want := range map[string][]string{
		"bad.toml": {"lib/bad.toml:16: feeder.point[2].force_N: found -52",
			"lib/bad.toml:19: feeder.point[2].colour: found an unknown key"},
		"none.toml":        {"none.toml:2: feeder_file: found \"lib/none.toml\"", "there is no such file"},
		"wrong-table.toml": {"lib/long.toml: feeder: found nothing"},
		"nested.toml":      {"lib/nested.toml:1: feeder_file: found a file that names another"},
		"no-block.toml":    {"hot_end.block_degC: found nothing"},
		"no-sections.toml": {"lib/nothing.toml", "hot_end.section: found nothing"},
		"cross-check.toml": {"cross-check.toml", "hot_end.block_degC: found 20.5"},
		"only-feeder.toml": {"only-feeder.toml: hot_end: found nothing"},
		"crossing.toml":    {"lib/crossing.toml:12: feeder.point[1].sd_N: found 90; allowed: less than the force"},
	} {
		_, err := Read(at(name))
		if err == nil {
			t.Errorf("%s: accepted", name)
			continue
		}
		for _, x := range want {
			if !strings.Contains(err.Error(), x) {
				t.Errorf("%s: %q is not in:\n%v", name, x, err)
			}
		}
	}
	if _, err := Read(at("block.toml")); err != nil {
		t.Errorf("block from the case: %v", err)
	}
}

// Two files that hold only a feeder and only a hot end, joined on the duty of a third.
func TestJoinOnADuty(t *testing.T) {
	at := library(t, map[string]string{"duty.toml": string(BuiltIn)})
	part := func(name string) *Part {
		p, err := ReadPart(at(name))
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	duty, feed, hot := part("duty.toml"), part("lib/twin.toml"), part("lib/long.toml")
	if !duty.Whole() || feed.Whole() || hot.Whole() || !feed.HasFeeder() || feed.HasHotEnd() || !hot.HasHotEnd() ||
		hot.HasFeeder() {
		t.Error("what the files hold is mistaken")
	}
	c, err := Join(duty, feed, hot)
	if err != nil {
		t.Fatal(err)
	}
	own, err := duty.Build()
	if err != nil {
		t.Fatal(err)
	}
	if c.Block != own.Block || c.Target != own.Target || c.Path != own.Path || c.Feeder.At(2e-3).Force != 70 ||
		c.HotEnd.Sections[0].Length != 22e-3 || c.HotEnd.Name != "long zone" {
		t.Errorf("joined: %+v", c)
	}
	if _, err := Join(feed, feed, hot); err == nil || !strings.Contains(err.Error(), "filament") {
		t.Errorf("a duty without filament: %v", err)
	}
}

// A feeder by itself takes its polymer from its points; without one it still has its points.
func TestFeederByItself(t *testing.T) {
	at := library(t, map[string]string{
		"thick.toml": "[filament]\ndiameter_mm = 2.85\nmaterial = \"abs\"\n[[feeder.point]]\nflow_mm3_s = " +
			"20\nforce_N = 50\n",
		"unknown.toml": strings.ReplaceAll(feederText, `material = "pla"`, `material = "a blend of mine"`),
		"grip.toml":    "[feeder.grip]\narea_mm2 = 0.5\nwheels = 2\n",
		"duty.toml":    string(BuiltIn),
	})
	get := func(name string, duty *Part) (*feeder.Feeder, string, error) {
		p, err := ReadPart(at(name))
		if err != nil {
			t.Fatal(err)
		}
		f, ws, err := p.Feeder(duty)
		codes := ""
		for _, w := range ws {
			codes += w.Code + " "
		}
		return f, codes, err
	}
	f, codes, err := get("lib/twin.toml", nil)
	if err != nil || f.Stock == nil || f.Stock.Material.ID != "pla" || f.At(2e-3).Force != 70 ||
		codes != "default-filament " {
		t.Errorf("%+v, %s, %v", f, codes, err)
	}
	f, _, err = get("unknown.toml", nil)
	if err != nil || f.Stock != nil || f.At(2e-3).Force != 70 || f.Name != "twin gear" {
		t.Errorf("%+v, %v", f, err)
	}
	if _, _, err := get("grip.toml", nil); err == nil || !strings.Contains(err.Error(), "need a material") {
		t.Errorf("a grip without a polymer: %v", err)
	}
	// The flow was measured with thick filament: 20 mm3/s of 2.85 mm are 3.135 mm/s, whatever the duty's filament.
	want := 20e-9 / (math.Pi / 4 * 2.85e-3 * 2.85e-3)
	duty, err := ReadPart(at("duty.toml"))
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range []*Part{nil, duty} {
		f, _, err = get("thick.toml", d)
		if err != nil || math.Abs(f.Points[0].Speed/want-1) > 1e-9 || f.Name != "thick" {
			t.Errorf("%+v, %v", f, err)
		}
	}
}

func TestReadPartRefusesWhatIsNone(t *testing.T) {
	_, err := ParsePart("x.toml", []byte("title = \"nothing\"\n"))
	if ps, ok := err.(strict.Problems); !ok || len(ps) != 1 ||
		!strings.Contains(err.Error(), "neither a feeder nor a hot end") {
		t.Errorf("%v", err)
	}
	if _, err := ParsePart("x.toml", []byte("[feeder]\nmass_g = -1\n[[feeder.point]]\nforce = 2\n")); err == nil ||
		!strings.Contains(err.Error(), "mass_g") || !strings.Contains(err.Error(), "force") {
		t.Errorf("%v", err)
	}
}

// A change of a value that stands in a named file brings that file's table into the case; the file is left alone.
func TestPatchOfANamedPart(t *testing.T) {
	at := library(t, nil)
	src, err := os.ReadFile(at("case.toml"))
	if err != nil {
		t.Fatal(err)
	}
	text, c, err := Patch(at("case.toml"), src, map[string]string{"hot_end.section[3].diameter_mm": "0.6",
		"hot_end.section[2].end_diameter_mm": "0.6", "feeder.point[1].force_N": "81"}, "wider")
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	if math.Abs(c.HotEnd.Bore()-0.6e-3) > 1e-12 || c.Feeder.At(2e-3).Force != 81 ||
		c.Feeder.At(8e-3).Cause != feeder.Skip || len(c.Refs) != 0 {
		t.Errorf("%+v\n%s", c.HotEnd, text)
	}
	old, _ := Read(at("case.toml"))
	if c.HotEnd.Sections[0] != old.HotEnd.Sections[0] || c.Feeder.At(8e-3) != old.Feeder.At(8e-3) ||
		c.HotEnd.Mass != old.HotEnd.Mass || c.Block != old.Block {
		t.Errorf("more than what was asked has changed:\n%s", text)
	}
	// A plain key goes under its table in the case, over the file.
	text, c, err = Patch(at("case.toml"), src, map[string]string{"hot_end.block_degC": "201"}, "")
	if err != nil || math.Abs(c.Block-474.15) > 1e-9 || len(c.Refs) != 2 {
		t.Errorf("%v\n%s", err, text)
	}
	if kept, _ := os.ReadFile(at("lib/long.toml")); string(kept) != hotEndText {
		t.Error("the named file was changed")
	}
}

// Every key comes through: what a rich file gives is the same written out.
func TestInlineLosesNothing(t *testing.T) {
	rich := "[feeder]\nname = \"a \\\"b\\\"\"\nslip_per_N = 1e-4\n[feeder.motor]\nholding_torque_Ncm = 40\nrated_A = " +
		"1.5\ncurrent_A = 0.9\ncurrent_kind = \"rms\"\ncurve_rpm_Ncm = [[60, 30], [600, " +
		"12.5]]\n[feeder.drive]\nratio = 3\ndiameter_mm = 8\n[feeder.drive.worm]\nlead_angle_deg = " +
		"10\npressure_angle_deg = 20\nfriction = 0.1\n[feeder.gap]\nlength_mm = 4\n[[feeder.point]]\nspeed_mm_s = " +
		"2\nforce_N = 70\n"
	at := library(t, map[string]string{"lib/twin.toml": rich})
	src, _ := os.ReadFile(at("case.toml"))
	text, err := Inline(at("case.toml"), src)
	if err != nil {
		t.Fatal(err)
	}
	a, ps := Parse(at("case.toml"), src)
	b, qs := Parse(at("case.toml"), text)
	if len(ps)+len(qs) > 0 {
		t.Fatalf("%v %v\n%s", ps, qs, text)
	}
	if len(a.Inputs) != len(b.Inputs)+2 { // the two file keys
		t.Errorf("%d inputs, inlined %d", len(a.Inputs), len(b.Inputs))
	}
	by := map[string]Input{}
	for _, i := range b.Inputs {
		by[i.Key] = i
	}
	for _, i := range a.Inputs {
		if i.Key != "feeder_file" && i.Key != "hot_end_file" && by[i.Key] != i {
			t.Errorf("%+v, inlined %+v", i, by[i.Key])
		}
	}
}
