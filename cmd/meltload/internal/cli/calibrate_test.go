package cli

import (
	"os"
	"strings"
	"testing"

	"meltload/flow/casefile"
)

// What calibrate wrote is replaced by the same command, unless it was changed by hand since; forces ten times too high
// are said on the page and in the file.
func TestCalibratedCaseIsReplacedOnlyUnchanged(t *testing.T) {
	t.Chdir(t.TempDir())
	write := func(name, text string) {
		t.Helper()
		if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	write("case.toml", string(casefile.BuiltIn))
	write("p.csv", "block_degC;flow_mm3_s;force_N\n195;3;21,7\n215;15;40,7\n225;20;42,4\n")
	args := []string{"calibrate", "case.toml", "p.csv", "--fit", "viscosity", "--write", "c.toml", "--quiet"}
	for range 2 {
		if code, _, errs := run(args...); code != OK {
			t.Fatalf("code %d, %s", code, errs)
		}
	}
	if code, _, errs := run("check", "c.toml"); code != OK || errs != "" {
		t.Errorf("code %d, %s", code, errs)
	}
	b, err := os.ReadFile("c.toml")
	if err != nil {
		t.Fatal(err)
	}
	write("c.toml", "# mine\n"+string(b))
	if code, _, errs := run(args...); code != BadUse || !strings.Contains(errs, "not changed since") {
		t.Errorf("a file changed by hand: code %d, %s", code, errs)
	}
	if again, _ := os.ReadFile("c.toml"); string(again) != "# mine\n"+string(b) {
		t.Error("a file changed by hand was replaced")
	}
	write("p.csv", "block_degC,flow_mm3_s,force_N\n195,3,217\n215,15,407\n225,20,424\n")
	_, out, _ := run("calibrate", "case.toml", "p.csv")
	flat := strings.Join(strings.Fields(out), " ")
	for _, want := range []string{"newtons in a column of kgf", "look at the unit of the forces"} {
		if !strings.Contains(flat, want) {
			t.Errorf("nothing about %q in\n%s", want, out)
		}
	}
}
