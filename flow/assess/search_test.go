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

// The flows of a sample are those of a plain bisection over the whole search, one limit after another, within 0.3 %.
func TestSampleIsThatOfAPlainSearch(t *testing.T) {
	s := starter()
	us := assess.Unknowns(s)
	draws := assess.Draw(us, 16, 7)
	base := march.New(&s.Case, march.Options{})
	near := assess.Sample{Pushed: 10e-9, Melted: 10e-9}
	out, err := assess.Run(context.Background(), s, us, draws, base, 10e-9, near, nil)
	if err != nil {
		t.Fatal(err)
	}
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
		if a := out[i]; math.Abs(a.Pushed-pushed) > 3e-3*pushed || math.Abs(a.Melted-melted) > 3e-3*melted {
			t.Errorf("draw %d: pushed %.4f, plain %.4f; melted %.4f, plain %.4f mm3/s", i, a.Pushed*1e9, pushed*1e9,
				a.Melted*1e9, melted*1e9)
		}
	}
}
