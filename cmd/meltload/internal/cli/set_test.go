package cli

import (
	"os"
	"strings"
	"testing"
)

// A value set on the command line gives the answer of a case file that says it, and is marked in the inputs; a wrong key or value names what is allowed.
func TestSetOverridesTheCase(t *testing.T) {
	if testing.Short() {
		t.Skip("takes long")
	}
	dir := t.TempDir()
	mustRun(t, "starter", dir+"/a.toml")
	set := mustRun(t, "assess", dir+"/a.toml", "--solver", "lumped", "--set", "hot_end.section[3].diameter_mm=0.5", "--set", "hot_end.heated_share=0.6")
	src, err := os.ReadFile(dir + "/a.toml")
	if err != nil {
		t.Fatal(err)
	}
	text := strings.NewReplacer("end_diameter_mm = 0.4", "end_diameter_mm = 0.5", "\ndiameter_mm = 0.4", "\ndiameter_mm = 0.5", "heated_share = 0.75", "heated_share = 0.6").Replace(string(src))
	if err := os.WriteFile(dir+"/b.toml", []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	file := mustRun(t, "assess", dir+"/b.toml", "--solver", "lumped")
	first := func(s string) string { line, _, _ := strings.Cut(s, "Likely"); return strings.Split(line, "\n")[0] }
	if first(set) != first(file) {
		t.Errorf("set:  %s\nfile: %s", first(set), first(file))
	}
	for arg, want := range map[string]string{"hot_end.heated_shar=0.6": "did you mean \"hot_end.heated_share\"", "hot_end.heated_share=6": "allowed are 0.1 to 1", "hot_end.heated_share": "a number in its unit"} {
		code, _, errw := run("assess", dir+"/a.toml", "--set", arg)
		if code != BadUse || !strings.Contains(errw, want) {
			t.Errorf("--set %s: code %d, %s", arg, code, errw)
		}
	}
}
