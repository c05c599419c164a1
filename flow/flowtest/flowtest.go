// Package flowtest holds reference problems shared by the tests of the
// solvers: the fluids and geometries of the finite-element tables and of published
// measurements. Only tests and the accuracy tables import it.
package flowtest

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"strconv"

	"meltload/flow"
	"meltload/materials"
	"meltload/materials/checks"
	"meltload/materials/unit"
)

// Uniform returns a material with constant density, heat capacity and
// conductivity around a viscosity law: the fluids of the tables are like that.
func Uniform(name string, v materials.Viscosity, rho, cp, k, flowPoint float64) *materials.Material {
	if v.Trouton == 0 {
		v.Trouton = 3
	}
	return &materials.Material{
		ID: name, Name: name, Viscosity: v,
		Density:      materials.Density{Solid: rho, Melt: rho, MeltT: 500, Glass: 300, Uniform: true},
		Heat:         materials.NewHeat(materials.Constant(cp), 0, 0, 0),
		Conductivity: materials.Constant(k),
		FirstFlow:    flowPoint, Decomposition: 1000, Window: [2]float64{250, 800},
	}
}

// HeatedFluid is the fluid of testdata/fem_heated.csv: test constants, not a measurement of any material.
func HeatedFluid() *materials.Material {
	return Uniform("heated", materials.Viscosity{
		FlowCurve: materials.FlowCurve{Kind: materials.Cross, N: 0.25, Tau: 1e5},
		Shift:     materials.Shift{Kind: materials.WLF, Eta0: 3.3e9, Tref: 373.15, A1: 20.2, A2: 51.6},
		Cap:       1e7,
	}, 1200, 2000, 0.18, unit.Kelvin(140))
}

// IsothermalFluid returns a fluid of testdata/fem_isothermal.csv by its name.
func IsothermalFluid(name string) *materials.Material {
	flat := materials.Shift{Kind: materials.Exponential, Tref: 500}
	v := materials.Viscosity{Shift: flat, Cap: 1e30}
	switch name {
	case "newton500":
		v.FlowCurve = materials.FlowCurve{Kind: materials.PowerLaw, N: 1, Tau: 500}
		v.Shift.Eta0 = 500
	case "pl_10000_035":
		v.FlowCurve = materials.FlowCurve{Kind: materials.PowerLaw, N: 0.35, Tau: 1e4}
		v.Shift.Eta0 = 1e4
	case "cross_2000":
		v.FlowCurve = materials.FlowCurve{Kind: materials.Cross, N: 0.25, Tau: 1e5}
		v.Shift.Eta0 = 2000
	default:
		panic("flowtest: no fluid " + name)
	}
	return Uniform(name, v, 1200, 2000, 0.18, 0)
}

// Nozzle returns the geometry of both tables: heated barrel, cone, bore (m; the
// included angle in degrees, 180 a flat step), one heat-transfer coefficient throughout.
func Nozzle(barrel, lBarrel, angle, bore, lBore, h float64) flow.HotEnd {
	half := angle / 2 * math.Pi / 180
	length := 0.0
	if angle < 180 {
		length = (barrel - bore) / 2 / math.Tan(half)
	}
	return flow.HotEnd{Name: "reference nozzle", Sections: []flow.Section{
		{Name: "barrel", Shape: flow.Tube, D1: barrel, D2: barrel, Length: lBarrel, Channels: 1, H: h},
		{Name: "cone", Shape: flow.Cone, D1: barrel, D2: bore, Length: length, Half: half, Channels: 1, H: h},
		{Name: "bore", Shape: flow.Tube, D1: bore, D2: bore, Length: lBore, Channels: 1, H: h},
	}}
}

// Case puts a material and a hot end together with 1.75 mm filament at an inlet temperature (K).
func Case(m *materials.Material, h flow.HotEnd, inlet float64) *flow.Case {
	return &flow.Case{Material: m, Filament: flow.Filament{Diameter: 1.75e-3, Inlet: inlet}, HotEnd: h,
		Stock: flow.Stock{Stick: true}}
}

// Row is one line of a table by column name.
type Row map[string]string

// F returns a number of the row; "inf" is infinite.
func (r Row) F(col string) float64 {
	x, err := strconv.ParseFloat(r[col], 64)
	if err != nil {
		panic(fmt.Sprintf("flowtest: column %s: %v", col, err))
	}
	return x
}

// Table reads a CSV file below testdata.
func Table(elem ...string) []Row {
	f, err := os.Open(checks.Root(append([]string{"testdata"}, elem...)...))
	if err != nil {
		panic(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		panic(err)
	}
	var rows []Row
	for _, l := range all[1:] {
		r := Row{}
		for i, c := range all[0] {
			r[c] = l[i]
		}
		rows = append(rows, r)
	}
	return rows
}

// Heated returns the case, block temperature and flow of a row of fem_heated.csv.
func Heated(r Row) (c *flow.Case, block, q float64) {
	h := Nozzle(2e-3, r.F("L_heated_m"), 60, 0.4e-3, 1e-3, r.F("h_W_per_m2K"))
	return Case(HeatedFluid(), h, unit.Kelvin(25)), unit.Kelvin(r.F("T_wall_C")), r.F("Q_m3_per_s")
}

// Isothermal returns the case and flow of a row of fem_isothermal.csv; the temperature is 500 K throughout.
func Isothermal(r Row) (c *flow.Case, block, q float64) {
	h := Nozzle(r.F("d_barrel_m"), r.F("L_barrel_m"), r.F("angle_deg"), r.F("d_bore_m"), r.F("L_bore_m"), math.Inf(1))
	return Case(IsothermalFluid(r["fluid"]), h, 500), 500, r.F("Q_m3_per_s")
}
