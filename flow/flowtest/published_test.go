package flowtest_test

import (
	"context"
	"math"
	"testing"

	"meltload/flow"
	"meltload/flow/assess"
	"meltload/flow/calibrate"
	"meltload/flow/casefile"
	"meltload/flow/feeder"
	"meltload/flow/flowtest"
	"meltload/flow/march"
	"meltload/flow/setup"
	"meltload/flow/uq"
	"meltload/flow/vary"
	"meltload/materials/num"
	"meltload/materials/unit"
)

// setupOf joins a case with a feeder that holds anything and the defaults of a case file: what is not known has its
// default band.
func setupOf(c *flow.Case, block float64) *setup.Setup {
	f, err := feeder.New(feeder.Feeder{Name: "any force", Points: []feeder.Point{{Speed: 1e-3, Force: 1e4}}})
	if err != nil {
		panic(err)
	}
	s, err := setup.New(setup.Setup{Case: *c, Block: block, Feeder: f, Contact: flow.DefaultWettedH,
		Temps: [2]float64{block - 20, block + 20}})
	if err != nil {
		panic(err)
	}
	return s
}

// defaults gives a case the defaults of a case file for what is not known about the stock in the barrel (see package
// casefile, to which a test holds them), with its path drag.
func defaults(c *flow.Case) *flow.Case {
	c.Stock = flow.Stock{Eccentricity: flow.DefaultEccentricity}
	c.HotEnd.TipDrop, c.HotEnd.HeatedShare, c.Path.Drag = flow.DefaultTipDrop, flow.DefaultHeatedShare, 2
	return c
}

// absSetup is the published push-force set (see ABSForce) as the program takes it blind: the dimensions and the
// material of the set, everything else at the defaults of a case file. The source labels the cone 37 deg to the axis:
// the included angle is 74.
func absSetup() *setup.Setup {
	c := defaults(flowtest.ABSForce(flow.DefaultWettedH, 3))
	hot := c.HotEnd
	c.HotEnd = flowtest.Nozzle(2e-3, 13.4e-3, 74, 0.4e-3, 0.5e-3, flow.DefaultWettedH)
	c.HotEnd.TipDrop, c.HotEnd.HeatedShare = hot.TipDrop, hot.HeatedShare
	return setupOf(c, flowtest.ABSForceBlock)
}

// absWallDoubt is the doubt that the set itself leaves about its wall, which was inferred: 215 to 250 degC.
var absWallDoubt = [2]float64{unit.Kelvin(215), unit.Kelvin(250)}

// limitSetup is the hot end of a row of testdata/stock/flow_limits.csv: bore 2.0 mm, cone 60 deg, land of two bores
// (assumed there), everything else at the defaults of a case file. The force of the feeder is not stated: what the
// guided questions take for one of which nothing is known.
func limitSetup(t *testing.T, r flowtest.Row) *setup.Setup {
	c, block, _ := flowtest.FlowLimit(r)
	c.Path.Drag = 2
	s := setupOf(c, block)
	f, err := feeder.New(feeder.Feeder{Points: []feeder.Point{{Speed: 1e-3, Force: casefile.GuessedForce}}})
	if err != nil {
		t.Fatal(err)
	}
	s.Feeder, s.Limits.Safety = f, 1
	s.Doubts = map[string]setup.Doubt{string(vary.Force): {Kind: setup.PlusMinus, High: casefile.GuessedShare}}
	return s
}

// measured lists flow (m3/s) and force (N) of the published ABS set.
func measured() [][2]float64 {
	var out [][2]float64
	for _, r := range flowtest.Table("force", "serdeczny2020_abs_force_via_ufodike2022_digitised.csv") {
		out = append(out, [2]float64{r.F("volumetric_flow_mm3_s_for_1.75mm") * unit.MM3,
			r.F("measured_feeding_force_N")})
	}
	return out
}

// errorsOf are the errors of predictions: mean |relative| and rms.
func errorsOf(predicted, measured []float64) (mean, rms float64) {
	n := float64(len(measured))
	for i, m := range measured {
		mean += math.Abs(predicted[i]/m-1) / n
		rms += (predicted[i] - m) * (predicted[i] - m) / n
	}
	return mean, math.Sqrt(rms)
}

// absRanges are the 5, 50 and 95 per cent points of the push force at every measured flow of the ABS set, from samples
// of what is not known about s.
func absRanges(t *testing.T, s *setup.Setup, samples int) (ranges [][3]float64, inside int) {
	us := assess.Unknowns(s)
	draws := assess.Draw(us, samples, 1)
	base, ms := march.New(&s.Case, march.Options{}), measured()
	forces := make([][]float64, len(ms))
	for i := range forces {
		forces[i] = make([]float64, samples)
	}
	err := num.Parallel(samples, func() func(int) error {
		w := base.Clone().(*march.Solver)
		var d flow.Solution
		return func(k int) error {
			n := assess.Apply(s, us, draws[k])
			v := w.For(&n.Case)
			for i, m := range ms {
				if err := v.Solve(n.Block, m[0], &d); err != nil {
					return err
				}
				forces[i][k] = d.Push
			}
			return nil
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	for i, m := range ms {
		q := uq.Quantiles(forces[i], 0.05, 0.5, 0.95)
		ranges = append(ranges, [3]float64{q[0], q[1], q[2]})
		if q[0] <= m[1] && m[1] <= q[2] {
			inside++
		}
	}
	return ranges, inside
}

// withWallDoubt gives the ABS set its own doubt about its wall.
func withWallDoubt(s *setup.Setup) *setup.Setup {
	n := s.Clone()
	n.Doubts = map[string]setup.Doubt{string(vary.Block): {Kind: setup.Interval, Low: absWallDoubt[0],
		High: absWallDoubt[1]}}
	return n
}

// The range covers reality: of 13 published ABS forces at least 11 lie between the 5 and 95 per cent points with the
// doubt that the set leaves about its wall, 7 or more without it (the steep end lies above).
func TestRangeCoversThePublishedABSForces(t *testing.T) {
	s := absSetup()
	_, blind := absRanges(t, s, 160)
	_, own := absRanges(t, withWallDoubt(s), 160)
	t.Logf("inside 5-95 %%: %d of 13, with the set's own doubt of its wall %d of 13", blind, own)
	if own < 11 || blind < 7 {
		t.Errorf("inside: %d blind, %d with the set's own doubt of its wall; want 7 and 11 of 13", blind, own)
	}
}

// trainedABS calibrates on the first, the seventh and the last of the 13 forces and returns the errors of the other
// ten.
func trainedABS(t *testing.T, s *setup.Setup, factors ...calibrate.Factor) (r *calibrate.Result, mean, rms float64) {
	var train []calibrate.Point
	ms := measured()
	for i, m := range ms {
		if i%6 == 0 {
			train = append(train, calibrate.Point{Block: s.Block, Flow: m[0], Force: m[1]})
		}
	}
	r, err := calibrate.Fit(context.Background(), s, train, calibrate.Settings{Factors: factors})
	if err != nil {
		t.Fatal(err)
	}
	v := march.New(&r.Setup.Case, march.Options{})
	var got, want []float64
	for i, m := range ms {
		if i%6 != 0 {
			var d flow.Solution
			if err := v.Solve(r.Setup.Block, m[0], &d); err != nil {
				t.Fatal(err)
			}
			got, want = append(got, d.Push), append(want, m[1])
		}
	}
	mean, rms = errorsOf(got, want)
	return r, mean, rms
}

// Published ABS forces calibrated on 3 of 13, the other ten predicted: under 5 % mean and 1.5 N rms (published
// calculations: 9 % and 3.1 N), with the factors that the calibration picks itself.
func TestABSFromThreePoints(t *testing.T) {
	r, mean, rms := trainedABS(t, absSetup())
	for _, v := range r.Values {
		t.Logf("%s %.3g (%.3g to %.3g), told %v", v.Label, v.Edge(v.Value), v.Edge(v.Low), v.Edge(v.High), v.Known)
	}
	t.Logf("the other ten: %.1f %% mean, %.2f N rms", 100*mean, rms)
	if mean > 0.05 || rms > 1.5 {
		t.Errorf("%.1f %% mean, %.2f N rms; want 5 %% and 1.5 N", 100*mean, rms)
	}
}

// Both published flow limits of PLA lie in the band of usable flow of their hot end.
func TestPublishedFlowLimitsLieInTheBand(t *testing.T) {
	for _, r := range flowtest.Table("stock", "flow_limits.csv") {
		s := limitSetup(t, r)
		limit := r.F("flow_limit_mm3_s") * unit.MM3
		x, err := assess.Spread(context.Background(), s, assess.Options{Samples: 96, Flow: limit})
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("%s mm melt zone: %s published; usable %.1f (%.1f to %.1f), melts through %.1f (%.1f to %.1f)",
			r["melt_zone_mm"], r["flow_limit_mm3_s"],
			x.Usable.Best*1e9, x.Usable.Low*1e9, x.Usable.High*1e9, x.Melted.Best*1e9, x.Melted.Low*1e9,
			x.Melted.High*1e9)
		if limit < x.Usable.Low || limit > x.Usable.High {
			t.Errorf("%s mm melt zone: %s mm3/s published, usable %.3g to %.3g", r["melt_zone_mm"],
				r["flow_limit_mm3_s"], x.Usable.Low*1e9, x.Usable.High*1e9)
		}
	}
}
