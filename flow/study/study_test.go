package study

import (
	"encoding/json"
	"math"
	"testing"

	"meltload/flow/casefile"
	"meltload/flow/march"
)

func builtIn(t testing.TB) *casefile.Case {
	c, ps := casefile.Parse(casefile.BuiltInName, casefile.BuiltIn)
	if len(ps) > 0 {
		t.Fatal(ps)
	}
	return c
}

func TestResultHangsTogether(t *testing.T) {
	c := builtIn(t)
	r, err := Run(c, Options{})
	if err != nil {
		t.Fatal(err)
	}
	var drop, heat float64
	for _, s := range r.Sections {
		drop += s.Drop
		heat += s.WallHeat
	}
	if math.Abs(drop/r.Point.Pressure-1) > 1e-9 || math.Abs(heat/r.Point.WallHeat-1) > 1e-9 {
		t.Errorf("sections sum to %g MPa and %g W, the point has %g and %g", drop, heat, r.Point.Pressure, r.Point.WallHeat)
	}
	if f := r.Point.Pressure * 1e6 * c.Area(); math.Abs(f/r.Point.Force-1) > 1e-9 {
		t.Errorf("force %g N, pressure times area %g N", r.Point.Force, f)
	}
	if got := r.Melt.P[0]; math.Abs(got/r.Point.Pressure-1) > 1e-6 {
		t.Errorf("field starts at %g MPa, inlet %g", got, r.Point.Pressure)
	}
	if end := r.Melt.P[len(r.Melt.P)-1]; math.Abs(end) > 1e-6*r.Point.Pressure {
		t.Errorf("field ends at %g MPa", end)
	}
	// The usable flow sits on the map's border: usable to its left, not to its right.
	row := r.Map.Codes[12]
	for j, q := range r.Map.Flows {
		T := r.Map.Temps[12]
		if math.Abs(T-215) < 1e-9 && (row[j] == "+") != (q < r.Verdict.Flow) && math.Abs(q/r.Verdict.Flow-1) > 0.02 {
			t.Errorf("map at %g degC and %g mm3/s is %q, usable flow %g", T, q, row[j], r.Verdict.Flow)
		}
	}
	if _, err := json.Marshal(r); err != nil {
		t.Error(err)
	}
}

func TestColdCoreCarriesTheSpreadOfTheCap(t *testing.T) {
	c := builtIn(t)
	c.Target = 38e-9
	r, err := Run(c, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if !(r.Point.CapLow > 0 && r.Point.CapLow < r.Point.Push && r.Point.CapHigh > r.Point.Push*0.98) {
		t.Errorf("push %g N between %g and %g N", r.Point.Push, r.Point.CapLow, r.Point.CapHigh)
	}
	codes := map[string]bool{}
	for _, w := range r.Warnings {
		codes[w.Code] = true
	}
	if !codes["cold-core"] || !codes["solid-cap"] {
		t.Errorf("warnings %v", r.Warnings)
	}
	if r.Verdict.Held || r.Verdict.Margin >= 0 {
		t.Errorf("verdict %+v", r.Verdict)
	}
}

// BenchmarkMap evaluates an operating map of 2,400 points on all cores.
func BenchmarkMap(b *testing.B) {
	c := builtIn(b)
	m := c.Matcher(march.New(&c.Case, march.Options{}))
	var temps, flows []float64
	for i := range 40 {
		temps = append(temps, c.Temps[0]+(c.Temps[1]-c.Temps[0])*float64(i)/39)
	}
	for i := range 60 {
		flows = append(flows, 0.5e-9*float64(i+1))
	}
	for b.Loop() {
		if _, err := m.Map(temps, flows); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkRun is the whole main job without the report.
func BenchmarkRun(b *testing.B) {
	c := builtIn(b)
	for b.Loop() {
		if _, err := Run(c, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
