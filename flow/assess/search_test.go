package assess_test

import (
	"context"
	"math"
	"testing"

	"meltload/flow"
	"meltload/flow/assess"
	"meltload/flow/march"
	"meltload/flow/match"
)

// Samples are those of a plain bisection over the whole search on the default grid, one limit after another: 0.5 % in
// the mean, 2.5 % at most.
func TestSampleIsThatOfAPlainSearch(t *testing.T) {
	s := starter()
	us := assess.Unknowns(s)
	draws := assess.Draw(us, 32, 7)
	base := march.New(&s.Case, march.Options{})
	near := assess.Sample{Pushed: 10e-9, Melted: 10e-9}
	out, err := assess.Run(context.Background(), s, us, draws, base, 10e-9, near, nil)
	if err != nil {
		t.Fatal(err)
	}
	what, mean := [3]string{"pushed", "melted", "push"}, [3]float64{}
	for i, x := range draws {
		n := assess.Apply(s, us, x)
		m := n.Matcher(march.New(&n.Case, march.Options{}))
		plain := func(is func(m match.Margin) bool) float64 {
			held := func(q float64) bool {
				var d flow.Solution
				ms, err := m.At(n.Block, q, &d, nil)
				for _, x := range ms {
					if is(x) && !(x.Value >= 0) {
						return false
					}
				}
				return err == nil
			}
			lo, hi := n.Limits.MinFlow, n.Limits.MaxFlow
			if !held(lo) {
				return 0
			}
			if held(hi) {
				return hi
			}
			for hi/lo > 1.0002 {
				if q := math.Sqrt(lo * hi); held(q) {
					lo = q
				} else {
					hi = q
				}
			}
			return lo
		}
		pushed := plain(func(m match.Margin) bool { return m.Limit.Feeder() })
		melted := plain(func(m match.Margin) bool { return m.Limit == match.Core })
		var d flow.Solution
		if err := march.New(&n.Case, march.Options{}).Solve(n.Block, 10e-9, &d); err != nil {
			t.Fatal(err)
		}
		for k, x := range [][2]float64{{out[i].Pushed, pushed}, {out[i].Melted, melted}, {out[i].Push, d.Push}} {
			e := math.Abs(x[0]/x[1] - 1)
			mean[k] += e / float64(len(draws))
			if e > 0.025 {
				t.Errorf("draw %d: %s %.4g, plain %.4g (%.2f %%)", i, what[k], x[0], x[1], 100*e)
			}
		}
	}
	t.Logf("mean errors of %v: %.2g", what, mean)
	for k, e := range mean {
		if e > 5e-3 {
			t.Errorf("%s off by %.2f %% in the mean", what[k], 100*e)
		}
	}
}
