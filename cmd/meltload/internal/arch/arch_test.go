// Package arch holds tests of the tree as a whole.
package arch

import (
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"sort"
	"strings"
	"testing"

	"meltload/materials/checks"
)

// layers is the one direction that imports may take.
var layers = []string{"materials", "thermal", "flow", "report", "cmd"}

type pkg struct {
	ImportPath           string
	Imports, TestImports []string
	XTestImports         []string
}

func packages(t *testing.T) []pkg {
	return list[pkg](t, nil, "-json=ImportPath,Imports,TestImports,XTestImports", "./...")
}

// list is what go list tells of packages, with settings beside those of this process.
func list[P any](t *testing.T, env []string, args ...string) (ps []P) {
	t.Helper()
	cmd := exec.Command("go", append([]string{"list"}, args...)...)
	cmd.Dir = checks.Root()
	cmd.Env = append(os.Environ(), env...)
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%v go list: %v", env, err)
	}
	for d := json.NewDecoder(strings.NewReader(string(out))); d.More(); {
		var p P
		if err := d.Decode(&p); err != nil {
			t.Fatal(err)
		}
		ps = append(ps, p)
	}
	return ps
}

func layer(path string) int {
	name := strings.Split(strings.TrimPrefix(path, "meltload/"), "/")[0]
	for i, l := range layers {
		if l == name {
			return i
		}
	}
	return -1
}

func own(imports []string) []string {
	var out []string
	for _, i := range imports {
		if strings.HasPrefix(i, "meltload/") {
			out = append(out, strings.TrimPrefix(i, "meltload/"))
		}
	}
	sort.Strings(out)
	return out
}

func TestImportsGoOneWay(t *testing.T) {
	for _, p := range packages(t) {
		at := layer(p.ImportPath)
		if at < 0 {
			t.Errorf("%s is outside the layers %v", p.ImportPath, layers)
		}
		for _, i := range own(p.Imports) {
			if layer("meltload/"+i) > at {
				t.Errorf("%s imports %s, against the arrow", p.ImportPath, i)
			}
			if strings.HasSuffix(i, "/checks") && !strings.HasSuffix(p.ImportPath, "flowtest") ||
				strings.HasSuffix(i, "/flowtest") {
				t.Errorf("%s imports %s, which is for tests only", p.ImportPath, i)
			}
			if strings.HasSuffix(i, "/reference") {
				t.Errorf("%s imports %s, which is the checked reference of tests and of other programs",
					p.ImportPath, i)
			}
		}
	}
}

var update = flag.Bool("update", false, "rewrite the import table of DEVELOPERS.md")

// The import table of DEVELOPERS.md is the one that go list finds.
func TestImportTableIsTrue(t *testing.T) {
	file := checks.Root("DEVELOPERS.md")
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	row := regexp.MustCompile("(?m)^\\| `([a-z0-9/]+)` \\| [^|]* \\|\n")
	var rows strings.Builder
	for _, p := range packages(t) {
		imports := strings.Join(own(p.Imports), ", ")
		if imports == "" {
			imports = "–"
		}
		fmt.Fprintf(&rows, "| `%s` | %s |\n", strings.TrimPrefix(p.ImportPath, "meltload/"), imports)
	}
	at := row.FindAllIndex(text, -1)
	if len(at) == 0 {
		t.Fatal("DEVELOPERS.md has no import table")
	}
	first, last := at[0][0], at[len(at)-1][1]
	got := string(text[first:last])
	if *update && got != rows.String() {
		if err := os.WriteFile(file, []byte(string(text[:first])+rows.String()+string(text[last:])),
			0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want := map[string]bool{}
	for _, l := range strings.SplitAfter(rows.String(), "\n") {
		want[l] = true
		if !strings.Contains(got, l) {
			t.Errorf("DEVELOPERS.md lacks the row (rewrite with -update): %s", l)
		}
	}
	for _, l := range strings.SplitAfter(got, "\n") {
		if !want[l] {
			t.Errorf("DEVELOPERS.md has a row that go list does not: %s", l)
		}
	}
}

func TestTopLevelIsFixed(t *testing.T) {
	allowed := map[string]bool{"cmd": true, "flow": true, "materials": true, "thermal": true, "report": true,
		"testdata": true, "go.mod": true, "go.sum": true, "README.md": true, "DEVELOPERS.md": true, "LICENSE": true}
	out, err := exec.Command("git", "-C", checks.Root(), "ls-files").Output()
	if err != nil {
		t.Skip("not a git checkout")
	}
	seen := map[string]bool{}
	for _, l := range strings.Fields(string(out)) {
		top := strings.Split(l, "/")[0]
		if !seen[top] && !allowed[top] && !strings.HasPrefix(top, ".") {
			t.Errorf("%s stands at the top level", top)
		}
		seen[top] = true
	}
}

// Every kind of external check is run by some test.
func TestEveryCheckIsRun(t *testing.T) {
	all, err := checks.All()
	if err != nil {
		t.Fatal(err)
	}
	run := map[string]bool{}
	use := regexp.MustCompile(`(?:checks\.Each\(t, |fem\()"([a-z0-9_A-Z]+)"|"(tube|slit)_(carreau|cross)":`)
	err = filepath.WalkDir(checks.Root(), func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, "_test.go") {
			return err
		}
		b, err := os.ReadFile(path)
		for _, m := range use.FindAllStringSubmatch(string(b), -1) {
			if m[1] != "" {
				run[m[1]] = true
			} else {
				run[m[2]+"_"+m[3]] = true
			}
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	kinds := map[string]string{}
	for _, c := range all {
		kinds[c.Kind] = c.Topic
	}
	for k, topic := range kinds {
		if !run[k] {
			t.Errorf("no test runs the checks of kind %s (topic %s)", k, topic)
		}
	}
}
