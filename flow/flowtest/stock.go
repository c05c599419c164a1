package flowtest

import (
	"meltload/flow"
	"meltload/materials"
	"meltload/materials/unit"
)

// Free returns a case as the bench runs it: a rod of 1.75 mm in an air gap, with the program's defaults for what nobody
// states (eccentricity, contact of wetted stock, tip below the sensor).
func Free(m *materials.Material, h flow.HotEnd) *flow.Case {
	c := Case(m, h, unit.Kelvin(25))
	c.Stock = flow.Stock{Eccentricity: flow.DefaultEccentricity}
	c.HotEnd.TipDrop = flow.DefaultTipDrop
	return c
}

// stated is Free for a melt zone whose length is the maker's: the default share of it heats.
func stated(m *materials.Material, h flow.HotEnd) *flow.Case {
	c := Free(m, h)
	c.HotEnd.HeatedShare = flow.DefaultHeatedShare
	return c
}

// library returns a built-in material.
func library(id string) *materials.Material {
	m, err := materials.Get(id)
	if err != nil {
		panic(err)
	}
	return m
}

// Startup returns the case, block temperature and flow of a row of testdata/stock/startup_ratio.csv. Assumed: cone of
// 60 deg, land of 1.0 mm. The melt zone of both rigs was read off their traces (testdata/stock/README.md), so all of it
// heats.
func Startup(r Row) (c *flow.Case, block, q float64) {
	h := Nozzle(r.F("bore_mm")*unit.MM, r.F("melt_zone_mm")*unit.MM, 60, r.F("nozzle_mm")*unit.MM, 1e-3,
		flow.DefaultWettedH)
	return Free(library(r["material"]), h), unit.Kelvin(r.F("block_degC")), r.F("flow_mm3_s") * unit.MM3
}

// Growth returns the case, block temperature, flow and reference flow of a row of testdata/stock/flow_growth.csv.
// Assumed: bore of the barrel 2.0 mm, land 1.6 mm, cone 60 deg.
func Growth(r Row) (c *flow.Case, block, q, ref float64) {
	h := Nozzle(2e-3, r.F("melt_zone_mm")*unit.MM, 60, r.F("nozzle_mm")*unit.MM, 1.6e-3, flow.DefaultWettedH)
	return stated(library(r["material"]), h), unit.Kelvin(r.F("block_degC")), r.F("flow_mm3_s") * unit.MM3,
		r.F("reference_flow_mm3_s") * unit.MM3
}

// FlowLimit returns the case, block temperature and published limit of a row of testdata/stock/flow_limits.csv.
// Assumed: bore of the barrel 2.0 mm, cone 60 deg, land twice the bore.
func FlowLimit(r Row) (c *flow.Case, block, q float64) {
	d := r.F("nozzle_mm") * unit.MM
	h := Nozzle(2e-3, r.F("melt_zone_mm")*unit.MM, 60, d, 2*d, flow.DefaultWettedH)
	return stated(library(r["material"]), h), unit.Kelvin(r.F("block_degC")), r.F("flow_limit_mm3_s") * unit.MM3
}

// Plateau returns the force (N) that a start-up trace shows before the rise, read as the sources of a row of
// startup_ratio.csv read it: the mean from 0.35 to 0.85 s (rig B), from 2 to 4.5 s (rig O). advance takes a time step
// of the given seconds on a soaked barrel and returns the force.
func Plateau(r Row, advance func(dt float64) float64) float64 {
	const dt = 0.05
	from, to := 0.35, 0.85
	if r["rig"] == "O" {
		from, to = 2, 4.5
	}
	var sum, n float64
	for now := dt; now < to+dt/2; now += dt {
		if f := advance(dt); now > from-dt/2 {
			sum += f
			n++
		}
	}
	return sum / n
}
