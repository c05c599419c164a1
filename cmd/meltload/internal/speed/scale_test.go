//go:build unix

package speed

import (
	"bufio"
	"encoding/csv"
	"flag"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/plotutil"
	"gonum.org/v1/plot/vg"

	"meltload/flow/casefile"
	"meltload/materials/checks"
)

var scale = flag.Bool("scale", false, "run every kind of work at three sizes and rewrite the page on scale")

// work is a kind of work whose size can be chosen. prepare writes what it needs into a folder and returns the arguments
// of the command.
type work struct {
	what, unit string
	sizes      [3]int
	prepare    func(dir string, n int) ([]string, error)
}

// memory is what the largest size is foretold for.
const memory = 2 << 30

var works = []work{
	{"sampling what is not known", "samples", [3]int{300, 3000, 30_000}, func(_ string, n int) ([]string, error) {
		return []string{"assess", "--quiet", "--samples", fmt.Sprint(n)}, nil
	}},
	{"measured points of one feeder", "points", [3]int{10, 100, 1000}, func(dir string, n int) ([]string, error) {
		head, _, _ := strings.Cut(string(casefile.BuiltIn), "[[feeder.point]]")
		_, tail, _ := strings.Cut(string(casefile.BuiltIn), "[limits]")
		var b strings.Builder
		b.WriteString(head)
		for i := range n {
			x := float64(i) / float64(n)
			fmt.Fprintf(&b, "[[feeder.point]]\nspeed_mm_s = %.6g\nforce_N = %.6g\ncause = \"skip\"\n", 1+20*x, 75-25*x)
		}
		name := filepath.Join(dir, "case.toml")
		return []string{"assess", name, "--quiet", "--samples", "64"},
			os.WriteFile(name, []byte(b.String()+"\n[limits]"+tail), 0o644)
	}},
	{"rows of a log", "rows", [3]int{100_000, 1_000_000, 10_000_000}, func(dir string, n int) ([]string, error) {
		name := filepath.Join(dir, "run.csv")
		return []string{"log", name, "--flows", "5", "--quiet"}, writeLog(name, n)
	}},
	{"pairs of feeder and hot end", "pairs", [3]int{12, 48, 480}, func(dir string, n int) ([]string, error) {
		feeders := int(math.Round(math.Sqrt(float64(n) * 4 / 3)))
		args := []string{"rank", "--quiet", "--samples", "64"}
		for i := range feeders {
			name := filepath.Join(dir, fmt.Sprintf("feeder%d.toml", i))
			args = append(args, name)
			if err := os.WriteFile(name, []byte(strings.Replace(string(casefile.BuiltIn), `"club feeder"`,
				fmt.Sprintf("%q", fmt.Sprint("feeder ", i)), 1)), 0o644); err != nil {
				return nil, err
			}
		}
		for i := range n / feeders {
			name := filepath.Join(dir, fmt.Sprintf("hot%d.toml", i))
			args = append(args, "--hot-end", name)
			text := strings.Replace(string(casefile.BuiltIn), `"club hot end"`, fmt.Sprintf("%q", fmt.Sprint("hot end ",
				i)), 1)
			text = strings.Replace(text, "length_mm = 20", fmt.Sprintf("length_mm = %.4g", 15+0.2*float64(i)), 1)
			if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
				return nil, err
			}
		}
		return args, nil
	}},
	{"pushes of a calibration", "pushes", [3]int{7, 70, 700}, func(dir string, n int) ([]string, error) {
		c, p := filepath.Join(dir, "case.toml"), filepath.Join(dir, "pushes.csv")
		var b strings.Builder
		b.WriteString("block_degC,flow_mm3_s,force_N\n")
		for i := range n {
			x := float64(i) / float64(n)
			fmt.Fprintf(&b, "%.4g,%.4g,%.4g\n", 195+35*x, 3+2*float64(i%7), 18+2.2*float64(i%7)-8*x)
		}
		if err := os.WriteFile(c, casefile.BuiltIn, 0o644); err != nil {
			return nil, err
		}
		return []string{"calibrate", c, p, "--quiet"}, os.WriteFile(p, []byte(b.String()), 0o644)
	}},
	{"case files of a folder", "cases", [3]int{6, 60, 600}, func(dir string, n int) ([]string, error) {
		for i := range n {
			text := strings.Replace(string(casefile.BuiltIn), "block_degC = 215", fmt.Sprintf("block_degC = %.6g",
				200+30*float64(i)/float64(n)), 1)
			if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("c%04d.toml", i)), []byte(text), 0o644); err != nil {
				return nil, err
			}
		}
		return []string{"assess", dir, "--quiet", "--samples", "16", "--journal", filepath.Join(dir, "done.jsonl")}, nil
	}},
}

// writeLog writes an invented push of n rows: rest, a rise to a plateau, a collapse, rest.
func writeLog(name string, n int) error {
	f, err := os.Create(name)
	if err != nil {
		return err
	}
	w := bufio.NewWriter(f)
	fmt.Fprintln(w, "time_s,force_N")
	for i := range n {
		x := float64(i) / float64(n)
		force := 0.0
		switch {
		case x > 0.1 && x < 0.8:
			force = 40 * (1 - math.Exp(-(x-0.1)*30))
		case x >= 0.8 && x < 0.9:
			force = 12
		}
		fmt.Fprintf(w, "%.3f,%.2f\n", 200*x, force+0.05*math.Sin(float64(7*i)))
	}
	if err := w.Flush(); err != nil {
		return err
	}
	return f.Close()
}

// sized is one size of a kind of work, measured.
type sized struct {
	what      string
	n         int
	wall, cpu float64 // s
	peak      float64 // bytes
}

// play runs a command and measures it. A wanted flow that is not held is an answer too.
func play(bin string, args []string) (sized, error) {
	c := exec.Command(bin, args...)
	c.Env = append(os.Environ(), "GOGC=100")
	from := time.Now()
	b, err := c.CombinedOutput()
	s := sized{wall: time.Since(from).Seconds()}
	if code := c.ProcessState.ExitCode(); err != nil && code != 3 {
		return s, fmt.Errorf("%v: %w\n%s", args[0], err, b)
	}
	s.cpu = (c.ProcessState.UserTime() + c.ProcessState.SystemTime()).Seconds()
	s.peak = float64(c.ProcessState.SysUsage().(*syscall.Rusage).Maxrss) * 1024
	if runtime.GOOS == "darwin" { // in bytes there
		s.peak /= 1024
	}
	return s, nil
}

func scaleFile() string { return checks.Root("testdata", "bench", "scale.csv") }

// measure runs all kinds of work at all sizes.
func measure(t *testing.T) []sized {
	t.Helper()
	bin := filepath.Join(t.TempDir(), "meltload")
	c := exec.Command("go", "build", "-o", bin, "./cmd/meltload")
	c.Dir = checks.Root()
	if b, err := c.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, b)
	}
	var out []sized
	for _, w := range works {
		for _, n := range w.sizes {
			args, err := w.prepare(t.TempDir(), n)
			if err != nil {
				t.Fatal(err)
			}
			s, err := play(bin, args)
			if err != nil {
				t.Fatalf("%s, %d: %v", w.what, n, err)
			}
			s.what, s.n = w.what, n
			t.Logf("%s, %d: %.3g s, %.3g s of processor, %.0f MB", s.what, n, s.wall, s.cpu, s.peak/1e6)
			out = append(out, s)
		}
	}
	return out
}

func writeSized(rows []sized) error {
	var b strings.Builder
	b.WriteString("work,size,wall_s,processor_s,peak_bytes\n")
	for _, s := range rows {
		fmt.Fprintf(&b, "%s,%d,%.4g,%.4g,%.4g\n", s.what, s.n, s.wall, s.cpu, s.peak)
	}
	return os.WriteFile(scaleFile(), []byte(b.String()), 0o644)
}

func readSized(t *testing.T) []sized {
	t.Helper()
	f, err := os.Open(scaleFile())
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	number := func(s string) float64 {
		x, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
	var out []sized
	for _, l := range lines[1:] {
		out = append(out, sized{l[0], int(number(l[1])), number(l[2]), number(l[3]), number(l[4])})
	}
	return out
}

// of are the sizes of one kind of work.
func of(rows []sized, what string) []sized {
	var out []sized
	for _, s := range rows {
		if s.what == what {
			out = append(out, s)
		}
	}
	return out
}

// growth is by what power of the size the processor time grows from the second size to the third, where what every run
// costs weighs least.
func growth(s []sized) float64 {
	a, b := s[1], s[2]
	return math.Log(b.cpu/a.cpu) / math.Log(float64(b.n)/float64(a.n))
}

// fits foretells the largest size in an amount of memory by the straight line through the sizes; +Inf where memory does
// not grow.
func fits(s []sized, bytes float64) float64 {
	var x, y []float64
	for _, v := range s {
		x, y = append(x, float64(v.n)), append(y, v.peak)
	}
	base, each := stat.LinearRegression(x, y, nil, false)
	if each*x[len(x)-1] < 5e6 { // less than the scatter of the collector
		return math.Inf(1)
	}
	return (bytes - base) / each
}

// round2 is a number to two digits.
func round2(x float64) string {
	if math.IsInf(x, 0) {
		return "not bound by memory"
	}
	p := math.Pow(10, 1-math.Floor(math.Log10(x)))
	return fmt.Sprintf("%.0f", math.Round(x*p)/p)
}

func scalePage(rows []sized) string {
	var b strings.Builder
	fmt.Fprintf(&b, `# Scale

How time and memory grow with the size of the work, each size a run of its own of the command:

`+"```sh\ngo test ./cmd/meltload/internal/speed -run Scale -scale -timeout 60m\n```"+`

Time for each is processor time over size at the largest size. Growth is the power of the size by which processor
time grows from the second size to the third: 1 is linear. What fits 2 GB is foretold by the straight line through
the peaks of memory, not tried. The numbers are in testdata/bench/scale.csv.

| work | size | time | processor time | peak memory | time for each | growth | fits 2 GB |
|---|---:|---:|---:|---:|---:|---:|---:|
`)
	for _, w := range works {
		s := of(rows, w.what)
		for i, v := range s {
			each, power, most := "", "", ""
			if i == len(s)-1 {
				each, power = span(v.cpu*1e9/float64(v.n)), fmt.Sprintf("%.2f", growth(s))
				most = round2(fits(s, memory))
			}
			fmt.Fprintf(&b, "| %s | %d %s | %s | %s | %.0f MB | %s | %s | %s |\n", w.what, v.n, w.unit,
				span(v.wall*1e9), span(v.cpu*1e9), v.peak/1e6, each, power, most)
		}
	}
	b.WriteString("\n![Processor time against size, both logarithmic](scale.svg)\n")
	return b.String()
}

// drawScale draws processor time against size.
func drawScale(rows []sized, file string) error {
	p := plot.New()
	p.X.Label.Text, p.Y.Label.Text = "size over the smallest", "processor time, s"
	p.X.Scale, p.Y.Scale = plot.LogScale{}, plot.LogScale{}
	p.X.Tick.Marker, p.Y.Tick.Marker = plot.LogTicks{Prec: -1}, plot.LogTicks{Prec: -1}
	p.Legend.Top, p.Legend.Left = true, true
	for i, w := range works {
		s := of(rows, w.what)
		var xy plotter.XYs
		for _, v := range s {
			xy = append(xy, plotter.XY{X: float64(v.n) / float64(s[0].n), Y: v.cpu})
		}
		l, pts, err := plotter.NewLinePoints(xy)
		if err != nil {
			return err
		}
		l.Color, l.Dashes = plotutil.Color(i), plotutil.Dashes(i)
		pts.Color, pts.Shape = plotutil.Color(i), plotutil.Shape(i)
		pts.Radius = 3
		p.Add(l, pts)
		p.Legend.Add(w.what, l, pts)
	}
	p.Add(plotter.NewGrid())
	p.Legend.TextStyle.Font.Size = vg.Points(9)
	return p.Save(16*vg.Centimeter, 11*vg.Centimeter, file)
}

// The page is that of the numbers kept, and all work grows linearly or better, as measured when they were taken.
func TestScalePage(t *testing.T) {
	page := checks.Root("report", "docs", "scale.md")
	if *scale {
		rows := measure(t)
		if err := writeSized(rows); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(page, []byte(scalePage(readSized(t))), 0o644); err != nil {
			t.Fatal(err)
		}
		if err := drawScale(rows, checks.Root("report", "docs", "scale.svg")); err != nil {
			t.Fatal(err)
		}
	}
	rows := readSized(t)
	for _, w := range works {
		s := of(rows, w.what)
		if len(s) != len(w.sizes) {
			t.Fatalf("%s: %d sizes; run with -scale", w.what, len(s))
		}
		if g := growth(s); g > 1.15 { // linear within the scatter of single runs
			t.Errorf("%s grows with the power %.2f of its size", w.what, g)
		}
	}
	b, err := os.ReadFile(page)
	if err != nil {
		t.Fatal(err)
	}
	if string(b) != scalePage(rows) {
		t.Error("the page is not that of the numbers; run with -scale")
	}
}
