package cli

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"meltload/flow/quantity"
	"meltload/flow/study"
	"meltload/materials/checks"
)

var update = flag.Bool("update", false, "rewrite the golden files")

// run executes a command line and returns exit code and both streams.
func run(args ...string) (int, string, string) {
	var out, errw bytes.Buffer
	code := Run(context.Background(), args, strings.NewReader(""), &out, &errw)
	return code, out.String(), errw.String()
}

// golden compares text with testdata/golden/NAME.
func golden(t *testing.T, name, got string) {
	t.Helper()
	file := checks.Root("testdata", "golden", name)
	if *update {
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s differs; run with -update and look at the difference\n--- got\n%s", name, got)
	}
}

func TestGoldenText(t *testing.T) {
	for _, c := range []struct {
		name string
		args []string
		code int
	}{
		{"assess-not-held.txt", []string{"assess", "--block", "195", "--flow", "32", "--samples", "16"}, NotHeld},
		{"assess-lumped.txt", []string{"assess", "--solver", "lumped"}, OK},
		{"help.txt", []string{"--help"}, OK},
		{"help-rank.txt", []string{"rank", "--help"}, OK},
		{"help-survey.txt", []string{"survey", "--help"}, OK},
		{"survey.txt", []string{"survey", "--nozzle", "0.4,0.6", "--block", "200:220:20"}, OK},
		{"help-mould.txt", []string{"mould", "--help"}, OK},
		{"help-plan.txt", []string{"plan", "--help"}, OK},
		{"help-trace.txt", []string{"trace", "--help"}, OK},
		{"help-log.txt", []string{"log", "--help"}, OK},
		{"help-compare.txt", []string{"compare", "--help"}, OK},
		{"help-cell.txt", []string{"cell", "--help"}, OK},
		{"help-calibrate.txt", []string{"calibrate", "--help"}, OK},
		{"help-assess.txt", []string{"assess", "--help"}, OK},
		{"help-whatif.txt", []string{"whatif", "--help"}, OK},
		{"help-starter.txt", []string{"starter", "--help"}, OK},
		{"materials.txt", []string{"materials"}, OK},
		{"materials-petg.txt", []string{"materials", "petg"}, OK},
		{"keys.txt", []string{"keys"}, OK},
	} {
		t.Run(c.name, func(t *testing.T) {
			if testing.Short() && c.name == "assess-not-held.txt" {
				t.Skip("takes long")
			}
			code, out, errw := run(c.args...)
			if code != c.code {
				t.Errorf("exit code %d, want %d; %s", code, c.code, errw)
			}
			golden(t, c.name, out)
		})
	}
}

// What the common command lines print, and the questions of the guided starter.
func TestGoldenOfCommonLines(t *testing.T) {
	for name, file := range map[string]string{"assess": "assess-built-in.txt", "mould": "mould.txt", "cell": "cell.txt",
		"log": "log.txt", "plan": "plan.txt", "trace": "trace.txt"} {
		if testing.Short() && (name == "assess" || name == "mould") {
			continue
		}
		golden(t, file, once(t, name).out)
	}
	var out, asked bytes.Buffer
	if code := Run(context.Background(), []string{"starter", "--ask", "-"}, strings.NewReader(strings.Repeat("\n", 10)),
		&out, &asked); code != OK {
		t.Fatal(asked.String())
	}
	golden(t, "questions.txt", asked.String())
	golden(t, "answered.toml", regexp.MustCompile(`\d{4}-\d\d-\d\d`).ReplaceAllString(out.String(), "DATE"))
}

// What the README says the first command prints is what it prints (rewritten with -update, after the golden text).
func TestREADMEShowsWhatIsPrinted(t *testing.T) {
	want, err := os.ReadFile(checks.Root("testdata", "golden", "assess-built-in.txt"))
	if err != nil {
		t.Fatal(err)
	}
	verdict := strings.SplitAfter(strings.SplitN(string(want), "\n\n", 3)[1], "samples).\n")[0]
	readmeBlock(t, "(?s)prints, verdict first:\n\n```\n(.*?)```", verdict)
}

// The Go program of the README compiles, has at most 25 lines, and prints what the README says.
func TestREADMEProgram(t *testing.T) {
	if testing.Short() {
		t.Skip("takes long")
	}
	b, err := os.ReadFile(checks.Root("README.md"))
	if err != nil {
		t.Fatal(err)
	}
	m := regexp.MustCompile("(?s)```go\n(package main.*?)```").FindSubmatch(b)
	if m == nil || bytes.Count(m[1], []byte("\n")) > 25 {
		t.Fatal("no program of at most 25 lines in the README")
	}
	file := filepath.Join(t.TempDir(), "main.go")
	if err := os.WriteFile(file, m[1], 0o644); err != nil {
		t.Fatal(err)
	}
	c := exec.Command("go", "run", file)
	c.Dir = checks.Root()
	out, err := c.CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	var q, force float64
	if n, err := fmt.Sscanf(string(out), "%f mm3/s: %f N", &q, &force); n != 2 || force < 2 || force > 20 {
		t.Errorf("%q, %v", out, err)
	}
	readmeBlock(t, "(?s)It prints:\n\n```\n(.*?)```", string(out))
}

// readmeBlock compares a block of the README with what it should say, or rewrites it.
func readmeBlock(t *testing.T, pattern, want string) {
	t.Helper()
	name := checks.Root("README.md")
	b, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	m := regexp.MustCompile(pattern).FindSubmatchIndex(b)
	if m == nil {
		t.Fatalf("the README has nothing like %s", pattern)
	}
	shown := string(b[m[2]:m[3]])
	if *update && shown != want {
		text := string(b[:m[2]]) + want + string(b[m[3]:])
		if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	} else if shown != want {
		t.Errorf("the README shows %q, want %q (rewrite with -update)", shown, want)
	}
}

func TestUsageErrors(t *testing.T) {
	dir := t.TempDir()
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"asses"}, "Did you mean"},
		{[]string{"assess", "--block", "900"}, "50 to 500 degC"},
		{[]string{"assess", "--block", "10"}, "50 to 500 degC"},
		{[]string{"assess", "--flow", "-3"}, "0.01 to 1000 mm3/s"},
		{[]string{"assess", "--flow", "55"}, "max_flow_mm3_s"},
		{[]string{"assess", "--solver", "lumpd"}, `did you mean "lumped"?`},
		{[]string{"assess", "--blok", "200"}, "unknown flag"},
		{[]string{"assess", "a.toml", "b.toml"}, "not every case could be assessed"},
		{[]string{"assess", filepath.Join(dir, "none.toml")}, "meltload starter"},
		{[]string{"check"}, "at least 1 arg"},
		{[]string{"materials", "plaa"}, `did you mean "pla"?`},
		{[]string{"materials", "--record"}, "needs a material name"},
	} {
		code, _, errw := run(c.args...)
		if code != BadUse || !strings.Contains(errw, c.want) {
			t.Errorf("%v: exit code %d, %q", c.args, code, errw)
		}
	}
}

func TestCheckListsEveryErrorAndIsSilentOtherwise(t *testing.T) {
	code, out, errw := run("check", checks.Root("testdata", "bad", "many-errors.toml"))
	if code != BadUse || out != "" || strings.Count(errw, "\n") < 6 || !strings.Contains(errw, "nothing was computed") {
		t.Errorf("exit code %d, out %q, err %q", code, out, errw)
	}
	good := filepath.Join(t.TempDir(), "good.toml")
	if code, _, errw := run("starter", good); code != OK {
		t.Fatal(errw)
	}
	if code, out, errw := run("check", good); code != OK || out != "" || errw != "" {
		t.Errorf("exit code %d, out %q, err %q", code, out, errw)
	}
	if code, _, errw := run("starter", good); code != BadUse || !strings.Contains(errw, "--force") {
		t.Errorf("an existing file: exit code %d, %q", code, errw)
	}
	if code, _, _ := run("starter", good, "--force"); code != OK {
		t.Error("--force did not replace the file")
	}
}

func TestEveryOutput(t *testing.T) {
	g := once(t, "assess")
	if g.code != OK || !strings.Contains(g.err, "report of meltload assess written to assess.html") {
		t.Errorf("exit code %d, %s", g.code, g.err)
	}
	b, err := os.ReadFile(g.json)
	if err != nil {
		t.Fatal(err)
	}
	var r study.Result
	if err := quantity.Decode(b, &r); err != nil {
		t.Fatal(err)
	}
	if r.Verdict.Flow <= 0 || len(r.Load) != 3 || len(r.Map.Codes) != 25 || r.Melt == nil || r.Files[0].Hash == "" {
		t.Errorf("result is not whole: %+v", r.Verdict)
	}
	if strings.Contains(string(b), "NaN") || strings.Contains(string(b), "Inf") {
		t.Error("not a number in the JSON")
	}
	page, err := os.ReadFile(g.html)
	if err != nil {
		t.Fatal(err)
	}
	if m := regexp.MustCompile(`(?:src|href)="(https?:[^"]*)"`).FindSubmatch(page); m != nil {
		t.Errorf("the report refers to the network: %s", m[1])
	}
	for _, want := range []string{r.Sentence, "Apache License", "Cautions", r.Files[0].Hash} {
		if !strings.Contains(string(page), want) {
			t.Errorf("the report lacks %q", want)
		}
	}
	files, _ := filepath.Glob(filepath.Join(g.csv, "*.csv"))
	if len(files) < 9 {
		t.Errorf("%d tables", len(files))
	}
	left, _ := filepath.Glob(filepath.Join(filepath.Dir(g.html), ".*"))
	if len(left) != 0 {
		t.Errorf("temporary files left: %v", left)
	}
	if code, out, errw := run("assess", "--solver", "lumped", "--quiet"); code != OK || out+errw != "" {
		t.Errorf("quiet: exit code %d, %q, %q", code, out, errw)
	}
	if code, out, _ := run("assess", "--solver", "lumped", "--json", "-"); code != OK || !strings.HasPrefix(out, "{") {
		t.Errorf("JSON to standard output: exit code %d, %.40q", code, out)
	}
}

func TestRankAndSpread(t *testing.T) {
	g := once(t, "rank")
	if !strings.Contains(g.out, "Force at 2.08 mm/s of filament") ||
		!strings.Contains(g.out, "club feeder on short hot end") {
		t.Errorf("%s", g.out)
	}
	if page, err := os.ReadFile(g.html); err != nil ||
		!strings.Contains(string(page), "Usable flow of each feeder on each hot end") {
		t.Errorf("ranking report: %v", err)
	}
	t.Chdir(shelf.dir)
	if code, _, errw := run("rank", "case.toml"); code != BadUse || !strings.Contains(errw, "nothing to rank") {
		t.Errorf("one case: exit code %d, %q", code, errw)
	}
	if code, _, errw := run("rank", "case.toml", "other.toml", "--samples", "3"); code != BadUse ||
		!strings.Contains(errw, "16 to 1000000") {
		t.Errorf("three samples: exit code %d, %q", code, errw)
	}
	code, out, _ := run("assess", "case.toml", "--spread", "--samples", "16", "--seed", "5")
	if code != OK || !strings.Contains(out, "samples, seed: 16, 5") ||
		!strings.Contains(out, "Which unknown matters most") {
		t.Errorf("spread: exit code %d\n%s", code, out)
	}
}

func TestMould(t *testing.T) {
	if testing.Short() {
		t.Skip("takes long")
	}
	spirals := once(t, "calibrate-spirals") // it changes the folder: not while other tests run
	t.Parallel()
	dir := t.TempDir()
	mine := filepath.Join(dir, "case.toml")
	mustRun(t, "starter", mine)
	src, err := os.ReadFile(mine)
	if err != nil {
		t.Fatal(err)
	}
	long := filepath.Join(dir, "long.toml")
	os.WriteFile(long, bytes.Replace(src, []byte("thickness_mm = 4\nlength_mm = 5"),
		[]byte("thickness_mm = 4\nlength_mm = 50"), 1), 0o644)
	lengths := filepath.Join(dir, "lengths.csv")
	os.WriteFile(lengths,
		[]byte("# invented\nblock_degC,mould_degC,flow_mm3_s,thickness_mm,width_mm,length_mm\n230,40,12,3,10,6\n"),
		0o644)
	without := filepath.Join(dir, "without.toml")
	os.WriteFile(without, src[:bytes.Index(src, []byte("[mould]"))], 0o644)
	for _, c := range []struct {
		args []string
		code int
		want string
	}{
		{[]string{"mould", mine, "--mould", "60", "--csv", filepath.Join(dir, "hot")}, NotHeld, "cannot be taken out"},
		{[]string{"mould", mine, "--flow", "5", "--fill-flow", "10"}, BadUse, "give one"},
		{[]string{"mould", mine, "--mould", "48", "--fill-flow", "12", "--json", filepath.Join(dir, "m.json"), "--csv",
			filepath.Join(dir, "m")}, OK, "fills in"},
		{[]string{"mould", long}, NotHeld, "Short shot"},
		{[]string{"mould", without}, BadUse, "no [mould]"},
		{[]string{"mould", mine, "--mould", "300"}, BadUse, "never sets"},
		{[]string{"mould", mine, "--fill-flow", "0"}, BadUse, "0.01 to 1000"},
		// side questions without an answer do not end it
		{[]string{"mould", mine, "--flow", "39", "--block", "190"}, NotHeld, "Short shot"},
		{[]string{"calibrate", mine, lengths, "--spirals", lengths}, BadUse, "leave out pushes"},
		{[]string{"calibrate", without, "--spirals", lengths}, BadUse, "no [mould]"},
	} {
		code, out, errw := run(c.args...)
		if code != c.code || !strings.Contains(out+errw, c.want) || strings.Contains(out, "NaN") {
			t.Errorf("%v: exit code %d, %s%s", c.args, code, out, errw)
		}
	}
	if g := spirals; g.code != OK || !strings.Contains(g.out, "not known from these lengths") {
		t.Errorf("exit code %d, %s%s", g.code, g.out, g.err)
	}
}

// From plan to calibrated case, as on a bench: every command of it, every output.
func TestBenchCommands(t *testing.T) {
	if testing.Short() {
		t.Skip("takes long")
	}
	dir := t.TempDir()
	in := func(n string) string { return filepath.Join(dir, n) }
	mustRun(t, "starter", in("case.toml"))
	out := mustRun(t, "plan", in("case.toml"), "--force-low", "15", "--force-high", "40", "--cell", "20", "--rate",
		"80", "--report", in("plan.html"), "--csv", in("plan"))
	if !strings.Contains(out, "runs in") || !strings.Contains(out, "retracted while soft") {
		t.Errorf("plan:\n%s", out)
	}
	if b, err := os.ReadFile(filepath.Join(in("plan"), "run-sheet.csv")); err != nil ||
		strings.Count(string(b), "\n") != 29 { // 7 settings, each 4 times, and the heading
		t.Errorf("run sheet: %v", err)
	}
	out = mustRun(t, "trace", in("case.toml"), "--flow", "5", "--feed", "20", "--heater-off", "--report",
		in("trace.html"), "--json", in("trace.json"))
	if !strings.Contains(out, "feeder fails (grind)") {
		t.Errorf("trace:\n%s", out)
	}
	// An invented log of that trace.
	var tr study.TraceResult
	b, _ := os.ReadFile(in("trace.json"))
	if err := quantity.Decode(b, &tr); err != nil {
		t.Fatal(err)
	}
	var log strings.Builder
	log.WriteString("t;push force (N)\n")
	now := 0.0
	put := func(f float64) {
		log.WriteString(strings.Replace(fmt.Sprintf("%.2f;%.2f\n", now, f+0.1*math.Sin(now*77)), ".", ",", -1))
		now += 0.25
	}
	for range 2 {
		for range 20 {
			put(1)
		}
		for i := 0; i < len(tr.Points); i++ {
			put(1 + tr.Points[i].Force)
		}
		for i := range 20 {
			put(1 + *tr.Force*(0.3+0.7*math.Exp(-float64(i))))
		}
		log.WriteString("restart;;;\n")
	}
	for range 20 {
		put(1)
	}
	os.WriteFile(in("log.txt"), []byte(log.String()), 0o644)
	code, out, errw := run("log", in("log.txt"), "--flows", "5", "--points", in("points.toml"), "--report",
		in("log.html"))
	if code != OK || !strings.Contains(out, "grind") || !strings.Contains(out, "not data") {
		t.Fatalf("log: exit code %d, %s\n%s", code, errw, out)
	}
	pointsIntoACase(t, in)
	// Calibration: forces invented from the model at another level and conductance.
	os.WriteFile(in("pushes.csv"),
		[]byte("# invented\nblock_degC,flow_mm3_s,force_N\n200,3,16\n200,10,36\n220,3,10\n220,10,24\n230,20,36\n"),
		0o644)
	out = mustRun(t, "calibrate", in("case.toml"), in("pushes.csv"), "--fit", "viscosity,heated", "--write",
		in("calibrated.toml"), "--report", in("cal.html"))
	if !strings.Contains(out, "mean error") {
		t.Errorf("calibrate:\n%s", out)
	}
	code, _, errw = run("assess", in("calibrated.toml"), "--quiet", "--samples", "16")
	if code != OK && code != NotHeld {
		t.Errorf("the calibrated case does not run: %s", errw)
	}
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"plan", "--force-low", "50", "--force-high", "20"}, "must lie above"},
		{[]string{"plan", "--flows", "5,x"}, "separated by commas"},
		{[]string{"trace", "--heater-off", "--ramp", "5"}, "give one of them"},
		{[]string{"log", in("none.csv")}, "no such file"},
		{[]string{"log", in("log.txt"), "--force-unit", "lbs"}, `kgf, gf, lbf, ozf, counts; did you mean "lbf"?`},
		{[]string{"log", in("log.txt"), "--force-unit", "kg"}, `did you mean "kgf"?`},
		{[]string{"log", in("log.txt"), "--force-unit", "g"}, `did you mean "gf"?`},
		{[]string{"log", in("log.txt"), "--time-unit", "sec"}, `did you mean "s"?`},
		{[]string{"log", in("log.txt"), "--force-unit", "MN"}, "M stands for a million"},
		{[]string{"log", in("log.txt"), "--force-unit", "m"}, "ozf, counts; see"}, // m is near to N in letters alone
		{[]string{"log", in("case.toml")}, "force column"},
		{[]string{"calibrate", in("case.toml"), in("log.txt")}, "unknown column"},
		{[]string{"calibrate", in("case.toml"), in("pushes.csv"), "--fit", "viscosty"}, "did you mean"},
		{[]string{"calibrate", in("case.toml"), in("pushes.csv"), "--fit", "offset,drag"}, "fit one of them"},
		{[]string{"calibrate", in("case.toml"), in("pushes.csv"), "--write", in("log.txt")}, "--force"},
		{[]string{"calibrate", in("case.toml")}, "no measurements"},
		{[]string{"calibrate", in("case.toml"), "--trace", in("log.txt")}, "block temperature and flow"},
		{[]string{"cell", in("pushes.csv")}, "mass_kg"},
		{[]string{"cell", in("none.csv")}, "no such file"},
		{[]string{"cell", in("none.csv"), "--gravity", "98"}, "9.7 to 9.9"},
	} {
		code, _, errw := run(c.args...)
		if code != BadUse || !strings.Contains(errw, c.want) {
			t.Errorf("%v: exit code %d, %q", c.args, code, errw)
		}
	}
}

// pointsIntoACase checks the file of points just written, and puts the points into a case.
func pointsIntoACase(t *testing.T, in func(string) string) {
	t.Helper()
	// The points make a feeder's file, and go into a case beside what is there, with the old text kept.
	pts, err := os.ReadFile(in("points.toml"))
	if err != nil || !strings.Contains(string(pts), "repeats = 2") {
		t.Fatalf("points: %v\n%s", err, pts)
	}
	src, _ := os.ReadFile(in("case.toml"))
	os.WriteFile(in("with-points.toml"), src, 0o644)
	if code, _, errw := run("log", in("log.txt"), "--flows", "5", "--quiet", "--points", in("with-points.toml"),
		"--material", "pla"); code != OK || !strings.Contains(errw, ", was ") {
		t.Errorf("points into a case: exit code %d, %s", code, errw)
	}
	mustRun(t, "check", in("with-points.toml"))
	if old, err := os.ReadFile(in("with-points.toml.old")); err != nil || !bytes.Equal(old, src) {
		t.Errorf("the text before is not kept: %v", err)
	}
}

// An interrupted run writes nothing.
func TestInterruption(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	file := filepath.Join(t.TempDir(), "r.html")
	var out, errw bytes.Buffer
	code := Run(ctx, []string{"assess", "--spread", "--report", file}, strings.NewReader(""), &out, &errw)
	if _, err := os.Stat(file); code != Failure || !os.IsNotExist(err) || out.Len() > 0 {
		t.Errorf("exit code %d, out %q", code, out.String())
	}
}

// A run stopped half way writes nothing, and says that it was stopped.
func TestInterruptionHalfWay(t *testing.T) {
	ctx, cancel := context.WithTimeout(context.Background(), 700*time.Millisecond)
	defer cancel()
	dir := t.TempDir()
	var out, errw bytes.Buffer
	code := Run(ctx, []string{"assess", "--samples", "1000000", "--report", filepath.Join(dir, "r.html"), "--json",
		filepath.Join(dir, "r.json"), "--csv", filepath.Join(dir, "t")}, strings.NewReader(""), &out, &errw)
	left, _ := os.ReadDir(dir)
	if code != Failure || len(left) > 0 || out.Len() > 0 || !strings.Contains(errw.String(), "stopped") {
		t.Errorf("exit code %d, files %v, out %q, err %q", code, left, out.String(), errw.String())
	}
}

// A file that cannot be written leaves what was there and says so: no folder, a folder that may not be
// written, a disk that fills up, a standard output that is full.
func TestUnwritableOutput(t *testing.T) {
	dir := t.TempDir()
	code, _, errw := run("assess", "--solver", "lumped", "--quiet", "--report", filepath.Join(dir, "no", "such",
		"r.html"))
	if code != Failure || errw == "" {
		t.Errorf("no folder: exit code %d, %q", code, errw)
	}
	if runtime.GOOS != "linux" {
		t.Skip("the rest needs Linux")
	}
	// /proc takes no new files, not even from root.
	if code, _, errw := run("assess", "--solver", "lumped", "--quiet", "--report", "/proc/r.html"); code != Failure ||
		!strings.Contains(errw, "/proc") {
		t.Errorf("a folder that may not be written: exit code %d, %q", code, errw)
	}
	full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
	if err != nil {
		t.Skip(err)
	}
	defer full.Close()
	var said bytes.Buffer
	for _, args := range [][]string{{"assess", "--solver", "lumped"},
		{"assess", "--solver", "lumped", "--json", "-"}, {"starter", "-"}, {"keys"}, {"materials"},
		{"materials", "pla", "--record"}} {
		said.Reset()
		if code := Run(context.Background(), args, strings.NewReader(""), full, &said); code != Failure ||
			!strings.Contains(said.String(), "no space left") {
			t.Errorf("%v to a full output: exit code %d, %q", args, code, said.String())
		}
	}
	// A process whose files may not grow beyond 100 kB: the old report survives, no half file stays behind.
	report := filepath.Join(dir, "r.html")
	os.WriteFile(report, []byte("old"), 0o644)
	c := exec.Command("sh", "-c",
		`ulimit -f 100; exec "$0" -test.run '^TestAsProgram$' -- assess --solver lumped --quiet --force --report "$1"`,
		os.Args[0], report)
	c.Env = append(os.Environ(), "MELTLOAD_AS_PROGRAM=1")
	b, err := c.CombinedOutput()
	if err == nil || !strings.Contains(string(b), "file too large") {
		t.Errorf("a full disk: %v, %s", err, b)
	}
	if b, _ := os.ReadFile(report); string(b) != "old" {
		t.Errorf("the old report became %d bytes", len(b))
	}
	if left, _ := filepath.Glob(filepath.Join(dir, ".r.html*")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

// TestAsProgram is the program itself, for tests that need a process of their own.
func TestAsProgram(t *testing.T) {
	if os.Getenv("MELTLOAD_AS_PROGRAM") == "" {
		t.Skip("run by other tests")
	}
	for i, a := range os.Args {
		if a == "--" {
			os.Exit(Run(context.Background(), os.Args[i+1:], os.Stdin, os.Stdout, os.Stderr))
		}
	}
}

// Every meltload command shown in the README and the docs is run, each page in a folder of its own, in its order.
func TestCommandsShownInTheDocsWork(t *testing.T) {
	if testing.Short() {
		t.Skip("takes long")
	}
	demo := os.DirFS(checks.Root("testdata", "demo"))
	pages, _ := filepath.Glob(checks.Root("report", "docs", "*.md"))
	line := regexp.MustCompile(`(?m)^(?:go run \./cmd/)?meltload (.*)$`)
	block := regexp.MustCompile("(?s)```sh\n(.*?)```")
	n := 0
	ran := map[string]bool{}
	for _, page := range append(pages, checks.Root("README.md")) {
		if strings.HasPrefix(filepath.Base(page), "example-") { // a test of its own runs and checks these
			continue
		}
		b, err := os.ReadFile(page)
		if err != nil {
			t.Fatal(err)
		}
		t.Run(filepath.Base(page), func(t *testing.T) {
			t.Chdir(t.TempDir())
			if err := os.CopyFS("testdata/demo", demo); err != nil {
				t.Fatal(err)
			}
			for _, block := range block.FindAllStringSubmatch(string(b), -1) {
				for _, m := range line.FindAllStringSubmatch(block[1], -1) {
					n++
					args := strings.Fields(strings.SplitN(m[1], "#", 2)[0])
					if key, last := lastWord(args); last && ran[key] {
						continue
					} else {
						ran[key] = true
					}
					shown(t, args)
				}
			}
		})
	}
	if n < 30 {
		t.Errorf("only %d commands found", n)
	}
}

// lastWord names a command line without the names of its files, and tells whether no later command reads what it
// writes: one that another page shows too need not run again.
func lastWord(args []string) (key string, last bool) {
	key = regexp.MustCompile(`[\w-]+\.(toml|html)`).ReplaceAllString(strings.Join(args, " "), "FILE.$1")
	return key, slices.Contains([]string{"assess", "mould", "plan", "trace", "whatif"}, args[0])
}

// shown runs a command of the docs as its reader would, but with few samples.
func shown(t *testing.T, args []string) {
	t.Helper()
	if args[0] == "whatif" { // serves until it is stopped
		openWhatIf(t, args[1:]...)
		return
	}
	if (args[0] == "assess" || args[0] == "rank") && !slices.Contains(args, "--samples") {
		args = append(args, "--samples", "16")
	}
	var out, errw bytes.Buffer
	// Enter to every question
	code := Run(context.Background(), args, strings.NewReader(strings.Repeat("\n", 30)), &out, &errw)
	if code != OK && code != NotHeld {
		t.Errorf("meltload %s: exit code %d, %s", strings.Join(args, " "), code, errw.String())
	}
	if args[0] == "starter" && args[1] == "other.toml" { // the reader is told to describe another hot end in it
		b, _ := os.ReadFile(args[1])
		os.WriteFile(args[1], bytes.Replace(b, []byte("club hot end"), []byte("other hot end"), 1), 0o644)
	}
}

// Links and pictures of the docs lead somewhere.
func TestLinksInTheDocs(t *testing.T) {
	pages, _ := filepath.Glob(checks.Root("report", "docs", "*.md"))
	link := regexp.MustCompile(`\]\(([^)#]+)`)
	n := 0
	for _, page := range append(pages, checks.Root("README.md"), checks.Root("DEVELOPERS.md")) {
		b, err := os.ReadFile(page)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range link.FindAllStringSubmatch(string(b), -1) {
			if strings.HasPrefix(m[1], "http") {
				continue
			}
			n++
			if _, err := os.Stat(filepath.Join(filepath.Dir(page), m[1])); err != nil {
				t.Errorf("%s: %v", filepath.Base(page), err)
			}
		}
	}
	if n < 12 {
		t.Errorf("only %d links found", n)
	}
}

// A material record of the user's own, made from a built-in one.
func TestOwnMaterial(t *testing.T) {
	dir := t.TempDir()
	record := strings.Replace(mustRun(t, "materials", "abs", "--record"), `id = "abs"`, `id = "mine"`, 1)
	if err := os.WriteFile(filepath.Join(dir, "mine.toml"), []byte(record), 0o644); err != nil {
		t.Fatal(err)
	}
	src := strings.Replace(mustRun(t, "starter", "-"), `material = "pla"`, `material_file = "mine.toml"`, 1)
	src += "\n[material]\nmelt_flow_rate_g_10min = 20\nmelt_flow_rate_degC = 220\nmelt_flow_rate_kg = 10\n"
	src = strings.Replace(src, "block_degC = 215", "block_degC = 240", 1)
	f := filepath.Join(dir, "case.toml")
	if err := os.WriteFile(f, []byte(src), 0o644); err != nil {
		t.Fatal(err)
	}
	code, out, errw := run("assess", f, "--samples", "16")
	if code != OK && code != NotHeld || !strings.Contains(out, "melt flow rate of 20 g/10 min") {
		t.Errorf("exit code %d, %s\n%s", code, errw, out)
	}
	// A broken record is reported by its own name and line.
	os.WriteFile(filepath.Join(dir, "mine.toml"), []byte(strings.Replace(record, `law = "cross"`, `law = "crss"`, 1)),
		0o644)
	if code, _, errw := run("check", f); code != BadUse || !strings.Contains(errw, "mine.toml:") ||
		!strings.Contains(errw, `"cross"`) {
		t.Errorf("exit code %d, %s", code, errw)
	}
}

func mustRun(t *testing.T, args ...string) string {
	code, out, errw := run(args...)
	if code != OK {
		t.Fatalf("%v: %s", args, errw)
	}
	return out
}

// TestBadTables reads every table of testdata/bad: logs, pushes and weights that cannot be used. Each is refused with
// exactly the message beside it, and nothing is written.
func TestBadTables(t *testing.T) {
	files, err := filepath.Glob(checks.Root("testdata", "bad", "*.csv"))
	if err != nil || len(files) < 20 {
		t.Fatalf("%d files (%v)", len(files), err)
	}
	bench := filepath.Join(t.TempDir(), "bench.toml")
	if code, _, e := run("starter", bench); code != OK {
		t.Fatal(e)
	}
	for _, f := range files {
		name := strings.TrimSuffix(filepath.Base(f), ".csv")
		t.Run(name, func(t *testing.T) {
			kind, _, _ := strings.Cut(name, "-")
			out := filepath.Join(t.TempDir(), "out.json")
			args := []string{kind, f, "--json", out}
			if kind == "calibrate" {
				args = []string{kind, bench, f, "--json", out}
			}
			code, _, errs := run(args...)
			if code != BadUse {
				t.Errorf("exit code %d", code)
			}
			if _, err := os.Stat(out); err == nil {
				t.Error("a result was written")
			}
			golden(t, filepath.Join("..", "bad", name+".want"), strings.ReplaceAll(errs, f, filepath.Base(f)))
		})
	}
}

// Check takes cases and files that hold only a feeder or only a hot end; of a part it does not ask what a case needs
// besides.
func TestCheckOfParts(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) string {
		file := filepath.Join(dir, name)
		if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return file
	}
	feeder := "[feeder]\nname = \"f\"\n[[feeder.point]]\nspeed_mm_s = 2\nforce_N = 40\n"
	hot := "[hot_end]\nname = \"h\"\n[[hot_end.section]]\nname = \"bore\"\nshape = \"tube\"\ndiameter_mm = " +
		"0.4\nlength_mm = 2\n"
	good := write("f.toml", feeder)
	for name, want := range map[string]string{
		good:                 "",
		write("h.toml", hot): "",
		write("c.toml", "feeder_file = \"f.toml\"\nhot_end_file = \"h.toml\"\n[hot_end]\nblock_degC = "+
			"215\n[filament]\nmaterial = \"pla\"\ndiameter_mm = 0.4\n"): "filament.diameter_mm: found 0.4",
		write("bad.toml", strings.Replace(feeder, "40", "-40", 1)): "bad.toml:5: feeder.point[1].force_N: found -40",
		write("none.toml", "title = \"x\"\n"):                      "hot_end: found nothing",
	} {
		code, _, errw := run("check", name)
		if want == "" && code != OK || want != "" && (code == OK || !strings.Contains(errw, want)) {
			t.Errorf("%s: exit code %d, %q, want %q", filepath.Base(name), code, errw, want)
		}
		if strings.Contains(name, "bad") && strings.Contains(errw, "filament") {
			t.Errorf("a feeder by itself is asked for a filament: %s", errw)
		}
	}
}
