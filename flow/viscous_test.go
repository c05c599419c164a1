package flow_test

import (
	"math"
	"testing"

	"meltload/flow"
	"meltload/flow/flowtest"
	"meltload/materials"
)

// Nahme and Brinkman numbers by hand: b tau g R^2/k and tau g R^2/(k dT), on the narrow end of a cone, on half of a
// gap, and the larger of two sections; the step from wall to melt counts as 1 K at least.
func TestViscousNumbersByHand(t *testing.T) {
	const b, k, tau, rate = 0.02, 0.2, 5e4, 2000.0
	m := flowtest.Uniform("b", materials.Viscosity{
		FlowCurve: materials.FlowCurve{Kind: materials.PowerLaw, N: 1, Tau: 100},
		Shift:     materials.Shift{Kind: materials.Exponential, Eta0: 100, Tref: 500, B: b}, Cap: 1e30}, 1200, 2000, k,
		0)
	cone := flow.Section{Shape: flow.Cone, D1: 2e-3, D2: 0.5e-3}
	slit := flow.Section{Shape: flow.Slit, Width: 8e-3, Gap: 0.6e-3}
	at := func(wall, bulk, share float64) flow.SectionSolution {
		return flow.SectionSolution{Wall: wall, Bulk: bulk, WallStress: tau * share, WallRate: rate}
	}
	heat := func(r float64) float64 { return tau * rate * r * r / k }
	for _, x := range []struct {
		what string
		s    []flow.Section
		d    []flow.SectionSolution
		na   float64
		br   float64
	}{
		{"cone", []flow.Section{cone}, []flow.SectionSolution{at(480, 470, 1)}, b * heat(0.25e-3), heat(0.25e-3) / 10},
		{"slit", []flow.Section{slit}, []flow.SectionSolution{at(480, 460, 1)}, b * heat(0.3e-3), heat(0.3e-3) / 20},
		{"even", []flow.Section{slit}, []flow.SectionSolution{at(480, 480.2, 1)}, b * heat(0.3e-3), heat(0.3e-3)},
		{"cool", []flow.Section{slit}, []flow.SectionSolution{at(480, 481.5, 1)}, b * heat(0.3e-3), heat(0.3e-3) / 1.5},
		{"both", []flow.Section{cone, slit}, []flow.SectionSolution{at(480, 470, 3), at(480, 460, 1)},
			3 * b * heat(0.25e-3), 3 * heat(0.25e-3) / 10},
	} {
		c := &flow.Case{Material: m, HotEnd: flow.HotEnd{Sections: x.s}}
		na, br := c.ViscousNumbers(&flow.Solution{Sections: x.d})
		if !(math.Abs(na/x.na-1) <= 1e-9) || !(math.Abs(br/x.br-1) <= 1e-9) {
			t.Errorf("%s: Nahme %.5g, Brinkman %.5g; by hand %.5g and %.5g", x.what, na, br, x.na, x.br)
		}
	}
}
