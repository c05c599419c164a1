package cli

import (
	"bytes"
	"context"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"meltload/flow/casefile"
	"meltload/flow/vary"
)

// answer runs the guided starter with a script of answers, one a line.
func answer(t *testing.T, file string, script ...string) (int, string) {
	t.Helper()
	var out, errw bytes.Buffer
	code := Run(context.Background(), []string{"starter", "--ask", file},
		strings.NewReader(strings.Join(script, "\n")+"\n"), &out, &errw)
	return code, strings.Join(strings.Fields(errw.String()), " ")
}

func TestGuidedStarter(t *testing.T) {
	enter := make([]string, 10)
	for _, c := range []struct {
		name   string
		script []string
		check  func(c *casefile.Case) bool
		says   string
	}{
		{"only Enter", enter, func(c *casefile.Case) bool {
			return c.Feeder.Points[0].Force == casefile.GuessedForce &&
				c.Doubts["force"].High == casefile.GuessedShare && c.Material.ID == "pla"
		}, ""},
		{"measured forces", []string{"hull bench", "ABS", "1,75", "245", "0.6", "20", "", "40", "force", "5", "7.5 kgf",
			"grind", "yes", "20", "60", "skip", "no", "12"}, func(c *casefile.Case) bool {
			return len(c.Feeder.Points) == 2 && c.Feeder.Points[0].Force > 73.5 && c.Feeder.Points[0].Force < 73.6 &&
				c.Material.ID == "abs" && c.HotEnd.Bore() == 0.6e-3 && c.Target > 11.9e-9 && c.HotEnd.Block.Power == 40
		}, ""},
		{"a motor", []string{"", "petg", "", "", "", "", "", "", "motor", "40", "1.2", "0.8", "rms", "2.1", "3.4", "24",
			"3", "7.4", "2", ""}, func(c *casefile.Case) bool {
			return c.Feeder.Model != nil && c.Feeder.Model.Motor != nil && c.Feeder.Model.Grip.Wheels == 2 &&
				c.Doubts["viscosity"].High == 3
		}, "placeholders"},
		{"units, commas and what is not known", []string{"x", "?", "1,75 mm", "419 F", "don't know", "2 cm", "?",
			"no idea", "force", "?", "7,5 kgf", "grind", "no", "?"}, func(c *casefile.Case) bool {
			as := assumedKeys(c)
			return math.Abs(c.Block-488.15) < 1e-6 && math.Abs(c.HotEnd.Sections[0].Length-0.02) < 1e-12 &&
				math.Abs(c.Feeder.Points[0].Force-73.549875) < 1e-6 &&
				as["filament.material"] && !as["filament.diameter_mm"] && !as["hot_end.block_degC"] &&
				as["hot_end.section[3].diameter_mm"] && as["feeder.point[1].flow_mm3_s"] &&
				!as["feeder.point[1].force_N"]
		}, "0.4 mm is assumed"},
		{"nothing of the motor known", []string{"", "", "", "", "", "", "", "", "motor", "", "?", "", "", "", "", "",
			"", "", "", ""}, func(c *casefile.Case) bool {
			as := assumedKeys(c)
			return as["feeder.motor.holding_torque_Ncm"] && as["feeder.motor.current_kind"] &&
				as["feeder.drive.ratio"] && as["feeder.grip.wheels"] && c.Doubts["force"].High > 0
		}, ""},
		{"a placeholder of better standing", []string{"", "pa12", "", "", "", "", "", "", "", "", ""},
			func(c *casefile.Case) bool { return c.Doubts["viscosity"].High == 3 }, "placeholders"},
		{"mistakes put right", []string{"x", "plaa", "pla", "", "hot", "2000", "210", "", "", "", "", "", ""},
			func(c *casefile.Case) bool { return c.Block > 483 && c.Block < 483.2 }, `did you mean "pla"?`},
		{"a title with quotes", append([]string{"a \"b\" \\ \x01 # c"}, enter[1:]...),
			func(c *casefile.Case) bool { return strings.Contains(c.Title, `a "b" \`) }, ""},
	} {
		file := filepath.Join(t.TempDir(), "case.toml")
		code, said := answer(t, file, c.script...)
		if code != OK || !strings.Contains(said, c.says) {
			t.Errorf("%s: exit code %d, %s", c.name, code, said)
			continue
		}
		b, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		cs, ps := casefile.Parse(file, b)
		if len(ps) > 0 || !c.check(cs) {
			t.Errorf("%s: %v\n%s", c.name, ps, b)
			continue
		}
		code, out, errw := run("assess", file, "--solver", "lumped")
		if code != OK && code != NotHeld || strings.Contains(out, "NaN") {
			t.Errorf("%s: assess: %d %s", c.name, code, errw)
		}
	}
	// Answers that end too early write nothing, and an existing file is not asked about.
	file := filepath.Join(t.TempDir(), "case.toml")
	if code, said := answer(t, file, "x", "pla"); code != BadUse || !strings.Contains(said, "question 3") {
		t.Errorf("ended early: %d %s", code, said)
	}
	if _, err := os.Stat(file); !os.IsNotExist(err) {
		t.Error("a half case was written")
	}
	os.WriteFile(file, []byte("mine"), 0o644)
	if code, said := answer(t, file, enter...); code != BadUse || !strings.Contains(said, "--force") ||
		strings.Contains(said, "1.") {
		t.Errorf("existing file: %d %s", code, said)
	}
	// A motor set to more than its supply can drive: the file is written with what is wrong told.
	file = filepath.Join(t.TempDir(), "case.toml")
	code, said := answer(t, file, "", "", "", "", "", "", "", "", "motor", "40", "1.2", "10", "rms", "20", "3", "24",
		"3", "7.4", "2", "")
	if code != OK || !strings.Contains(said, "the supply cannot drive this current") {
		t.Errorf("overdriven: %d %s", code, said)
	}
}

// assumedKeys are the inputs of a case that count as assumed.
func assumedKeys(c *casefile.Case) map[string]bool {
	out := map[string]bool{}
	for _, in := range c.Inputs {
		if in.Default {
			out[in.Key] = true
		}
	}
	return out
}

// Whoever answers nothing at all gets a case of which every number counts as assumed, and whose assumed sizes have a
// spread; setting one of them takes the mark away.
func TestNothingKnownIsAllAssumed(t *testing.T) {
	text, err := askCase("x.toml", strings.NewReader(strings.Repeat("\n", 10)), io.Discard)
	if err != nil {
		t.Fatal(err)
	}
	c, ps := casefile.Parse("x.toml", text)
	if len(ps) > 0 {
		t.Fatal(ps)
	}
	free := map[string]bool{"title": true, "hot_end.name": true, "feeder.name": true, "target.flow_mm3_s": true,
		"feeder.point[1].cause": true}
	for _, in := range c.Inputs {
		if !in.Default && !free[in.Key] && !strings.HasSuffix(in.Key, ".name") && !strings.HasSuffix(in.Key, ".shape") {
			t.Errorf("%s = %s counts as given", in.Key, in.Value)
		}
	}
	for _, id := range []string{"viscosity", "contact", "heated", "eccentricity", "block", "bore", "barrel", "zone",
		"land", "force"} {
		if q, ok := vary.Find(&c.Setup, id); !ok {
			t.Errorf("%s is nothing that varies", id)
		} else if b := q.Band(&c.Setup); b.Known {
			t.Errorf("%s has no spread: %s", id, b.Text)
		}
	}
	patched, d, err := casefile.Patch("x.toml", text, map[string]string{"hot_end.block_degC": "220"}, "")
	if err != nil || assumedKeys(d)["hot_end.block_degC"] || !strings.Contains(string(patched), "block_degC = 220\n") {
		t.Errorf("a value that was set is still assumed: %v\n%s", err, patched)
	}
}

// FuzzGuide: whatever is answered, the questions end, and what they write is a case or comes with its problems.
func FuzzGuide(f *testing.F) {
	f.Add("bench\npla\n1.75\n215\n0.4\n20\n2\n40\nforce\n5\n74\ngrind\nno\n10\n")
	f.Add("\n\n\n\n\n\n\n\nmotor\n\n\n\n\n\n\n\n\n\n\n\n")
	f.Add("a\"b\\\nabs\n1e300\n-1\nNaN\ninf\n")
	f.Fuzz(func(t *testing.T, script string) {
		var out bytes.Buffer
		text, err := askCase("fuzz.toml", strings.NewReader(script), &out)
		if err != nil {
			return
		}
		if _, ps := casefile.Parse("fuzz.toml", text); len(ps) > 0 &&
			!strings.Contains(out.String(), "do not make a case") {
			t.Fatalf("%v\n%s", ps, text)
		}
	})
}
