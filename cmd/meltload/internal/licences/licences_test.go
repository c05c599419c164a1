package licences

import (
	"bytes"
	"flag"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"testing"

	"meltload/materials/checks"
)

var update = flag.Bool("update", false, "gather the licences of what is linked")

// systems are what the program is built for: a library may be linked on one of them alone.
var systems = []string{"linux", "darwin", "windows"}

var licenceFile = regexp.MustCompile(`(?i)^(licen[cs]e|copying|notice|patents)`)
var thirdParty = regexp.MustCompile(`(?i)^third.?party.?licen[cs]es$`)

// linked are the modules that are in the program on any system, with the folder of each.
func linked(t *testing.T) map[string]string {
	t.Helper()
	out := map[string]string{}
	for _, s := range systems {
		maps.Copy(out, linkedOn(t, s, "amd64", "./cmd/meltload"))
	}
	return out
}

// linkedOn are the modules that are in a program on one system.
func linkedOn(t *testing.T, system, machine, program string) map[string]string {
	t.Helper()
	out := map[string]string{}
	c := exec.Command("go", "list", "-deps", "-f", "{{with .Module}}{{.Path}}\t{{.Dir}}{{end}}", program)
	c.Dir, c.Env = checks.Root(), append(os.Environ(), "GOOS="+system, "GOARCH="+machine, "CGO_ENABLED=0")
	b, err := c.Output()
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range strings.Split(strings.TrimSpace(string(b)), "\n") {
		if path, dir, ok := strings.Cut(l, "\t"); ok {
			out[path] = dir
		}
	}
	return out
}

// The licences in a live report are those of what is in its solver: the program's own, Go's, and the libraries'.
func TestLicencesInTheBrowser(t *testing.T) {
	if testing.Short() {
		t.Skip("lists what is linked")
	}
	want := linkedOn(t, "js", "wasm", "./cmd/meltload/internal/whatif/module")
	want["go"] = "-"
	for _, name := range inBrowser {
		if want[name] == "" {
			t.Errorf("%s is not in the solver for browsers", name)
		}
		delete(want, name)
	}
	for name := range want {
		t.Errorf("the licence of %s is missing", name)
	}
	text, err := InBrowser()
	if err != nil || !strings.Contains(text, "The Go Authors") {
		t.Errorf("%v, or the licence of Go is missing", err)
	}
}

// Every library that is linked is there with its licence, as its release has it, and no other.
func TestLicencesAreThoseOfWhatIsLinked(t *testing.T) {
	if testing.Short() {
		t.Skip("lists what is linked")
	}
	dirs := linked(t)
	if *update {
		gather(t, dirs)
		t.Skip("gathered; run again without -update")
	}
	by, names, err := list()
	if err != nil {
		t.Fatal(err)
	}
	for path, dir := range dirs {
		if len(by[path]) == 0 {
			t.Errorf("no licence of %s; run with -update", path)
		}
		if want := licencesIn(t, dir); len(want) != len(by[path]) {
			t.Errorf("%s has the licences %v, held are %v; run with -update", path, want, by[path])
		}
		for _, f := range by[path] {
			got, _ := texts.ReadFile(f)
			if want,
				err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(strings.SplitN(f, "/", 3)[2]))); err != nil ||
				!bytes.Equal(got, want) {
				t.Errorf("%s is not as in the library (%v); run with -update", f, err)
			}
		}
	}
	for _, n := range names {
		if dirs[n] == "" && n != "go" {
			t.Errorf("%s is not linked any more; run with -update", n)
		}
	}
	if len(by["go"]) == 0 {
		t.Error("no licence of Go's own library")
	}
}

// licencesIn lists the licence files of a library, those of others' work in it too.
func licencesIn(t *testing.T, dir string) []string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, e := range entries {
		switch {
		case e.IsDir() && thirdParty.MatchString(e.Name()):
			inner, err := os.ReadDir(filepath.Join(dir, e.Name()))
			if err != nil {
				t.Fatal(err)
			}
			for _, f := range inner {
				out = append(out, filepath.Join(e.Name(), f.Name()))
			}
		case !e.IsDir() && licenceFile.MatchString(e.Name()):
			out = append(out, e.Name())
		}
	}
	return out
}

// gather copies the licences beside this test.
func gather(t *testing.T, dirs map[string]string) {
	t.Helper()
	if err := os.RemoveAll("texts"); err != nil {
		t.Fatal(err)
	}
	b, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		t.Fatal(err)
	}
	dirs["go"] = strings.TrimSpace(string(b))
	for path, dir := range dirs {
		to := filepath.Join("texts", strings.ReplaceAll(path, "/", "!"))
		for _, f := range licencesIn(t, dir) {
			text, err := os.ReadFile(filepath.Join(dir, f))
			if err == nil {
				err = os.MkdirAll(filepath.Dir(filepath.Join(to, f)), 0o755)
			}
			if err == nil {
				err = os.WriteFile(filepath.Join(to, f), text, 0o644)
			}
			if err != nil {
				t.Fatal(err)
			}
		}
	}
}

func TestWrite(t *testing.T) {
	var b bytes.Buffer
	if err := Write(&b); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"MIT License", "In this program: go\n", "In this program: gonum.org/v1/gonum\n",
		"In this program: github.com/spf13/cobra\n", "Apache ECharts", "d3"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("%q is missing", want)
		}
	}
	if _, names, _ := list(); !slices.IsSorted(names) && runtime.GOOS == "linux" {
		t.Error(names)
	}
}
