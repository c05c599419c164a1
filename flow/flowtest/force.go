package flowtest

import (
	"math"

	"meltload/flow"
	"meltload/materials"
	"meltload/materials/unit"
)

// ABSForce is the case of the published push-force measurements of ABS through a 0.4 mm
// nozzle: M. P. Serdeczny et al., Additive Manufacturing 32 (2020) 100997, digitised (testdata/force/README.md
// says what was inferred). Viscosity and heat capacity are the reconstructed ones; density and conductivity
// come from the materials library; the heat-transfer coefficient (W/m2K) and the Trouton ratio are the caller's choice.
func ABSForce(h, trouton float64) *flow.Case {
	lib, err := materials.Get("abs")
	if err != nil {
		panic(err)
	}
	m := *lib
	m.Viscosity = materials.Viscosity{
		FlowCurve: materials.FlowCurve{Kind: materials.CarreauYasuda, N: 1 - 0.62, Tau: 618 / 0.0103, A: 0.88},
		Shift:     materials.Shift{Kind: materials.Arrhenius, Eta0: 618, Tref: 520, E: 115e3},
		Cap:       1e12, Trouton: trouton,
	}
	var cp [][2]float64
	for T := 270.0; T <= 600; T += 10 {
		cp = append(cp, [2]float64{T, 228.13 + 4.07*T - 0.0026*T*T})
	}
	m.Heat = materials.NewHeat(materials.NewCurve(cp), 0, 0, 0)
	m.Glass = 377.7
	return Case(&m, Nozzle(2e-3, 13.4e-3, 37, 0.4e-3, 0.5e-3, h), unit.Kelvin(25))
}

// ABSForceBlock is the wall temperature of that set, K.
const ABSForceBlock = 523.15

// ForceError compares forces with measurement.
type ForceError struct{ Mean, RMS, Worst float64 } // mean |relative|, N, signed relative of the largest

// CompareABSForce runs a solver made for the case over the measured flows.
func CompareABSForce(solve func(q float64) float64) (ForceError, [][3]float64) {
	var e ForceError
	var rows [][3]float64
	n := 0.0
	for _, r := range Table("force", "serdeczny2020_abs_force_via_ufodike2022_digitised.csv") {
		q, want := r.F("volumetric_flow_mm3_s_for_1.75mm")*unit.MM3, r.F("measured_feeding_force_N")
		got := solve(q)
		rel := got/want - 1
		e.Mean += math.Abs(rel)
		e.RMS += (got - want) * (got - want)
		if math.Abs(rel) > math.Abs(e.Worst) {
			e.Worst = rel
		}
		rows = append(rows, [3]float64{q, want, got})
		n++
	}
	e.Mean /= n
	e.RMS = math.Sqrt(e.RMS / n)
	return e, rows
}
