package cli

import (
	"math"
	"os"
	"strings"
	"testing"

	"meltload/flow/quantity"
	"meltload/flow/study"
)

// A value set on the command line gives the answer of a case file that says it, and is marked in the inputs; a wrong
// key or value names what is allowed.
func TestSetOverridesTheCase(t *testing.T) {
	dir := t.TempDir()
	mustRun(t, "starter", dir+"/a.toml")
	set := mustRun(t, "assess", dir+"/a.toml", "--solver", "lumped", "--set", "hot_end.section[3].diameter_mm=0.5",
		"--set", "hot_end.heated_share=0.6")
	src, err := os.ReadFile(dir + "/a.toml")
	if err != nil {
		t.Fatal(err)
	}
	text := strings.NewReplacer("end_diameter_mm = 0.4", "end_diameter_mm = 0.5", "\ndiameter_mm = 0.4",
		"\ndiameter_mm = 0.5", "heated_share = 0.75", "heated_share = 0.6").Replace(string(src))
	if err := os.WriteFile(dir+"/b.toml", []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	file := mustRun(t, "assess", dir+"/b.toml", "--solver", "lumped")
	first := func(s string) string { line, _, _ := strings.Cut(s, "Likely"); return strings.Split(line, "\n")[0] }
	if first(set) != first(file) {
		t.Errorf("set:  %s\nfile: %s", first(set), first(file))
	}
	for arg, want := range map[string]string{"hot_end.heated_shar=0.6": "did you mean \"hot_end.heated_share\"",
		"hot_end.heated_share=6": "allowed are 0.1 to 1", "hot_end.heated_share": "a number in its unit"} {
		code, _, errw := run("assess", dir+"/a.toml", "--set", arg)
		if code != BadUse || !strings.Contains(errw, want) {
			t.Errorf("--set %s: code %d, %s", arg, code, errw)
		}
	}
}

// A wanted print speed is a wanted flow of layer height times line width times speed.
func TestPrintSpeedIsAWantedFlow(t *testing.T) {
	t.Chdir(t.TempDir())
	run("assess", "--print-speed", "150", "--samples", "16", "--quiet", "--json", "a.json")
	b, err := os.ReadFile("a.json")
	if err != nil {
		t.Fatal(err)
	}
	var r study.Result
	if err := quantity.Decode(b, &r); err != nil {
		t.Fatal(err)
	}
	if v := r.Verdict; math.Abs(*v.Target/13.5e-9-1) > 1e-9 || math.Abs(*v.Printed.Wanted/0.15-1) > 1e-9 {
		t.Errorf("150 mm/s is a wanted flow of %g m3/s, told as %g m/s", *v.Target, *v.Printed.Wanted)
	}
	if code, _, errs := run("assess", "--print-speed", "150", "--flow", "3"); code != BadUse ||
		!strings.Contains(errs, "give one of them") {
		t.Errorf("both: code %d, %s", code, errs)
	}
}
