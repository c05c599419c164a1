package march_test

import (
	"math"
	"testing"

	"meltload/flow"
	"meltload/flow/flowtest"
	"meltload/flow/march"
)

// A long series of time steps ends in the steady solution, from a hot start.
func TestUnsteadyEndsInSteady(t *testing.T) {
	for _, i := range []int{1, 4, 9, 13, 20} {
		c, T, q := flowtest.Heated(flowtest.Table("fem_heated.csv")[i])
		s := march.New(c, march.Options{})
		var steady, d flow.Solution
		if err := s.Solve(T, q, &steady); err != nil {
			t.Fatal(err)
		}
		s.Soak(T)
		worst := 0.0
		for range 800 {
			if err := s.Advance(T, q, steady.Residence/8, &d); err != nil {
				t.Fatal(err)
			}
			worst = max(worst, d.Stats.HeatBalance)
		}
		if e := d.Pressure/steady.Pressure - 1; math.Abs(e) > 0.005 {
			t.Errorf("row %d: unsteady limit off by %+.2f %%", i, 100*e)
		}
		if e := d.ExitBulk - steady.ExitBulk; math.Abs(e) > 0.2 {
			t.Errorf("row %d: exit off by %+.2f K", i, e)
		}
		if worst > 1e-6 {
			t.Errorf("row %d: heat balance with storage closes to %.1e", i, worst)
		}
		if math.Abs(d.Stored) > 0.01*d.WallHeat {
			t.Errorf("row %d: still storing %.3g W", i, d.Stored)
		}
	}
}

// From a soaked start the force holds a plateau on molten stock, then climbs once
// about one melt-zone volume has been fed (testdata/force/README.md, shape that any model must show).
func TestPlateauThenRise(t *testing.T) {
	c, T, q := flowtest.Heated(flowtest.Table("fem_heated.csv")[12])
	s := march.New(c, march.Options{})
	var steady, d flow.Solution
	s.Solve(T, q, &steady)
	s.Soak(T)
	fill := c.HotEnd.Volume() / q
	at := map[float64]float64{}
	dt := fill / 80
	for k := 1; k <= 400; k++ {
		s.Advance(T, q, dt, &d)
		for _, x := range []float64{0.1, 0.3, 1, 4} {
			if k == int(x*80) {
				at[x] = d.Force / steady.Force
			}
		}
	}
	if !(at[0.1] < 0.75 && at[0.3] < 0.85 && at[4] > 0.97 && at[0.1] < at[0.3] && at[0.3] < at[1]) {
		t.Errorf("force over steady force by melt-zone volumes fed: %v", at)
	}
	t.Log(at)
}
