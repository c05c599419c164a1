package benchplan

import (
	"math"
	"testing"

	"meltload/flow"
	"meltload/flow/flowtest"
	"meltload/materials"
)

// A soak by hand: 1.5 mm of a stuff of 1e-7 m2/s, the widest of the path, and ln(100)/5.783 of R^2/alpha.
func TestSoakByHand(t *testing.T) {
	m := flowtest.Uniform("slow", materials.Viscosity{
		FlowCurve: materials.FlowCurve{Kind: materials.PowerLaw, N: 1, Tau: 100},
		Shift:     materials.Shift{Kind: materials.Exponential, Eta0: 100, Tref: 500}, Cap: 1e30}, 1200, 2000, 0.24, 0)
	c := flowtest.Case(m, flow.HotEnd{Sections: []flow.Section{{Shape: flow.Tube, D1: 2e-3, D2: 2e-3},
		{Shape: flow.Tube, D1: 3e-3, D2: 3e-3}, {Shape: flow.Tube, D1: 0.4e-3, D2: 0.4e-3}}}, 298)
	if got, want := soak(c, 500), 4.60517/5.783*2.25e-6/1e-7; !(math.Abs(got/want-1) <= 1e-5) {
		t.Errorf("a soak of %.3f s, by hand %.3f s", got, want)
	}
}
