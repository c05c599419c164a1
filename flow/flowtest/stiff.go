package flowtest

import (
	"math"

	"meltload/flow"
	"meltload/materials"
	"meltload/materials/unit"
)

// StiffFluid returns the fluid of testdata/stiff/fem_stiff.csv: that of the heated table with another bound and, by the
// column law, a strength that limits its stress up to 75 degC (yield) or the flow point (yield140); cap has none.
func StiffFluid(law string, bound float64) *materials.Material {
	m := HeatedFluid()
	m.Viscosity.Cap = bound
	k := unit.Kelvin
	switch law {
	case "yield":
		m.Compressive = materials.NewCurve([][2]float64{{k(25), 70e6}, {k(60), 2e6}, {k(74), 2e6}, {k(76), 1e15},
			{k(139), 1e15}})
	case "yield140":
		m.Compressive = materials.NewCurve([][2]float64{{k(25), 70e6}, {k(60), 2e6}, {k(139), 2e6}})
	}
	return m
}

// StiffSlip is the length (m) over which stock of full bore slides in the rows of fem_stiff.csv with the inlet `slip`,
// and StiffSlipH its heat-transfer coefficient, W/(m2 K).
const (
	StiffSlip  = 4e-3
	StiffSlipH = 330
)

// Stiff returns the case, block temperature, flow and sliding length (m) of a row of fem_stiff.csv.
func Stiff(r Row) (c *flow.Case, block, q, slip float64) {
	h := math.Inf(1)
	if r["inlet"] == "slip" {
		slip = StiffSlip
	} else {
		h = r.F("h_W_per_m2K")
	}
	hot := Nozzle(2e-3, r.F("L_heated_m"), 60, r.F("d_bore_m"), 1e-3, h)
	return Case(StiffFluid(r["law"], r.F("bound_Pa_s")), hot, unit.Kelvin(25)), unit.Kelvin(r.F("T_wall_C")),
		r.F("Q_m3_per_s"), slip
}
