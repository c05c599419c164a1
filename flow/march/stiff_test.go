package march_test

import (
	"math"
	"testing"

	"meltload/flow"
	"meltload/flow/flowtest"
	"meltload/flow/march"
)

// Full finite-element solutions of a stiff cold core: testdata/stiff/README.md.
func TestStiffFiniteElementTable(t *testing.T) {
	var d flow.Solution
	type key struct{ inlet, law, h, bound string }
	worst, count := map[key]float64{}, map[key]int{}
	for _, row := range flowtest.Table("stiff", "fem_stiff.csv") {
		c, T, q, slip := flowtest.Stiff(row)
		if err := march.New(c, march.Options{Slip: slip, SlipH: flowtest.StiffSlipH}).Solve(T, q, &d); err != nil {
			t.Fatal(err)
		}
		e := d.Pressure/row.F("dp_total_Pa") - 1
		k := key{row["inlet"], row["law"], row["h_W_per_m2K"], row["bound_Pa_s"]}
		count[k]++
		if math.Abs(e) > math.Abs(worst[k]) {
			worst[k] = e
		}
		// The shell of the law yield at 75 to 110 degC is stronger than the core, and a cap alone bounds no stress:
		// beyond 1e10 Pa s on a wall that sticks the march, which leaves the tension of the core out of its momentum
		// balance, drifts away. No material of the library is like that.
		limit := 0.10
		switch {
		case row["law"] == "yield140":
			limit = 0.06
		case row.F("bound_Pa_s") > 2e10 && row["inlet"] == "stick":
			limit = 0.30
		}
		if math.Abs(e) > limit {
			t.Errorf("%s %s h %s: drop off by %+.1f %%, allowed %.0f %%", row["case"], row["inlet"], row["h_W_per_m2K"],
				100*e, 100*limit)
		}
	}
	for k, e := range worst {
		t.Logf("%v: worst %+.1f %% of %d", k, 100*e, count[k])
	}
}
