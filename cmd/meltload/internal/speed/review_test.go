package speed

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"golang.org/x/perf/benchfmt"
	"golang.org/x/perf/benchmath"

	"meltload/materials/checks"
)

// A review measures this tree against another revision, on this machine, in turns: what else runs here meets both
// alike.
var (
	against = flag.String("against", "", "measure every benchmark against this revision, and fail where one is slower")
	rounds  = flag.Int("rounds", 6, "with -against: rounds, each of which runs every benchmark of both once")
	only    = flag.String("only", ".", "with -against: regular expression of the benchmarks")
	slack   = flag.Float64("slack", 1.1, "with -against: ratio of the medians from which a benchmark counts as slower")
)

// benched are the packages with benchmarks.
func benched(t *testing.T, root string) []string {
	t.Helper()
	var out []string
	err := filepath.WalkDir(root, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, "_test.go") {
			return err
		}
		b, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		dir, err := filepath.Rel(root, filepath.Dir(path))
		if bytes.Contains(b, []byte("\nfunc Benchmark")) && !slices.Contains(out, dir) {
			out = append(out, dir)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// built builds the tests of packages of a tree into a folder.
func built(t *testing.T, root, to string, dirs []string) map[string]string {
	t.Helper()
	out := map[string]string{}
	for _, d := range dirs {
		name := filepath.Join(to, strings.ReplaceAll(d, "/", "-")+".test")
		c := exec.Command("go", "test", "-c", "-o", name, "./"+d)
		c.Dir = root
		if b, err := c.CombinedOutput(); err != nil {
			t.Logf("%s: %v\n%s", d, err, b) // another revision may not have it
			continue
		}
		out[d] = name
	}
	return out
}

// turn runs the benchmarks of one package once and adds their times, in s, by name.
func turn(t *testing.T, root, dir, bin string, to map[string][]float64) {
	t.Helper()
	c := exec.CommandContext(context.Background(), bin, "-test.run", "^$", "-test.bench", *only, "-test.benchtime",
		"0.3s")
	c.Dir = filepath.Join(root, dir)
	b, err := c.Output()
	if err != nil {
		t.Fatalf("%s: %v\n%s", dir, err, b)
	}
	r := benchfmt.NewReader(bytes.NewReader(b), dir)
	for r.Scan() {
		if x, ok := r.Result().(*benchfmt.Result); ok {
			name, _ := x.Name.Parts()
			if v, ok := x.Value("sec/op"); ok {
				k := dir + "." + string(name)
				to[k] = append(to[k], v)
			}
		}
	}
	if err := r.Err(); err != nil {
		t.Fatal(err)
	}
}

// comparison is one benchmark of a review.
type comparison struct {
	name           string
	old, now       benchmath.Summary
	ratio          float64
	p              float64 // chance of as large a difference without cause (Mann-Whitney)
	slower, faster bool
}

// compare weighs the times of one benchmark: slower where the medians differ by more than the slack and the ranks say
// that this is no chance.
func compare(name string, old, now []float64, slack float64) comparison {
	th := benchmath.DefaultThresholds
	a, b := benchmath.NewSample(old, &th), benchmath.NewSample(now, &th)
	c := comparison{name: name, old: benchmath.AssumeNothing.Summary(a, 0.95),
		now: benchmath.AssumeNothing.Summary(b, 0.95)}
	c.ratio, c.p = c.now.Center/c.old.Center, benchmath.AssumeNothing.Compare(a, b).P
	sure := c.p < th.CompareAlpha
	c.slower, c.faster = sure && c.ratio > slack, sure && c.ratio < 1/slack
	return c
}

func (c *comparison) line() string {
	said := "the same within the scatter"
	switch {
	case c.slower:
		said = "SLOWER"
	case c.faster:
		said = "faster"
	}
	return fmt.Sprintf("%-45s %9s (%s) %9s (%s)  ratio %.2f, p %.3f: %s", c.name, span(c.old.Center*1e9),
		c.old.PctRangeString(), span(c.now.Center*1e9), c.now.PctRangeString(), c.ratio, c.p, said)
}

// TestReview is the benchmark that fails a review. It does nothing without -against:
//
//	go test ./cmd/meltload/internal/speed -run Review -v -timeout 60m -against HEAD~1
func TestReview(t *testing.T) {
	if *against == "" {
		t.Skip("no revision to measure against")
	}
	root, before := checks.Root(), filepath.Join(t.TempDir(), "before")
	git := func(args ...string) {
		t.Helper()
		c := exec.Command("git", args...)
		c.Dir = root
		if b, err := c.CombinedOutput(); err != nil {
			t.Fatalf("git %v: %v\n%s", args, err, b)
		}
	}
	git("worktree", "add", "--detach", before, *against)
	defer git("worktree", "remove", "--force", before)
	dirs := benched(t, root)
	now, old := built(t, root, t.TempDir(), dirs), built(t, before, t.TempDir(), dirs)
	was, is := map[string][]float64{}, map[string][]float64{}
	for range *rounds {
		for _, d := range dirs {
			if old[d] != "" && now[d] != "" {
				turn(t, before, d, old[d], was)
				turn(t, root, d, now[d], is)
			}
		}
	}
	compared := 0
	for _, k := range slices.Sorted(maps.Keys(is)) {
		if len(was[k]) == 0 {
			t.Logf("%-45s new", k)
			continue
		}
		c := compare(k, was[k], is[k], *slack)
		compared++
		if c.slower {
			t.Error(c.line())
		} else {
			t.Log(c.line())
		}
	}
	if compared == 0 {
		t.Error("no benchmark that both revisions have")
	}
}

// A review calls slower what is, and nothing else.
func TestReviewTellsSlowerFromScatter(t *testing.T) {
	base := []float64{1, 1.02, 0.99, 1.01, 1.03, 0.98}
	by := func(f float64) []float64 {
		out := slices.Clone(base)
		for i := range out {
			out[i] = f*out[i] + 0.001*float64(i%3)
		}
		return out
	}
	for f, want := range map[float64][2]bool{1: {}, 1.05: {}, 1.3: {true, false}, 0.7: {false, true}} {
		c := compare("x", base, by(f), 1.1)
		if c.slower != want[0] || c.faster != want[1] {
			t.Errorf("by %g: slower %t, faster %t (%s)", f, c.slower, c.faster, c.line())
		}
	}
	// One outlier is no slowdown.
	late := by(1)
	late[2] = 5
	if c := compare("x", base, late, 1.1); c.slower {
		t.Errorf("one outlier: %s", c.line())
	}
}
