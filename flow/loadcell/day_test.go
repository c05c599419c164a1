package loadcell

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"meltload/flow/feeder"
	"meltload/materials/checks"
)

// dayTruth is what the two invented feeders of testdata/demo/day hold.
var dayTruth = []struct {
	name, flow string
	force      float64
	cause      feeder.Cause
}{
	{"oak", "5", 82, feeder.Grind}, {"oak", "20", 71, feeder.Grind},
	{"elm", "5", 64, feeder.Skip}, {"elm", "20", 55, feeder.Skip},
}

// dayLog writes one invented push as a logger would: raw counts of the cell of testdata/demo/weights.csv.
func dayLog(rng *rand.Rand, flow string, force float64, cause feeder.Cause) string {
	var b strings.Builder
	b.WriteString("# invented\nmillis;block_degC;flow_mm3_s;raw\n")
	ms, block := 0, 215.0
	put := func(seconds float64, feed bool, f func(x float64) float64) {
		for i := range int(seconds * 10) {
			q := "0"
			if feed {
				q = flow
			}
			counts := 1184 + 500*(3.1+f(float64(i)/10)+0.12*rng.NormFloat64())
			fmt.Fprintf(&b, "%d;%.1f;%s;%.0f\n", ms, block, q, counts)
			ms += 100
		}
	}
	low := 0.4 * force
	put(4, false, func(float64) float64 { return 0 })
	put(12, true, func(x float64) float64 { return low * (1 - math.Exp(-x/0.5)) })
	for i := range 20 {
		block -= 2 // the heater is off
		put(1, true, func(x float64) float64 { return low + (force-low)*(float64(i)+x)/20 })
	}
	if cause == feeder.Grind {
		put(4, true, func(x float64) float64 { return force * (0.3 + 0.7*math.Exp(-x/0.08)) })
	} else {
		put(4, true, func(x float64) float64 { return force * (0.7 + 0.3*math.Mod(x*1.25, 1)) })
	}
	put(5, false, func(x float64) float64 { return 0.3 * force * math.Exp(-x/0.3) })
	return b.String()
}

// The invented logs of a bench day (written with -update) give back what was put in, pooled by their names.
func TestBenchDay(t *testing.T) {
	dir := checks.Root("testdata", "demo", "day")
	if *updateSets {
		rng := rand.New(rand.NewPCG(77, 5))
		if err := os.MkdirAll(dir, 0o755); err != nil {
			t.Fatal(err)
		}
		for _, x := range dayTruth {
			for n := range 2 {
				text := dayLog(rng, x.flow, x.force*(1+0.015*rng.NormFloat64()), x.cause)
				name := fmt.Sprintf("%s_%smm3s_%d.csv", x.name, x.flow, n+1)
				if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
					t.Fatal(err)
				}
			}
		}
	}
	files, err := filepath.Glob(filepath.Join(dir, "*.csv"))
	if err != nil || len(files) != 8 {
		t.Fatalf("%d files, %v", len(files), err)
	}
	var names []string
	var tests [][]Test
	for _, name := range files {
		f, err := os.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		l, err := Read(name, f, Format{PerCount: 1.0 / 500, CountZero: 1184})
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		a, err := Analyse(l, Settings{})
		if err != nil {
			t.Fatal(err)
		}
		names, tests = append(names, SeriesOf(name, ByName)), append(tests, a.Tests)
	}
	series := Gather(names, tests, 0.95)
	if len(series) != 2 {
		t.Fatalf("%d series", len(series))
	}
	for _, x := range dayTruth {
		for _, s := range series {
			for _, g := range s.Groups {
				if s.Name != x.name || fmt.Sprintf("%.0f", g.Flow*1e9) != x.flow {
					continue
				}
				if g.N != 2 || g.Cause != x.cause || math.Abs(g.Force/x.force-1) > 0.04 {
					t.Errorf("%s at %s: %d tests, %s, %.1f N for %.1f", x.name, x.flow, g.N, g.Cause, g.Force, x.force)
				}
			}
		}
	}
}
