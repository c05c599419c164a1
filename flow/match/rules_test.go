package match_test

import (
	"math"
	"strings"
	"testing"

	"meltload/flow"
	"meltload/flow/feeder"
	"meltload/flow/match"
	"meltload/materials"
	"meltload/thermal"
)

func find(t *testing.T, m *match.Matcher, block float64) *match.Result {
	t.Helper()
	r, err := m.Find(block)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// The heater carries its losses too: 40 W less 0.05 W/K over 202 K are 29.9 W, at 2 W per mm3/s 14.95 mm3/s.
func TestHeaterLimitCountsTheLosses(t *testing.T) {
	m, c := setup(flat(1e4), wide)
	c.HotEnd.Block = thermal.Block{Power: 40, Ambient: 298, Loss: 0.05}
	if r := find(t, m, 500); r.Binding != match.Heater || math.Abs(r.Flow/14.95e-9-1) > 2e-4 {
		t.Errorf("%.4f mm3/s by %s, want 14.95 by the heater", r.Flow*1e9, r.Binding)
	}
}

// The lowest flow is the volume over the longest stay allowed; above the usable flow it is a remark.
func TestLowestFlow(t *testing.T) {
	l := wide
	l.Residence = 30
	m, c := setup(flat(50), l)
	r := find(t, m, 500)
	barrel, cone, bore := math.Pi*20e-9, math.Pi/3*(0.8e-3/math.Tan(math.Pi/6))*(1e-6+0.2e-6+0.04e-6),
		math.Pi*0.04e-6*1e-3
	if want := (barrel + cone + bore) / 30; math.Abs(r.LowFlow/want-1) > 1e-9 ||
		math.Abs(c.HotEnd.Volume()/(barrel+cone+bore)-1) > 1e-9 {
		t.Errorf("lowest flow %.4f mm3/s, want %.4f", r.LowFlow*1e9, want*1e9)
	}
	if materials.Warned(r.Warnings, "residence") {
		t.Error("a remark on the stay where the usable flow is above the lowest")
	}
	m.Limits.Residence = 0.5 * c.HotEnd.Volume() / r.Flow
	if r := find(t, m, 500); !materials.Warned(r.Warnings, "residence") || math.Abs(r.LowFlow/(2*r.Flow)-1) > 1e-3 {
		t.Errorf("no remark on a stay too long: lowest flow %.3f, usable %.3f mm3/s", r.LowFlow*1e9, r.Flow*1e9)
	}
}

// Every crossing is where the load times the safety equals the capability, and none between the first and last
// scanned flow is left out.
func TestCrossingsAreWhereLinesMeet(t *testing.T) {
	a := 2.405281875e-6 // m2, of 1.75 mm
	var pts []feeder.Point
	for _, p := range [][2]float64{{1, 60}, {8, 60}, {12, 20}, {16, 90}, {20, 90}, {30, 40}, {60, 40}} {
		pts = append(pts, feeder.Point{Speed: p[0] * 1e-9 / a, Force: p[1], Cause: feeder.Skip})
	}
	m, _ := setup(pts, wide)
	r := find(t, m, 500)
	if len(r.Crossings) != 3 || !materials.Warned(r.Warnings, "several-crossings") {
		t.Fatalf("crossings %v, want 3 and a remark", r.Crossings)
	}
	for _, q := range r.Crossings {
		load, holds := 1.25*(10+2e9*q), m.Feeder.At(q/a).Force
		if math.Abs(load/holds-1) > 1e-3 {
			t.Errorf("at %.3f mm3/s the load is %.2f N, the capability %.2f N", q*1e9, load, holds)
		}
	}
	if math.Abs(r.Flow/r.Crossings[0]-1) > 1e-3 {
		t.Errorf("usable %.3f mm3/s, first crossing %.3f", r.Flow*1e9, r.Crossings[0]*1e9)
	}
	if c := r.Crossings; !(c[0] > 8e-9 && c[0] < 12e-9 && c[1] > 12e-9 && c[1] < 16e-9 && c[2] > 20e-9 &&
		c[2] < 30e-9) {
		t.Errorf("crossings %v", c)
	}
}

// Margins by hand: capacity over demand less one; the core by the share of its way from the inlet; the window by the
// nearer end.
func TestMarginsByValue(t *testing.T) {
	l := match.Limits{Safety: 1.25, Core: true, Window: true, MountMax: 60, MinFlow: 0.5e-9, MaxFlow: 60e-9}
	m, c := setup(flat(50), l)
	c.HotEnd.Block = thermal.Block{Power: 40, Ambient: 300, Loss: 0.05}
	c.Material.Window = [2]float64{460, 510}
	d := find(t, m, 500).Solution
	ms, err := m.At(500, 10e-9, &d, nil) // load 30 N, 20 W into the melt, centre at 460 K
	if err != nil {
		t.Fatal(err)
	}
	want := map[match.Limit]float64{
		match.Grip:   50/(30*1.25) - 1,
		match.Mount:  60/(30*1.25) - 1,
		match.Heater: 40/(20+0.05*200) - 1,
		match.Core:   (460 - 413.15) / (413.15 - 298),
		match.Window: 10.0 / 50,
	}
	if len(ms) != len(want) {
		t.Errorf("%d margins, want %d: %v", len(ms), len(want), ms)
	}
	for _, x := range ms {
		if w, ok := want[x.Limit]; !ok || math.Abs(x.Value-w) > 1e-9 {
			t.Errorf("%s: %.6f, want %.6f", x.Limit, x.Value, w)
		}
	}
	weak := *m.Feeder
	weak.Factor = 0.8
	m.Feeder = &weak
	ms, err = m.At(500, 10e-9, &d, nil)
	if err != nil || math.Abs(ms[0].Value-(0.8*50/37.5-1)) > 1e-9 {
		t.Errorf("with 0.8 of the force the margin is %.6f (%v)", ms[0].Value, err)
	}
}

// Each cause of failure is one limit of the feeder, and a cause that is not known is one of its own.
func TestOneLimitForEachCause(t *testing.T) {
	for cause, want := range map[feeder.Cause]match.Limit{feeder.Grind: match.Grip, feeder.Skip: match.Stall,
		feeder.Buckle: match.Column, feeder.Mixed: match.Force} {
		m, _ := setup([]feeder.Point{{Speed: 1e-4, Force: 50, Cause: cause}, {Speed: 1, Force: 50, Cause: cause}}, wide)
		r := find(t, m, 500)
		of := 0
		for _, b := range r.Bounds {
			if b.Limit.Feeder() {
				of++
			}
		}
		if r.Binding != want || of != 1 || r.Pushed().Limit != want {
			t.Errorf("%s: limited by %q, %d bounds of the feeder, want one, %q", cause, r.Binding, of, want)
		}
	}
}

// A limit that is only told is no obstacle: with the core left out nothing comes after the feeder.
func TestWhatIsOnlyToldIsNoObstacle(t *testing.T) {
	for _, counts := range []bool{true, false} {
		l := wide
		l.Core = counts
		m, _ := setup(flat(60), l) // the feeder gives way at 19 mm3/s, the core at 21.7
		r := find(t, m, 500)
		if n, ok := r.Next(); ok != counts || counts && n.Limit != match.Core {
			t.Errorf("core counts: %v; after %s comes %q, %v", counts, r.Binding, n.Limit, ok)
		}
	}
}

// rodded is a solver that leaves a rod of a length (m) that grows with flow, in a barrel of 20 mm.
type rodded struct {
	straight
	perFlow float64 // m per m3/s
	solid   bool
}

func (s rodded) Clone() flow.Solver { return s }
func (s rodded) Solve(block, q float64, r *flow.Solution) error {
	if err := s.straight.Solve(block, q, r); err != nil {
		return err
	}
	rod := s.perFlow * q
	r.Stretches = flow.Stretches{Rod: rod, Wetted: (20e-3 - rod) / 4, Held: (20e-3 - rod) * 3 / 4, Softening: 350,
		Solid: s.solid}
	r.EntryBulk = 330
	return nil
}

// The margin of solid stock by hand: the barrel over the rod in it; once the rod stands in the cone, how far its bulk
// has come from the inlet to where it softens.
func TestSolidStockByHand(t *testing.T) {
	m, c := setup(flat(500), wide)
	for _, x := range []struct {
		solid bool
		want  float64
	}{{false, 20.0/12 - 1}, {true, (330-c.Filament.Inlet)/(350-c.Filament.Inlet) - 1}} {
		m.Solver = rodded{straight{c, 10, 2e9}, 1.2e6, x.solid}
		var d flow.Solution
		ms, err := m.At(500, 10e-9, &d, nil)
		if err != nil {
			t.Fatal(err)
		}
		found := false
		for _, y := range ms {
			if y.Limit == match.Solid {
				found = true
				if math.Abs(y.Value-x.want) > 1e-9 {
					t.Errorf("solid %v: margin %.6f, by hand %.6f", x.solid, y.Value, x.want)
				}
			}
		}
		if !found {
			t.Errorf("solid %v: no such margin in %v", x.solid, ms)
		}
	}
}

// Where load and capability run nearly alike the usable flow hangs on a few per cent of push, and that is said: load
// over capability grows there by a power of flow that is set, of which 5 per cent of push are 5 over it of flow.
func TestUsableFlowOfAFlatLoadIsWarnedOf(t *testing.T) {
	const a, meet = 2.405281875e-6, 14e-9 // m2, of 1.75 mm; m3/s
	for power, want := range map[float64]string{0.8: "", 0.3: "", 0.2: "25 % of flow", 0.1: "50 % of flow"} {
		var pts []feeder.Point
		for q := 1e-9; q < 60e-9; q *= 1.1 {
			pts = append(pts, feeder.Point{Speed: q / a, Force: 1.25 * (10 + 2e9*q) * math.Pow(meet/q, power),
				Cause: feeder.Skip})
		}
		m, _ := setup(pts, wide)
		r := find(t, m, 500)
		if math.Abs(r.Flow/meet-1) > 0.01 {
			t.Errorf("power %g: usable %.2f mm3/s", power, r.Flow*1e9)
		}
		said := ""
		for _, w := range r.Warnings {
			if w.Code == "flat-load" {
				said = w.Message
			}
		}
		if (said == "") != (want == "") || !strings.Contains(said, want) {
			t.Errorf("power %g: %q, want %q", power, said, want)
		}
	}
}
