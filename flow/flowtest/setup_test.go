package flowtest_test

import (
	"math"

	"meltload/flow"
	"meltload/flow/feeder"
	"meltload/flow/flowtest"
	"meltload/flow/setup"
	"meltload/materials/unit"
)

// setupOf joins a case with a feeder that holds anything and the defaults of a case file: what is not known has its default band.
func setupOf(c *flow.Case, block float64) *setup.Setup {
	f, err := feeder.New(feeder.Feeder{Name: "any force", Points: []feeder.Point{{Speed: 1e-3, Force: 1e4}}})
	if err != nil {
		panic(err)
	}
	s, err := setup.New(setup.Setup{Case: *c, Block: block, Feeder: f, Contact: flow.DefaultWettedH, Temps: [2]float64{block - 20, block + 20}})
	if err != nil {
		panic(err)
	}
	return s
}

// defaults gives a case the defaults of a case file for what is not known about the stock in the barrel (see package casefile, to which a test holds
// them), with its path drag.
func defaults(c *flow.Case) *flow.Case {
	c.Stock = flow.Stock{Eccentricity: flow.DefaultEccentricity}
	c.HotEnd.TipDrop, c.HotEnd.HeatedShare, c.Path.Drag = flow.DefaultTipDrop, 0.75, 2
	return c
}

// absSetup is the published push-force set (see ABSForce) as the program takes it blind: the dimensions and the material of the set, everything else at the
// defaults of a case file. The source labels the cone 37 deg to the axis: the included angle is 74.
func absSetup() *setup.Setup {
	c := defaults(flowtest.ABSForce(flow.DefaultWettedH, 3))
	hot := c.HotEnd
	c.HotEnd = flowtest.Nozzle(2e-3, 13.4e-3, 74, 0.4e-3, 0.5e-3, flow.DefaultWettedH)
	c.HotEnd.TipDrop, c.HotEnd.HeatedShare = hot.TipDrop, hot.HeatedShare
	return setupOf(c, flowtest.ABSForceBlock)
}

// absWallDoubt is the doubt that the set itself leaves about its wall, which was inferred: 215 to 250 degC.
var absWallDoubt = [2]float64{unit.Kelvin(215), unit.Kelvin(250)}

// limitSetup is the hot end of a row of testdata/stock/flow_limits.csv: PLA, 0.4 mm nozzle, bore 2.0 mm, cone 60 deg, land of two bores (assumed there), with
// a feeder of the kind sold with such hot ends: its force is not stated.
func limitSetup(c *flow.Case, block, force, spread float64) *setup.Setup {
	s := setupOf(c, block)
	f, err := feeder.New(feeder.Feeder{Points: []feeder.Point{{Speed: 1e-3, Force: force}}})
	if err != nil {
		panic(err)
	}
	s.Feeder = f
	s.Doubts = map[string]setup.Doubt{"force": {Kind: setup.PlusMinus, High: spread}}
	s.Limits.Safety = 1
	s.Limits.MaxFlow = 60e-9
	return s
}

// measured lists flow (m3/s) and force (N) of the published ABS set.
func measured() [][2]float64 {
	var out [][2]float64
	for _, r := range flowtest.Table("force", "serdeczny2020_abs_force_via_ufodike2022_digitised.csv") {
		out = append(out, [2]float64{r.F("volumetric_flow_mm3_s_for_1.75mm") * unit.MM3, r.F("measured_feeding_force_N")})
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
