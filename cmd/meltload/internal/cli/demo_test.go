package cli

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"meltload/flow"
	"meltload/flow/casefile"
	"meltload/flow/march"
	"meltload/flow/quantity"
	"meltload/flow/study"
	"meltload/flow/vary"
	"meltload/materials/checks"
	"meltload/materials/unit"
)

// The truth behind the demo files: the built-in case with a stiffer melt and a shorter heated length.
var demoTruth = map[vary.ID]float64{vary.Viscosity: 1.25, vary.Heated: 0.6}

// demoCase is the built-in case with that truth.
func demoCase(t *testing.T) *casefile.Case {
	t.Helper()
	c, err := readCase(nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	for id, x := range demoTruth {
		q := vary.Must(&c.Setup, id)
		if err := q.Set(&c.Setup, x); err != nil {
			t.Fatal(err)
		}
	}
	return c
}

// demoFiles makes the invented bench data of testdata/demo from the simulator and seeded noise.
func demoFiles(t *testing.T) map[string]string {
	t.Helper()
	c := demoCase(t)
	rng := rand.New(rand.NewPCG(2024, 11))
	out := map[string]string{}

	var w strings.Builder
	w.WriteString("# Invented: 500 counts per newton, zero 1184, noise 6 counts.\nmass_kg,up,down\n")
	for _, m := range []float64{0, 2, 4, 6, 8, 10} {
		read := func() float64 { return 1184 + 500*9.80665*m + 6*rng.NormFloat64() }
		fmt.Fprintf(&w, "%g,%.0f,%.0f\n", m, read(), read())
	}
	out["weights.csv"] = w.String()

	s := march.New(&c.Case, march.Options{})
	var d flow.Solution
	var p strings.Builder
	fmt.Fprintf(&p, "# Invented: the built-in case with viscosity factor %g and heated share %g, noise 2 "+
		"%%.\nblock_degC,flow_mm3_s,force_N\n", demoTruth[vary.Viscosity], demoTruth[vary.Heated])
	for _, x := range [][2]float64{{195, 3}, {195, 8}, {205, 5}, {215, 5}, {215, 15}, {225, 10}, {225, 20}} {
		if err := s.Solve(unit.Kelvin(x[0]), x[1]*unit.MM3, &d); err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(&p, "%g,%g,%.1f\n", x[0], x[1], d.Push*(1+0.02*rng.NormFloat64()))
	}
	out["pushes.csv"] = p.String()

	play := func(q float64) *study.TraceResult {
		r, err := study.Trace(context.Background(), &c.Setup, study.TraceOptions{Flow: q * unit.MM3, Feed: 30,
			HeaterOff: true, Then: 600, Column: 0.05})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	var l strings.Builder
	l.WriteString("# Invented: the simulator plus 0.15 N of noise; 2.4 N of tare, slowly " +
		"drifting.\ntime_s,block_degC,flow_mm3_s,force_N\n")
	now := 0.0
	put := func(block, flow, force float64) {
		fmt.Fprintf(&l, "%.1f,%.1f,%g,%.2f\n", now, block, flow, 2.4+0.0002*now+force+0.15*rng.NormFloat64())
		now += 0.1
	}
	rest := func(block float64) {
		for range 80 {
			put(block, 0, 0)
		}
	}
	var cool strings.Builder
	cool.WriteString("# Invented: one push at 5 mm3/s, heater off after 30 s; 2.4 N of tare, 0.15 N of " +
		"noise.\ntime_s,block_degC,flow_mm3_s,force_N\n")
	for repeat := range 2 {
		for _, q := range []float64{5, 20} {
			r := play(q)
			if !r.Failed {
				t.Fatalf("%g mm3/s: the feeder held", q)
			}
			spread := 1 + 0.03*rng.NormFloat64() // of a repeat
			start := unit.Celsius(r.Points[0].Block)
			rest(start)
			k := 0
			for at := 0.0; at < *r.Time; at += 0.1 {
				for k+1 < len(r.Points) && r.Points[k+1].Time <= at {
					k++
				}
				a := r.Points[k]
				put(unit.Celsius(a.Block), q, a.Force*spread)
				if repeat == 0 && q == 5 && math.Mod(math.Round(at*10), 5) == 0 {
					fmt.Fprintf(&cool, "%.1f,%.2f,%g,%.2f\n", at, unit.Celsius(a.Block), q,
						2.4+a.Force+0.15*rng.NormFloat64())
				}
			}
			for i := range 40 { // ground: collapses and stays low
				put(unit.Celsius(*r.Block), q, *r.Force*(0.3+0.7*math.Exp(-float64(i))))
			}
			rest(start)
		}
	}
	out["run.csv"] = l.String()
	out["cooling.csv"] = cool.String()
	return out
}

// The demo files are what the simulator says (written with -update), and what the commands read back from them is
// the truth put in: the whole chain from log to calibrated case on data whose answer is known.
func TestDemoFiles(t *testing.T) {
	if testing.Short() {
		t.Skip("takes long")
	}
	dir := checks.Root("testdata", "demo")
	file := func(n string) string { return dir + "/" + n }
	if *update {
		for name, text := range demoFiles(t) {
			if err := os.WriteFile(file(name), []byte(text), 0o644); err != nil {
				t.Fatal(err)
			}
		}
	} else {
		t.Parallel()
	}
	out := mustRun(t, "cell", file("weights.csv"))
	if !strings.Contains(out, "0.0020002 N") || !strings.Contains(out, "1186.36") {
		t.Errorf("cell:\n%s", out)
	}
	out = mustRun(t, "log", file("run.csv"))
	if !strings.Contains(out, "4 tests. 5 mm3/s: ") || !strings.Contains(out, "grind") {
		t.Errorf("log:\n%s", out)
	}
	tmp := t.TempDir()
	mustRun(t, "starter", tmp+"/case.toml")
	for _, args := range [][]string{{file("pushes.csv")}, {"--trace", file("cooling.csv"), "--tare", "2.4"},
		{"--trace", file("run.csv")}} {
		args = append(args, "--fit", "viscosity,heated") // what the truth differs in; a push hardly tells five factors
		var r study.CalResult
		mustRun(t, append(append([]string{"calibrate", tmp + "/case.toml"}, args...), "--report", tmp+"/cal.html",
			"--json", tmp+"/cal.json")...)
		b, err := os.ReadFile(tmp + "/cal.json")
		if err != nil {
			t.Fatal(err)
		}
		if err := quantity.Decode(b, &r); err != nil {
			t.Fatal(err)
		}
		for id, want := range demoTruth {
			q := vary.Must(&demoCase(t).Setup, id)
			v := r.Values[slices.IndexFunc(r.Values, func(v study.CalValue) bool { return v.Factor == q.Label })]
			if !v.Known || *v.Low > 1.15*want || *v.High < 0.85*want {
				t.Errorf("%v: %s is %.4g (%.4g to %.4g); the truth is %g", args, v.Factor, v.Value, *v.Low, *v.High,
					want)
			}
		}
	}
}
