package casefile

import (
	"flag"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"meltload/flow/mould"
	"meltload/flow/setup"
	"meltload/materials"
	"meltload/materials/checks"
	"meltload/materials/strict"
	"meltload/materials/unit"
)

var update = flag.Bool("update", false, "rewrite the .want files")

// TestBadCorpus reads every file of testdata/bad: each must be refused with
// exactly the messages beside it, and none may panic.
func TestBadCorpus(t *testing.T) {
	files, err := filepath.Glob(checks.Root("testdata", "bad", "*.toml"))
	if err != nil || len(files) < 60 {
		t.Fatalf("%d files in the corpus (%v)", len(files), err)
	}
	seen := map[string]string{}
	for _, f := range files {
		name := strings.TrimSuffix(filepath.Base(f), ".toml")
		t.Run(name, func(t *testing.T) {
			src, err := os.ReadFile(f)
			if err != nil {
				t.Fatal(err)
			}
			_, ps := Parse(name+".toml", src)
			if len(ps) == 0 {
				t.Fatal("accepted")
			}
			got := ps.Error() + "\n"
			want := strings.TrimSuffix(f, ".toml") + ".want"
			if *update {
				if err := os.WriteFile(want, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			b, err := os.ReadFile(want)
			if err != nil {
				t.Fatal(err)
			}
			if got != string(b) {
				t.Errorf("got\n%swant\n%s", got, b)
			}
			msg := strings.Replace(got, name+".toml", "", -1)
			if other, ok := seen[msg]; ok {
				t.Errorf("same message as %s: one of them is superfluous", other)
			}
			seen[msg] = name
			for _, p := range ps {
				if p.Line == 0 && p.Field != "" && name != "empty" {
					continue // a missing table has no line of its own
				}
			}
		})
	}
}

func TestManyErrorsComeInOneRun(t *testing.T) {
	src, err := os.ReadFile(checks.Root("testdata", "bad", "many-errors.toml"))
	if err != nil {
		t.Fatal(err)
	}
	_, ps := Parse("x", src)
	if len(ps) < 5 {
		t.Errorf("%d errors reported, want all of them:\n%v", len(ps), ps)
	}
	for i := 1; i < len(ps); i++ {
		if ps[i].Line < ps[i-1].Line {
			t.Error("errors are not in the order of the file")
		}
	}
}

func builtIn(t testing.TB) *Case {
	c, ps := Parse(BuiltInName, BuiltIn)
	if len(ps) > 0 {
		t.Fatal(ps)
	}
	return c
}

func TestBuiltInCase(t *testing.T) {
	c := builtIn(t)
	if got := unit.Celsius(c.Block); got != 215 {
		t.Errorf("block %v degC", got)
	}
	if len(c.HotEnd.Sections) != 3 || math.Abs(c.HotEnd.Sections[1].Length-0.8e-3/math.Tan(math.Pi/6)) > 1e-12 {
		t.Errorf("sections %+v", c.HotEnd.Sections)
	}
	if len(c.Feeder.Points) != 3 || math.Abs(c.Feeder.Points[0].Speed*c.Area()-5e-9) > 1e-15 {
		t.Errorf("points %+v", c.Feeder.Points)
	}
	defaults := 0
	for _, i := range c.Inputs {
		if i.Default {
			defaults++
		}
	}
	if defaults == 0 || len(c.Inputs) < 40 {
		t.Errorf("%d inputs, %d defaults", len(c.Inputs), defaults)
	}
}

func TestStepIsPutIn(t *testing.T) {
	src := strings.Replace(string(BuiltIn), `[[hot_end.section]]
name = "cone"
shape = "cone"
diameter_mm = 2.0
end_diameter_mm = 0.4
angle_deg = 60            # included angle; or length_mm. 180 is a flat step
`, "", 1)
	c, ps := Parse("x", []byte(src))
	if len(ps) > 0 {
		t.Fatal(ps)
	}
	if len(c.HotEnd.Sections) != 3 || c.HotEnd.Sections[1].Half != math.Pi/2 {
		t.Errorf("no flat step between barrel and bore: %+v", c.HotEnd.Sections)
	}
	if len(c.Notes) != 1 || c.Notes[0].Code != "flat-step" {
		t.Errorf("notes %v", c.Notes)
	}
}

// A bore ten times as wide as the cone's end is a slip of the pen; twice as wide may be meant.
func TestSuddenWideningIsSaid(t *testing.T) {
	for d, want := range map[string]bool{"4": true, "0.81": true, "0.8": false, "0.4": false} {
		src := strings.Replace(string(BuiltIn), "diameter_mm = 0.4\nlength_mm = 1.0",
			"diameter_mm = "+d+"\nlength_mm = 1.0", 1)
		if d != "0.4" {
			src = strings.Replace(src, "\nbore_mm", "\n# bore_mm", 1)
		}
		c, ps := Parse("x", []byte(src))
		if len(ps) > 0 {
			t.Fatal(ps)
		}
		said := slices.ContainsFunc(c.Notes, func(w materials.Warning) bool {
			return w.Code == "sudden-widening" && strings.Contains(w.Message, "ends at 0.4 mm")
		})
		if said != want {
			t.Errorf("%s mm after 0.4 mm: %v", d, c.Notes)
		}
	}
}

// FuzzParse: whatever the text, there is a case or there are problems, and no panic.
func FuzzParse(f *testing.F) {
	f.Add(lean)
	for _, n := range []string{"many-errors", "motor-curve-unsorted", "mould-copies", "cone-angle-and-length",
		"unknown-key"} {
		if b, err := os.ReadFile(checks.Root("testdata", "bad", n+".toml")); err == nil && len(b) < 2000 {
			f.Add(b)
		}
	}
	f.Fuzz(func(t *testing.T, src []byte) {
		c, ps := Parse("fuzz.toml", src)
		if (c == nil) == (len(ps) == 0) {
			t.Fatalf("case %v with problems %v", c != nil, ps)
		}
		if c == nil {
			return
		}
		for i := range c.HotEnd.Sections {
			if v := c.HotEnd.Sections[i].Volume(); math.IsNaN(v) || v < 0 {
				t.Fatalf("section %d has volume %v", i, v)
			}
		}
		if k := c.Feeder.At(3e-3); math.IsNaN(k.Force) || k.Force < 0 {
			t.Fatalf("capability %+v", k)
		}
	})
}

// lean is a short case: a fuzzer that works on short inputs gets further.
var lean = []byte(`[filament]
material = "pla"
diameter_mm = 1.75
[hot_end]
block_degC = 215
[[hot_end.section]]
shape = "tube"
diameter_mm = 2
length_mm = 20
[[hot_end.section]]
shape = "cone"
diameter_mm = 2
end_diameter_mm = 0.4
angle_deg = 60
[feeder]
[[feeder.point]]
flow_mm3_s = 5
force_N = 74
[target]
flow_mm3_s = 10
[spread]
viscosity_factor = 2
`)

// What goes together is read by the keys of [spread], and all that is wrong with it is told with its line.
func TestCorrelationsOfSpread(t *testing.T) {
	read := func(list string) (*Case, strict.Problems) {
		return Parse("x.toml", append(slices.Clone(lean), "correlations = ["+list+"]\n"...))
	}
	c, ps := read(`{of = "viscosity_factor", with = "entrance_factor", value = -0.8}`)
	if len(ps) > 0 {
		t.Fatal(ps)
	}
	want := []setup.Correlation{{First: "viscosity", Second: "entrance", Value: -0.8}}
	if !slices.Equal(c.Correlations, want) {
		t.Errorf("%+v", c.Correlations)
	}
	for _, x := range []struct{ list, want string }{
		{`{of = "viscosity_facto", with = "drag_N", value = 0.5}`, `did you mean "viscosity_factor"?`},
		{`{of = "viscosity_factor", value = 0.5}`, "with"},
		{`{of = "viscosity_factor", with = "drag_N", value = 1.5}`, "-1 to 1"},
		{`{of = "viscosity_factor", with = "viscosity_factor", value = 0.5}`, "itself"},
		{`{of = "viscosity_factor", with = "drag_N", value = 0.5, and = 1}`, "and"},
	} {
		if _, ps := read(x.list); len(ps) == 0 || !strings.Contains(ps.Error(), x.want) {
			t.Errorf("%s: %v, want %q", x.list, ps, x.want)
		} else if !strings.Contains(ps.Error(), "x.toml") {
			t.Errorf("no file in %v", ps)
		}
	}
}

// FuzzPatch: whatever key is set to whatever value, the text that comes back is the case or its problems, other lines
// stand as they were, and a value that was taken is found in the case.
func FuzzPatch(f *testing.F) {
	if _, ps := Parse("lean", lean); len(ps) > 0 {
		f.Fatal(ps)
	}
	f.Add("hot_end.block_degC", "230", "")
	f.Add("hot_end.section[2].angle_deg", "1e300", "mine")
	f.Add("path.drag_N", "[1, 2]", "# twice")
	f.Add("feeder.point[1].force_N", "0x10 # x", "a\nb")
	f.Fuzz(func(t *testing.T, key, value, remark string) {
		out, c, err := Patch("fuzz.toml", lean, map[string]string{key: value}, remark)
		if err == nil && c == nil || err != nil && c != nil {
			t.Fatalf("case %v, %v", c != nil, err)
		}
		if c == nil {
			return
		}
		if again, ps := Parse("fuzz.toml", out); len(ps) > 0 || again.Hash != c.Hash {
			t.Fatalf("the text is another case: %v", ps)
		}
		for i := range c.HotEnd.Sections {
			if v := c.HotEnd.Sections[i].Volume(); math.IsNaN(v) || v < 0 {
				t.Fatalf("section %d has volume %v", i, v)
			}
		}
	})
}

// FuzzGraft: whatever the text that lends its feeder, there is a case with it or an error.
func FuzzGraft(f *testing.F) {
	f.Add([]byte("[feeder]\nname = \"b\"\n[[feeder.point]]\nflow_mm3_s = 1\nforce_N = 2\n"))
	f.Add([]byte("[feeder.motor]\nholding_torque_Ncm = 1e9\n[target]\nflow_mm3_s = 3\n"))
	f.Fuzz(func(t *testing.T, src []byte) {
		_, c, err := Graft("fuzz.toml", lean, src)
		if (c == nil) == (err == nil) {
			t.Fatalf("case %v, %v", c != nil, err)
		}
		if c != nil {
			if k := c.Feeder.At(3e-3); math.IsNaN(k.Force) || k.Force < 0 {
				t.Fatalf("capability %+v", k)
			}
		}
	})
}

// The materials of moulds that a case file may name are those that package mould knows.
func TestWallMaterialsAreThoseOfMoulds(t *testing.T) {
	f, _ := reflect.TypeFor[mouldSpec]().FieldByName("Material")
	names := strings.Fields(f.Tag.Get("enum"))
	slices.Sort(names)
	if !slices.Equal(names, mould.WallNames()) {
		t.Errorf("the case file allows %v, package mould knows %v", names, mould.WallNames())
	}
}
