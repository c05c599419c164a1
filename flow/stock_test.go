package flow_test

import (
	"math"
	"testing"

	"meltload/flow"
	"meltload/materials"
)

// Conduction between eccentric cylinders and radiation for 1.75 mm in a bore of 2.0 mm at a film of 430 K: 326, 354 and
// 720 W/(m2 K) at eccentricities 0, 0.4 and 0.9 (textbook shape factor, k_air of the textbook's table, worked by hand
// for this project).
func TestGapConduction(t *testing.T) {
	for _, x := range [][2]float64{{0, 326}, {0.4, 354}, {0.9, 720}} {
		if h := flow.GapH(1.75e-3, 2e-3, x[0], 430); !(math.Abs(h/x[1]-1) <= 0.015) {
			t.Errorf("eccentricity %g: %.1f W/(m2 K), textbook %g", x[0], h, x[1])
		}
	}
	// A wide concentric gap: k/(r ln(R/r)) and radiation, with the closed form of concentric cylinders.
	h := flow.GapH(1e-3, 4e-3, 0, 300)
	if want := 0.0263/(0.5e-3*math.Log(4)) + 4*0.9*5.670374419e-8*2.7e7; !(math.Abs(h/want-1) <= 1e-6) {
		t.Errorf("concentric %.4f, closed form %.4f", h, want)
	}
}

// Drag of melt that circulates in the gap: 2/3 for a Newtonian melt (the plane solution u = V (3 y^2 - 2 y) in y =
// distance over gap has the stress 4 eta V/g on the rod and 6 eta V/g^2 of gradient), 0.61 at n = 0.25.
func TestGapDrag(t *testing.T) {
	for _, x := range [][2]float64{{1, 2.0 / 3}, {0.25, 0.61}} {
		if c := flow.GapDrag(x[0]); !(math.Abs(c-x[1]) <= 0.003) {
			t.Errorf("n = %g: %.4f, want %.4f", x[0], c, x[1])
		}
	}
	c := plain(t)
	if a := c.PushArea(2e-3) / c.Area(); !(math.Abs(a-1.175) <= 0.02) {
		t.Errorf("push area %.3f of the filament's, want about 1.17 to 1.19", a)
	}
}

func TestEntranceLoss(t *testing.T) {
	e := materials.Entrance{K: 1e6, Exponent: 1.8}
	for _, x := range [][2]float64{{1e5, 1e6}, {2e5, 1e6 * math.Pow(2, 1.8)}, {2.5e5, 1e6 * math.Pow(2.5, 1.8)},
		{5e5, 1e6 * math.Pow(2.5, 1.8) * 2.8}} {
		if got := e.At(x[0]); !(math.Abs(got/x[1]-1) <= 1e-12) {
			t.Errorf("at %g Pa: %g Pa, want %g", x[0], got, x[1])
		}
	}
	// Continuous in value and slope where the law goes over into a line.
	const s = materials.EntranceLimit
	if a, b := (e.At(s)-e.At(s-10))/10, (e.At(s+10)-e.At(s))/10; !(math.Abs(a/b-1) <= 1e-4) {
		t.Errorf("slopes %g and %g at the limit", a, b)
	}
	// Cone of half angle 30 and 90 deg: (0.508 + 0.15)/(0.508 + 0.45) and 1.
	if k := flow.EntranceCone(math.Pi / 6); !(math.Abs(k-0.6868) <= 5e-4) {
		t.Errorf("cone factor %.4f", k)
	}
	if k := flow.EntranceCone(math.Pi / 2); !(math.Abs(k-1) <= 1e-12) {
		t.Errorf("flat entrance %.4f", k)
	}
	c := plain(t)
	c.Complete()
	c.Material.Entrance = e
	if loss, over := c.EntranceLoss(1, 1e5, 2e5); !(math.Abs(loss/(0.6868e6-2e5)-1) <= 1e-3) || over {
		t.Errorf("loss %g, beyond %v", loss, over)
	}
	if loss, over := c.EntranceLoss(1, 3e5, 1e9); loss != 0 || !over {
		t.Errorf("all viscous: %g, beyond %v", loss, over)
	}
	c.EntranceFactor = 2
	if loss, _ := c.EntranceLoss(1, 1e5, 0); !(math.Abs(loss/1.3736e6-1) <= 1e-3) {
		t.Errorf("doubled: %g", loss)
	}
}

// Strength: the record's table, then to zero at the flow point; Softens is its inverse up to the highest temperature at
// which a rod counts as one.
func TestStrengthAndSoftening(t *testing.T) {
	for _, id := range materials.Names() {
		m, _ := materials.Get(id)
		last := math.Inf(1)
		for T := 280.0; T < m.FlowPoint()+5; T++ {
			y := m.Strength(T)
			if y > last+1e-6 || y < 0 {
				t.Errorf("%s: strength %g at %g K after %g", id, y, T, last)
			}
			last = y
		}
		if m.Strength(m.FlowPoint()) != 0 {
			t.Errorf("%s: strength at the flow point", id)
		}
		for _, y := range []float64{3e6, 10e6} {
			T := m.Softens(y)
			if a, b := m.Compressive.At(T-0.01), m.Compressive.At(T+0.01); T > 300 &&
				(a < y*(1-1e-3) || T < m.Softens(0)-1e-6 && b > y*(1+1e-3)) {
				t.Errorf("%s: softens at %.2f K under %g Pa, where its strength goes from %g to %g", id, T, y, a, b)
			}
		}
	}
	m, _ := materials.Get("pla")
	if T := m.Softens(0); !(math.Abs(T-(m.Glass+10)) <= 1e-9) {
		t.Errorf("pla softens without load at %g K", T)
	}
}
