package cli

import (
	"encoding/csv"
	"os"
	"strings"
	"testing"

	"meltload/materials/checks"
)

// What a survey cannot take is refused with everything that is wrong, before anything is computed or written.
func TestSurveyRefusals(t *testing.T) {
	t.Chdir(t.TempDir())
	os.WriteFile("feeder.toml", []byte("[feeder]\n[[feeder.point]]\nspeed_mm_s = 3\nforce_N = 60\n"), 0o644)
	for _, c := range []struct {
		args string
		want []string
	}{
		{"--material pla,petgg,nylonx", []string{`did you mean "petg"?`, "nylonx", "2 errors"}},
		{"--material ./none.toml", []string{"./none.toml", "a readable material record"}},
		{"--material pla,pla --nozzle 0.4,0.4", []string{"each value once", "each material once"}},
		{"--nozzle 0.2:2.1:0.01 --block 180:280:1", []string{"19291 combinations", "at most 2000"}},
		{"--nozzle 0.4:0.65:0.1", []string{"write 0.4:0.6:0.1"}},
		{"--nozzle 0,4", []string{"--nozzle", "0.05 to 5"}},
		{"--block 20,90", []string{"--block", "50 to 500 degC"}},
		{"--flow 5 --print-speed 100", []string{"give one of them"}},
		{"--hot-end none.toml", []string{"none.toml"}},
		{"--hot-end feeder.toml", []string{"feeder.toml", "no [hot_end]"}},
	} {
		code, out, errs := run(append([]string{"survey", "--json", "out.json"}, strings.Fields(c.args)...)...)
		if code != BadUse || out != "" {
			t.Errorf("%s: code %d, %s", c.args, code, out)
		}
		for _, w := range c.want {
			if !strings.Contains(errs, w) {
				t.Errorf("%s: %q is not in %s", c.args, w, errs)
			}
		}
		if _, err := os.Stat("out.json"); err == nil {
			t.Fatalf("%s: something was written", c.args)
		}
	}
}

// Materials by name and by the file of a record, and hot ends by file, stand in the table under their names; the files
// are named in the report. A wanted print speed that nothing holds is exit code 3.
func TestSurveyOfFiles(t *testing.T) {
	record, err := os.ReadFile(checks.Root("testdata", "worked", "abs-published.toml"))
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir(t.TempDir())
	os.WriteFile("mine.toml", record, 0o644)
	src := mustRun(t, "starter", "-")
	os.WriteFile("case.toml", []byte(src), 0o644)
	os.WriteFile("long.toml", []byte(strings.NewReplacer(`name = "club hot end"`, `name = "long"`, "length_mm = 20",
		"length_mm = 30").Replace(src)), 0o644)
	code, out, errs := run("survey", "case.toml", "--material", "pla", "--material", "./mine.toml", "--hot-end",
		"case.toml", "--hot-end", "long.toml", "--block", "230", "--print-speed", "2000", "--csv", "tables")
	if code != NotHeld {
		t.Fatalf("code %d, %s", code, errs)
	}
	f, err := os.Open("tables/survey.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, r := range rows[1:] {
		got = append(got, r[0]+" "+r[1])
	}
	want := "pla club hot end,pla long,abs-published club hot end,abs-published long"
	if strings.Join(got, ",") != want {
		t.Errorf("rows %v, want %s", got, want)
	}
	for _, w := range []string{"long.toml, SHA-256", "case.toml, SHA-256", "mine.toml, SHA-256", "not held in 4"} {
		if !strings.Contains(out, w) {
			t.Errorf("%q is not in the text", w)
		}
	}
}
