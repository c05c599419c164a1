package flow_test

import (
	"math"
	"testing"

	"meltload/flow"
	"meltload/materials"
)

// Air and radiation around a rod by table values: air carries 0.0263 W/(m K) at 300 K to 0.0469 at 600 (Incropera,
// Table A.4, from memory), through 1.75 mm in 2.0 mm, concentric: k/(r ln(R/r)), and 4 eps sigma T^3.
func TestGapAgainstTheTableOfAir(t *testing.T) {
	for T, k := range map[float64]float64{300: 0.0263, 350: 0.0300, 400: 0.0338, 450: 0.0373, 500: 0.0407, 550: 0.0439,
		600: 0.0469} {
		want := k/(0.875e-3*math.Log(1/0.875)) + 4*0.9*5.670374e-8*T*T*T
		if got := flow.GapH(1.75e-3, 2e-3, 0, T); !(math.Abs(got/want-1) <= 3e-3) {
			t.Errorf("%g W/(m2 K) at %g K, want %g", got, T, want)
		}
	}
	// Off the middle by half of the gap: acosh((R^2 + r^2 - x^2)/(2 R r)).
	R, r, x := 1e-3, 0.875e-3, 0.0625e-3
	want := 0.0263/(r*math.Acosh((R*R+r*r-x*x)/(2*R*r))) + 4*0.9*5.670374e-8*27e6
	if got := flow.GapH(1.75e-3, 2e-3, 0.5, 300); !(math.Abs(got/want-1) <= 1e-6) {
		t.Errorf("%g W/(m2 K) off the middle, want %g", got, want)
	}
	// A rod that fits is heated through 2 um of air.
	want = 0.0263/(1e-3*math.Log1p(2e-6/1e-3)) + 4*0.9*5.670374e-8*27e6
	if got := flow.GapH(2e-3, 2e-3, 0, 300); !(math.Abs(got/want-1) <= 1e-6) {
		t.Errorf("%g W/(m2 K) for a rod that fits, want %g", got, want)
	}
}

// Sections by hand: planes, radii, volumes.
func TestSectionsByHand(t *testing.T) {
	ring := flow.Section{Shape: flow.Ring, D1: 4e-3, D2: 2e-3, Length: 10e-3, Channels: 1}
	if w, g, planar := ring.Planar(); !planar || !(math.Abs(w-math.Pi*3e-3) <= 1e-15) || !(math.Abs(g-1e-3) <= 1e-15) {
		t.Errorf("a ring is %g by %g m", w, g)
	}
	slit := flow.Section{Shape: flow.Slit, Width: 5e-3, Gap: 1e-3, Length: 10e-3, Channels: 2}
	if w, g, planar := slit.Planar(); !planar || w != 5e-3 || g != 1e-3 {
		t.Errorf("a slit is %g by %g m", w, g)
	}
	cone := flow.Section{Shape: flow.Cone, D1: 4e-3, D2: 2e-3, Length: 10e-3, Channels: 1}
	if _, _, planar := cone.Planar(); planar || cone.Radius(0.25) != 1.75e-3 {
		t.Errorf("a cone has the radius %g m", cone.Radius(0.25))
	}
	for _, x := range []struct {
		s    flow.Section
		want float64
	}{{ring, math.Pi / 4 * 12e-6 * 10e-3}, {slit, 2 * 5e-6 * 10e-3}, {cone, math.Pi / 3 * 7e-6 * 10e-3}} {
		if got := x.s.Volume(); !(math.Abs(got/x.want-1) <= 1e-12) {
			t.Errorf("volume %g m3, want %g m3", got, x.want)
		}
	}
}

// The factor of the grade scales the melt and leaves the cap: (phi - 1/cap)/f + 1/cap.
func TestFluidityOfAGrade(t *testing.T) {
	m := &materials.Material{Viscosity: materials.Viscosity{
		FlowCurve: materials.FlowCurve{Kind: materials.Cross, N: 0.5, Tau: 1e4},
		Shift:     materials.Shift{Kind: materials.Exponential, Eta0: 1000, Tref: 500, B: 0.01}, Cap: 2000}}
	for f, want := range map[float64]float64{0: 1.5e-3, 1: 1.5e-3, 2: 1e-3, 0.5: 2.5e-3} {
		c := flow.Case{Material: m, ViscosityFactor: f}
		if got := c.Fluidity(500, 0); !(math.Abs(got/want-1) <= 1e-12) {
			t.Errorf("factor %g: %g 1/(Pa s), want %g", f, got, want)
		}
	}
}
