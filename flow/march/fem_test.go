package march_test

import (
	"math"
	"testing"

	"meltload/flow"
	"meltload/flow/flowtest"
	"meltload/flow/march"
)

func TestExplore(t *testing.T) {
	var d flow.Drop
	for _, row := range flowtest.Table("fem_heated.csv") {
		c, T, q := flowtest.Heated(row)
		s := march.New(c, march.Options{NoElong: true, NoHeat: false})
		s.Solve(T, q, &d)
		lub := d.Pressure
		fine := march.New(c, march.Options{NoElong: true, Cells: 100, Axial: 8})
		fine.Solve(T, q, &d)
		lubf := d.Pressure
		lubmix := d.ExitMix - 273.15 - row.F("march_Tmix_exit_C")
		f2 := march.New(c, march.Options{Cells: 100, Axial: 8})
		f2.Solve(T, q, &d)
		ref := row.F("dp_total_Pa")
		ff := d.Pressure
		mixf := d.ExitMix
		s3 := march.New(c, march.Options{})
		s3.Solve(T, q, &d)
		t.Logf("%s core %6.1f | lub %+.2f%% fine lub %+.3f%% %+.2f K| full fine %+.2f%% default %+.2f%% vs fine %+.3f%% | mix %+.2f fine %+.2f| heat %.1e work %.1e mass %.1e stations %d passes %d", row["case"], row.F("Tcentre_cone_entry_C"),
			100*(lub/row.F("march_dp_total_Pa")-1), 100*(lubf/row.F("march_dp_total_Pa")-1), lubmix, 100*(ff/ref-1), 100*(d.Pressure/ref-1), 100*(d.Pressure/ff-1), d.ExitMix-273.15-row.F("Tmix_exit_C"), mixf-273.15-row.F("Tmix_exit_C"), d.Stats.HeatBalance, d.Stats.WorkBalance, d.Stats.MassBalance, d.Stats.Stations, d.Stats.Passes)
	}
	worst := map[string]float64{}
	for _, row := range flowtest.Table("fem_isothermal.csv") {
		c, T, q := flowtest.Isothermal(row)
		s := march.New(c, march.Options{})
		s.Solve(T, q, &d)
		e := 100 * (d.Pressure/row.F("dp_total_Pa") - 1)
		k := row["angle_deg"] + row["fluid"]
		if math.Abs(e) > math.Abs(worst[k]) {
			worst[k] = e
		}
	}
	t.Log(worst)
}
