// Package speed writes the benchmark page of the docs: go test ./cmd/meltload/internal/speed -update
package speed

import (
	"flag"
	"fmt"
	"os"
	"os/exec"
	"runtime"
	"sort"
	"strconv"
	"strings"
	"testing"

	"golang.org/x/perf/benchfmt"

	"meltload/materials/checks"
)

var (
	update   = flag.Bool("update", false, "run every benchmark and rewrite the page")
	baseline = flag.Bool("baseline", false, "with -update: make this run the new baseline")
)

// runs is how many times every benchmark runs for the page.
const runs = 5

// row is one line of the page. Units is how many pieces of work one run does, and plainUnits how many of them the plain
// form does. Arrays is a second plain form, written in whole arrays.
type row struct {
	what, name, plain string
	units             float64
	unit              string
	plainUnits        float64
	arrays            string
}

var rows = []row{
	{"lumped estimate, one case", "meltload/flow/lumped.Solve", "meltload/flow/lumped.Plain", 1, "case", 1, ""},
	{"marching solver, one case", "meltload/flow/march.Solve", "meltload/flow/march.Plain", 1, "case", 1,
		"meltload/flow/march.Arrays"},
	{"the same with rod and wetted plug, their ends found", "meltload/flow/march.SolveFree", "", 1, "case", 0, ""},
	{"operating map, 40 temperatures by 60 flows", "meltload/flow/study.Map", "meltload/flow/march.Plain", 2400,
		"point", 1, "meltload/flow/march.Arrays"},
	{"sampling, 10,000 marching samples", "meltload/flow/study.Samples", "meltload/flow/march.Plain", 10000,
		"sample", 1, "meltload/flow/march.Arrays"},
	{"marching in time, 80 steps of a heated tube", "meltload/flow/march.Unsteady", "meltload/flow/march.UnsteadyPlain",
		80, "step", 80, ""},
	{"run in time, 200 s", "meltload/flow/transient.Trace", "", 1, "run", 0, ""},
	{"filling a cold strip", "meltload/flow/mould.Strip", "meltload/flow/mould.Plain", 1, "filling", 1, ""},
	{"filling a part in metal", "meltload/flow/mould.Fill", "", 1, "filling", 0, ""},
	{"ranking of 12 feeders on 4 hot ends", "meltload/flow/study.Rank", "", 48, "pair", 0, ""},
	{"calibration from a trace of 80 samples", "meltload/flow/calibrate.Trace", "", 1, "fit", 0, ""},
	{"the main job: verdict, limits, curves, map", "meltload/flow/study.Run", "", 1, "run", 0, ""},
	{"one move on the what-if page, to markup", "meltload/cmd/meltload/internal/whatif.Answer", "", 1, "move", 0, ""},
	{"the same, to its first part", "meltload/cmd/meltload/internal/whatif.Begin", "", 1, "move", 0, ""},
	{"the same in WebAssembly, in Chromium: the whole markup", "meltload/cmd/meltload/internal/cli.LiveMarkup", "", 1,
		"move", 0, ""},
	{"a live report from disk to its first answer, in Chromium", "meltload/cmd/meltload/internal/cli.LiveFirst", "", 1,
		"page", 0, ""},
	{"one move in a live report, to painted charts, in Chromium", "meltload/cmd/meltload/internal/cli.LiveMove", "", 1,
		"move", 0, ""},
	{"the same, to the range and the verdict by it", "meltload/cmd/meltload/internal/cli.LiveRange", "", 1, "move", 0,
		""},
	{"report as HTML", "meltload/report.HTML", "", 1, "page", 0, ""},
	{"log of 20 MB, read and cleaned", "meltload/flow/loadcell.Parse", "", 1, "log", 0, ""},
}

// timing are the times of the runs of a benchmark, in ns.
type timing struct{ median, least, most float64 }

// read takes the times of each benchmark, and the machine's name.
func read(file string) (map[string]timing, string, error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, "", err
	}
	defer f.Close()
	all := map[string][]float64{}
	cpu := ""
	r := benchfmt.NewReader(f, file)
	for r.Scan() {
		x, ok := r.Result().(*benchfmt.Result)
		if !ok {
			continue
		}
		name, _ := x.Name.Parts()
		k := x.GetConfig("pkg") + "." + string(name)
		if v, ok := x.Value("sec/op"); ok {
			all[k] = append(all[k], v*1e9)
		}
		cpu = strings.TrimSpace(x.GetConfig("cpu"))
	}
	out := map[string]timing{}
	for k, v := range all {
		sort.Float64s(v)
		out[k] = timing{v[len(v)/2], v[0], v[len(v)-1]}
	}
	return out, cpu, r.Err()
}

// span writes a time to three digits.
func span(ns float64) string {
	for _, u := range []struct {
		name string
		ns   float64
	}{{"h", 3600e9}, {"min", 60e9}, {"s", 1e9}, {"ms", 1e6}, {"µs", 1e3}} {
		if ns >= u.ns {
			return fmt.Sprintf("%.3g %s", ns/u.ns, u.name)
		}
	}
	return fmt.Sprintf("%.3g ns", ns)
}

func page(now, base map[string]timing, cpu string) string {
	var b strings.Builder
	fmt.Fprintf(&b, `# Speed

Written by one command, from every benchmark of the project:

`+"```sh\ngo test ./cmd/meltload/internal/speed -update -timeout 30m\n```"+`

Median of %d runs, least and most beside it, on %d cores of a shared machine (%s, %s): what else runs there makes
times longer, never shorter. Ratio: the median now over that of the kept baseline (testdata/bench/baseline.txt), below 1 is faster. Plain: an independent implementation kept in the tests, written to be read
and not to be fast, that meets the same accuracy: the twin of the marching solver (order_test.go, within 1 %% of the drop, without elongation: the law
is solved anew at every radius, the wall stress found by bisection, conduction by sweeps), an explicit solution of the strip, one of the heated tube in time, wall stress by quadrature. For map and sampling it is the twin's time times the number of points, on one core.
Arrays: a second form of the march of like accuracy (array_twin_test.go), as a careful programmer writes it in a language of whole arrays:
the law by interpolation in a table, the wall stress by Newton's method from the station before, conduction by one banded solution.
A move in a live report is timed from the event of the slider to the end of the frame that shows the verdict of the best estimate, all charts, the
melt zone and the limits of the changed case, wherever the page is scrolled to. The range by two corners and the verdict by it follow in a frame of their own, in the row below.

| what | time | least to most | for each | ratio to baseline | plain | plain over ours | arrays | arrays over ours |
|---|---:|---:|---:|---:|---:|---:|---:|---:|
`, runs, runtime.NumCPU(), cpu, runtime.GOOS)
	for _, r := range rows {
		ratio := "new"
		if x, ok := base[r.name]; ok {
			ratio = fmt.Sprintf("%.2f", now[r.name].median/x.median)
		}
		plain, gain := beside(now, r.plain, r.name, r.units/r.plainUnits)
		arrays, more := beside(now, r.arrays, r.name, r.units)
		each := "–"
		if r.units > 1 {
			each = span(now[r.name].median/r.units) + " a " + r.unit
		}
		x := now[r.name]
		fmt.Fprintf(&b, "| %s | %s | %s to %s | %s | %s | %s | %s | %s | %s |\n", r.what, span(x.median), span(x.least),
			span(x.most), each, ratio, plain, gain, arrays, more)
	}
	return b.String()
}

// beside is the time of another form of n pieces of work, and over ours.
func beside(now map[string]timing, other, ours string, n float64) (time, gain string) {
	x, ok := now[other]
	if !ok {
		return "–", "–"
	}
	return span(x.median * n), fmt.Sprintf("%.0f", x.median*n/now[ours].median)
}

// The page holds every row, and every benchmark it names exists; its numbers are not judged here.
func TestSpeedPage(t *testing.T) {
	file, kept := checks.Root("report", "docs", "speed.md"), checks.Root("testdata", "bench", "baseline.txt")
	base, _, err := read(kept)
	if err != nil {
		t.Fatal(err)
	}
	if *update {
		c := exec.Command("go", "test", "-run", "^$", "-bench", ".", "-count", strconv.Itoa(runs), "-p", "1", "./...")
		c.Dir = checks.Root()
		out, err := c.Output()
		if err != nil {
			t.Fatalf("%v\n%s", err, out)
		}
		run := t.TempDir() + "/run.txt"
		if *baseline {
			run = kept
		}
		var lines []string
		for _, l := range strings.SplitAfter(string(out), "\n") {
			for _, p := range []string{"goos:", "goarch:", "pkg:", "cpu:", "Benchmark"} {
				if strings.HasPrefix(l, p) {
					lines = append(lines, l)
				}
			}
		}
		if err := os.WriteFile(run, []byte(strings.Join(lines, "")), 0o644); err != nil {
			t.Fatal(err)
		}
		now, cpu, err := read(run)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range rows {
			if now[r.name].least == 0 || r.plain != "" && now[r.plain].least == 0 ||
				r.arrays != "" && now[r.arrays].least == 0 {
				t.Errorf("no benchmark %s, %s, %s", r.name, r.plain, r.arrays)
			}
		}
		if t.Failed() {
			return // a page with a time of nothing is worse than the one that is there
		}
		if err := os.WriteFile(file, []byte(page(now, base, cpu)), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range rows {
		if !strings.Contains(string(b), "| "+r.what+" |") {
			t.Errorf("the page has no row for %q; run with -update", r.what)
		}
	}
}
