package benchplan

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"meltload/flow"
	"meltload/flow/casefile"
	"meltload/flow/march"
	"meltload/flow/vary"
	"meltload/materials/unit"
)

func TestPlan(t *testing.T) {
	c := casefile.Invented()
	w := Wish{Low: 20, High: 40, Flows: []float64{5e-9, 20e-9}, Blocks: [2]float64{unit.Kelvin(175), unit.Kelvin(245)},
		CellMax: 20 * unit.KGF, CellStep: 0.05, Rate: 80, GearTeeth: 40}
	p, err := New(context.Background(), &c.Setup, w)
	if err != nil {
		t.Fatal(err)
	}
	// 5 % scatter to 10 % half-width at 95 %: four runs (t = 3.18 for three degrees of freedom, 3.18 x 5/2 = 7.95 %;
	// three give 12.4 %).
	if p.Repeats != 4 || len(p.Runs) != 4*2*5 {
		t.Errorf("%d repeats, %d runs", p.Repeats, len(p.Runs))
	}
	s := march.New(&c.Case, march.Options{})
	var d flow.Solution
	length, seconds := 0.0, 0.0
	for i, r := range p.Runs {
		s.Solve(r.Block, r.Flow, &d)
		if !(math.Abs(d.Push-r.Force) <= 1e-6*r.Force) {
			t.Errorf("run %d: predicted %.2f N, solver %.2f N", i+1, r.Force, d.Push)
		}
		if r.Block < w.Blocks[0]-1e-9 || r.Block > w.Blocks[1]+1e-9 {
			t.Errorf("run %d outside the temperatures allowed", i+1)
		}
		length += r.Filament
		seconds += r.Soak + r.Purge/r.Flow + r.Hold
		if i > 0 && i < 10 && r.Block > p.Runs[i-1].Block {
			t.Errorf("the first repeat does not go from hot to cold at run %d", i+1)
		}
	}
	if !(math.Abs(length-p.Filament) <= 1e-9) || !(math.Abs(seconds-p.Time) <= 1e-6) {
		t.Errorf("filament %g m of %g, time %g s of %g", p.Filament, length, p.Time, seconds)
	}
	// Even steps where the range is reached: within the rounding of the set point to whole degrees.
	for _, sp := range p.Spans {
		if !sp.Reaches {
			if sp.Advice == "" {
				t.Errorf("%g mm3/s does not reach, and nothing is advised", sp.Flow*1e9)
			}
			continue
		}
		for _, r := range p.Runs {
			if r.Flow == sp.Flow && !(math.Abs(r.Force-r.Want) <= 0.03*r.Want) {
				t.Errorf("%g mm3/s: %.1f N for a level of %.1f N", r.Flow*1e9, r.Force, r.Want)
			}
		}
	}
	// The levels step evenly through what is wanted, as far as the temperatures reach.
	hardest := p.Runs[0]
	for _, sp := range p.Spans {
		var wants []float64
		for _, r := range p.Runs {
			if r.Flow == sp.Flow && r.Repeat == 1 {
				wants = append(wants, r.Want)
			}
			if r.Force > hardest.Force {
				hardest = r
			}
		}
		slices.Sort(wants)
		low, high := math.Max(20, sp.Least), math.Min(40, sp.Most)
		for k, got := range wants {
			if want := low + float64(k)*(high-low)/4; !(math.Abs(got-want) <= 1e-9) {
				t.Errorf("%g mm3/s, level %d: %g N, want %g N", sp.Flow*1e9, k+1, got, want)
			}
		}
		if sp.Reaches != (sp.Least <= 20 && sp.Most >= 40) {
			t.Errorf("%+v", sp)
		}
	}
	// The trace is that of the run with the highest force: purge and hold.
	if want := fmt.Sprintf("%.3g mm3/s at %.0f degC", hardest.Flow*1e9, hardest.Block-273.15); !strings.HasSuffix(
		p.TraceText, want) {
		t.Errorf("%s; the hardest run is %s", p.TraceText, want)
	}
	end, whole := p.Trace.Samples[len(p.Trace.Samples)-1].Time, hardest.Purge/hardest.Flow+hardest.Hold
	if !(math.Abs(end-whole) <= 1e-6) {
		t.Errorf("the trace ends after %g s, want %g s", end, whole)
	}
	if p.Trace == nil || len(p.Trace.Samples) < 20 || !strings.Contains(p.Ending, "zero") {
		t.Error("no trace, or no word on how to end")
	}
	t.Log(p.Checks)
}

func TestChecksSeeAPoorRig(t *testing.T) {
	c := casefile.Invented()
	p, err := New(context.Background(), &c.Setup, Wish{Low: 20, High: 120, Levels: 3, Flows: []float64{10e-9},
		CellMax: 5 * unit.KGF, CellStep: 5, Rate: 4, Scatter: 0.2})
	if err != nil {
		t.Fatal(err)
	}
	bad := map[string]string{}
	for _, k := range p.Checks {
		if !k.OK {
			bad[k.Name] = k.Text
		}
	}
	for _, n := range []string{"load cell range", "load cell resolution", "repeats", "step ripple",
		"sampling of the peak", "range of forces"} {
		if bad[n] == "" {
			t.Errorf("%s passes: %v", n, p.Checks)
		}
	}
	if !strings.Contains(bad["range of forces"], "bore of") && !strings.Contains(bad["range of forces"], "flow") {
		t.Errorf("no advice: %s", bad["range of forces"])
	}
	if !strings.Contains(bad["step ripple"], "alias") {
		t.Errorf("no alias named: %s", bad["step ripple"])
	}
}

func TestWishesThatCannotBe(t *testing.T) {
	c := casefile.Invented()
	for _, w := range []Wish{{}, {Low: 50, High: 20}, {Low: 20, High: 50, Levels: 1}} {
		if _, err := New(context.Background(), &c.Setup, w); err == nil {
			t.Errorf("%+v accepted", w)
		}
	}
}

// Where temperature alone does not span the forces wanted, the bore that is advised does: solved with it, the load at
// that block is the force named.
func TestAdvisedBoreReachesTheForce(t *testing.T) {
	s := &casefile.Invented().Setup
	w := Wish{Low: 6, High: 100, Flows: []float64{5e-9}, Levels: 2}
	p, err := New(context.Background(), s, w)
	if err != nil {
		t.Fatal(err)
	}
	sp := p.Spans[0]
	if sp.Reaches || !(sp.Least > 6 && sp.Most < 100 && sp.Most > sp.Least) {
		t.Fatalf("%+v", sp)
	}
	advice := strings.Split(sp.Advice, "; ")
	if len(advice) != 4 {
		t.Fatalf("%q", advice)
	}
	for k, x := range []struct {
		block, force float64
		format       string
	}{{p.Wish.Blocks[0], 100, "a bore of %f mm would reach 100 N"},
		{p.Wish.Blocks[1], 6, "a bore of %f mm would go down to 6 N"}} {
		var mm float64
		if _, err := fmt.Sscanf(advice[2*k+1], x.format, &mm); err != nil {
			t.Fatalf("%q: %v", advice[2*k+1], err)
		}
		q := vary.Must(s, vary.Bore)
		n, err := q.With(s, mm*1e-3)
		if err != nil {
			t.Fatal(err)
		}
		var d flow.Solution
		if err := march.New(&n.Case, march.Options{}).Solve(x.block, 5e-9, &d); err != nil ||
			math.Abs(d.Push/x.force-1) > 0.12 {
			t.Errorf("a bore of %g mm: %g N, want %g (%v)", mm, d.Push, x.force, err)
		}
	}
	w.Low, w.High = 0.5, 3000 // less than the path drags, more than any bore of a nozzle gives
	if p, err = New(context.Background(), s, w); err != nil || !strings.Contains(p.Spans[0].Advice,
		"no bore does it at this flow: raise the flow; at the hottest") || !strings.HasSuffix(p.Spans[0].Advice,
		"no bore does it at this flow: lower the flow") {
		t.Errorf("%+v, %v", p.Spans, err)
	}
	w.Low, w.High = sp.Least*1.01, sp.Most*0.99
	if p, err = New(context.Background(), s, w); err != nil || !p.Spans[0].Reaches || p.Spans[0].Advice != "" {
		t.Errorf("%+v, %v", p.Spans, err)
	}
}
