package cli

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"meltload/materials/checks"
)

// The shelf is a folder with a case, another one and the demo files, where the command lines that several tests look at
// are run, each once and with every output.
var shelf struct {
	dir  string
	runs map[string]*given
}

// given is what a command line gave.
type given struct {
	code            int
	out, err        string
	html, json, csv string // the report, the result, and the folder of tables
}

// common are those command lines, by a name of theirs: every kind of result is among them.
var common = map[string][]string{
	"assess":            {"assess"},
	"assess-many":       {"assess", "case.toml", "other.toml", "--samples", "16"},
	"rank":              {"rank", "case.toml", "other.toml", "--samples", "16"},
	"plan":              {"plan", "--force-low", "15", "--force-high", "40", "--cell", "10", "--rate", "80"},
	"plan-ramps":        {"plan", "--ramps", "--flows", "5", "--cell", "20"},
	"trace":             {"trace", "--flow", "5", "--feed", "20", "--heater-off"},
	"log":               {"log", "testdata/demo/run.csv"},
	"compare":           {"compare", "testdata/demo/run.csv", "testdata/demo/run.csv"},
	"cell":              {"cell", "testdata/demo/weights.csv"},
	"calibrate":         {"calibrate", "case.toml", "testdata/demo/pushes.csv"},
	"calibrate-spirals": {"calibrate", "case.toml", "--spirals", "lengths.csv", "--write", "fitted.toml"},
	"mould":             {"mould"},
	"survey": {"survey", "case.toml", "--nozzle", "0.4,0.6", "--hot-end", "case.toml", "--hot-end",
		"other.toml", "--block", "215:225:10"},
}

func TestMain(m *testing.M) {
	code := m.Run()
	closeBrowser()
	if shelf.dir != "" {
		os.RemoveAll(shelf.dir)
	}
	os.Exit(code)
}

// once gives what one of the common command lines gave, run at its first use.
func once(t *testing.T, name string) *given {
	t.Helper()
	if g := shelf.runs[name]; g != nil {
		return g
	}
	args := common[name]
	if args == nil {
		t.Fatalf("%s is no common command line", name)
	}
	if shelf.dir == "" {
		fillShelf(t)
	}
	back, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Chdir(shelf.dir); err != nil {
		t.Fatal(err)
	}
	defer os.Chdir(back)
	g := &given{}
	g.code, g.out, g.err = run(append(slices.Clone(args), "--report", name+".html", "--json", name+".json", "--csv",
		name)...)
	in := func(n string) string { return filepath.Join(shelf.dir, n) }
	g.html, g.json, g.csv = in(name+".html"), in(name+".json"), in(name)
	if g.code != OK && g.code != NotHeld {
		t.Fatalf("%v: exit code %d, %s", args, g.code, g.err)
	}
	shelf.runs[name] = g
	return g
}

// fillShelf makes the folder of the common command lines.
func fillShelf(t *testing.T) {
	t.Helper()
	dir, err := os.MkdirTemp("", "meltload-shelf")
	if err != nil {
		t.Fatal(err)
	}
	if err := os.CopyFS(filepath.Join(dir, "testdata", "demo"), os.DirFS(checks.Root("testdata", "demo"))); err != nil {
		t.Fatal(err)
	}
	src := mustRun(t, "starter", "-")
	other := strings.NewReplacer(`name = "club hot end"`, `name = "short hot end"`, "length_mm = 20",
		"length_mm = 12").Replace(src)
	lengths := "# invented\nblock_degC,mould_degC,flow_mm3_s,thickness_mm,width_mm,length_mm\n230,40,12,3,10,6\n"
	for name, text := range map[string]string{"case.toml": src, "other.toml": other, "lengths.csv": lengths} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	shelf.dir, shelf.runs = dir, map[string]*given{}
}
