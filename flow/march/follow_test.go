package march_test

import (
	"math"
	"testing"

	"meltload/flow"
	"meltload/flow/flowtest"
	"meltload/flow/march"
	"meltload/materials"
)

// A search that begins where the last ones ended finds what one with its own look ahead does, within its tolerance, up
// and down a curve of flows, in jumps, and from a start that is far off.
func TestFollowedSolutionsAreTheSame(t *testing.T) {
	flows := []float64{3, 3.3, 3.6, 4, 4.5, 6, 8, 7.5, 7, 2, 20, 19, 5, 5.1, 5.2}
	for _, id := range []string{"abs", "pla", "pp", "hdpe", "pa66", "pc"} {
		m, err := materials.Get(id)
		if err != nil {
			t.Fatal(err)
		}
		c := flowtest.Free(m, flowtest.Nozzle(2e-3, 20e-3, 60, 0.4e-3, 1e-3, flow.DefaultWettedH))
		block := (m.Window[0] + m.Window[1]) / 2
		own, follows := march.New(c, march.Options{}), march.New(c, march.Options{})
		follows.Follow(nil)
		var a, b flow.Solution
		for _, q := range flows {
			if err := own.Solve(block, q*1e-9, &a); err != nil {
				t.Fatal(err)
			}
			if err := follows.Solve(block, q*1e-9, &b); err != nil {
				t.Fatal(err)
			}
			// A kelvin of softening temperature is worth a per cent or so of force.
			if e := b.Force/a.Force - 1; math.Abs(e) > 3e-3 || b.Stats.RanOut != a.Stats.RanOut {
				t.Errorf("%s, %g mm3/s: %.4f N, with a look ahead %.4f N (%+.2f %%) %s", id, q, b.Force, a.Force, 100*e,
					b.Stats.RanOut)
			}
		}
		near := a
		near.Stretches.Softening, near.Pressure = m.Softens(0), 10*a.Pressure
		follows.Follow(&near)
		if err := follows.Solve(block, 8e-9, &b); err != nil {
			t.Fatal(err)
		}
		if err := own.Solve(block, 8e-9, &a); err != nil {
			t.Fatal(err)
		}
		if e := b.Force/a.Force - 1; math.Abs(e) > 3e-3 {
			t.Errorf("%s from far off: %.4f N, with a look ahead %.4f N (%+.2f %%)", id, b.Force, a.Force, 100*e)
		}
	}
}
