package assess_test

import (
	"math"
	"testing"

	"meltload/flow"
	"meltload/flow/assess"
	"meltload/flow/march"
)

// A solver that shares the tables of the set-up as it stands answers a set-up with any unknown at its ends as one
// that is made for it, steady and in time.
func TestSharedTablesServeEveryUnknown(t *testing.T) {
	s := starter()
	base := march.New(&s.Case, march.Options{})
	us := assess.Unknowns(s)
	for j := range us {
		for _, p := range []float64{0.05, 0.95} {
			x := assess.Middle(us)
			x[j] = us[j].At(p)
			n := assess.Apply(s, us, x)
			var a, b flow.Solution
			shared, own := base.For(&n.Case), march.New(&n.Case, march.Options{})
			if err := shared.Solve(n.Block, 12e-9, &a); err != nil {
				t.Fatal(err)
			}
			if err := own.Solve(n.Block, 12e-9, &b); err != nil {
				t.Fatal(err)
			}
			if math.Abs(a.Push/b.Push-1) > 1e-3 {
				t.Errorf("%s at %g: %g N with shared tables, %g N with its own", us[j].ID, x[j], a.Push, b.Push)
			}
			if us[j].ID != "heated" {
				continue
			}
			own.Soak(n.Block)
			for range 60 {
				if err := own.Advance(n.Block, 12e-9, 0.5, &a); err != nil {
					t.Fatal(err)
				}
			}
			if math.Abs(a.Push/b.Push-1) > 0.03 {
				t.Errorf("heated share %g: %g N after 30 s, steady %g N", x[j], a.Push, b.Push)
			}
		}
	}
}
