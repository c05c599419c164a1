package study

import (
	"math"
	"testing"

	"meltload/flow"
	"meltload/flow/assess"
	"meltload/flow/casefile"
	"meltload/flow/march"
	"meltload/flow/setup"
)

// The curve through the flows that the search looked at is the load: at its points exactly, and on the straight lines
// between them within 1 % of the load there. What a glance says besides is what a run says.
func TestCurveHere(t *testing.T) {
	c := casefile.Invented()
	for _, block := range []float64{c.Block - 15, c.Block, c.Block + 15} {
		c := *c
		c.Block = block
		r, err := Glance(&c.Setup, Options{Here: true})
		if err != nil {
			t.Fatal(err)
		}
		s, err := NewSolver("marching", &c.Case)
		if err != nil {
			t.Fatal(err)
		}
		var d flow.Solution
		push := func(q float64) float64 {
			if err := s.Solve(block, q, &d); err != nil {
				t.Fatal(err)
			}
			return d.Push
		}
		curve := r.Load[0].Points
		if len(r.Load) != 1 || len(curve) < 10 || curve[len(curve)-1].Flow < r.Verdict.Flow {
			t.Fatalf("%d curves, %d points to %g", len(r.Load), len(curve), curve[len(curve)-1].Flow)
		}
		for i, p := range curve {
			if want := push(p.Flow); math.Abs(p.Push/want-1) > 1e-9 {
				t.Errorf("%g K, %g m3/s: %g N, solved %g", block, p.Flow, p.Push, want)
			}
			if i == 0 {
				continue
			}
			if q := (p.Flow + curve[i-1].Flow) / 2; q > 0.2*r.Verdict.Flow {
				if line, want := (p.Push+curve[i-1].Push)/2, push(q); math.Abs(line/want-1) > 0.01 {
					t.Errorf("%g K: %g N on the line at %g m3/s, solved %g", block, line, q, want)
				}
			}
		}
		// A corner found from near is the one found by a scan.
		for _, k := range assess.Corners(&c.Setup) {
			f, err := k.Matcher(mustMarch(t, k.Setup)).Find(k.Block)
			if err != nil {
				t.Fatal(err)
			}
			if got := assess.Usable(k.Setup, mustMarch(t, &c.Setup), r.Verdict.Flow); math.Abs(got/f.Flow-1) > 2e-3 {
				t.Errorf("%g K, %s: %g m3/s from near, %g by a scan", block, k.What, got, f.Flow)
			}
		}
	}
}

func mustMarch(t *testing.T, s *setup.Setup) *march.Solver {
	t.Helper()
	m, err := NewSolver("marching", &s.Case)
	if err != nil {
		t.Fatal(err)
	}
	return m.(*march.Solver)
}
