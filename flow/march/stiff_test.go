package march_test

import (
	"math"
	"testing"

	"meltload/flow"
	"meltload/flow/flowtest"
	"meltload/flow/march"
	"meltload/materials/unit"
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
		s := d.Sections
		t.Logf("%-22s %-5s h %-6s  %+6.1f %%  barrel %+6.1f cone %+6.1f bore %+6.1f %% of total, exit mix %+.2f", row["case"], row["inlet"], row["h_W_per_m2K"], 100*e,
			100*(s[0].Drop-row.F("diss_barrel_over_Q_Pa"))/row.F("dp_total_Pa"), 100*(s[1].Drop-row.F("diss_cone_over_Q_Pa"))/row.F("dp_total_Pa"), 100*(s[2].Drop-row.F("diss_bore_over_Q_Pa"))/row.F("dp_total_Pa"), unit.Celsius(d.ExitBulk)-row.F("Tmix_exit_C"))
	}
	for k, e := range worst {
		t.Logf("%v: worst %+.1f %% of %d", k, 100*e, count[k])
	}
}
