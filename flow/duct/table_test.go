package duct_test

import (
	"math"
	"testing"

	"meltload/flow/duct"
	"meltload/flow/reference"
	"meltload/materials"
)

// The table against the closed forms of a power-law melt: stress, local index, and the gradient integrated over the
// radius.
func TestTableOfAPowerLaw(t *testing.T) {
	const k, phi = 6000.0, 1.0
	for _, n := range []float64{1, 0.5, 0.25} {
		// tau = K g^n is the reduced law y = phi0^-1 g with tau = Tau (y/Tau)^n: with phi = 1 the coordinate y is the
		// rate itself.
		tau0 := math.Pow(k, 1/(1-n))
		if n == 1 {
			tau0 = 1
		}
		f := materials.FlowCurve{Kind: materials.PowerLaw, N: n, Tau: tau0}
		tube, slit := duct.NewTubeTable(f), duct.NewSlitTable(f)
		keff := math.Pow(tau0, 1-n)
		q, r := 5e-9, 0.4e-3
		if _, want, _ := (reference.PowerMelt{K: keff, N: n}).Tube(q, r, 1); !(math.Abs(tube.Tube(q, r,
			phi)/want-1) <= 1e-5) {
			t.Errorf("n = %g: tube %.6g Pa, closed form %.6g Pa", n, tube.Tube(q, r, phi), want)
		}
		if _, want,
			_ := (reference.PowerMelt{K: keff, N: n}).Slit(q, 8e-3, 0.5e-3,
			1); !(math.Abs(slit.Slit(q, 8e-3, 0.5e-3, phi)/want-1) <= 1e-5) {
			t.Errorf("n = %g: slit %.6g Pa, closed form %.6g Pa", n, slit.Slit(q, 8e-3, 0.5e-3, phi), want)
		}
		for _, y := range []float64{1, 100, 1e4} {
			if got := tube.Index(y); !(math.Abs(got-n) <= 1e-4) {
				t.Errorf("index %.6f at y = %g, want %g", got, y, n)
			}
		}
		a := math.Pi / 6
		lub := reference.PowerMelt{K: keff, N: n}.Cone(q, 1e-3, 0.2e-3, a)
		if got := tube.Radial(q, 1e-3, 0.2e-3, phi) / math.Tan(a); !(math.Abs(got/lub-1) <= 1e-5) {
			t.Errorf("n = %g: cone %.6g Pa, closed form %.6g Pa", n, got, lub)
		}
		if tube.Radial(q, 1e-3, 1e-3, phi) != 0 {
			t.Error("a cone of one radius has a drop")
		}
	}
}

// The table against the quadrature of a melt with a plateau, over nine decades of flow, and its index against a
// difference.
func TestTableOfACrossLaw(t *testing.T) {
	v := &materials.Viscosity{
		FlowCurve: materials.FlowCurve{Kind: materials.Cross, N: 0.3, Tau: 5e4},
		Shift:     materials.Shift{Kind: materials.Exponential, Tref: 500, Eta0: 2000}, Cap: 1e30,
	}
	l, phi := duct.At(v, 500, 0), v.Fluidity(500, 0)
	tube, slit := duct.NewTubeTable(v.FlowCurve), duct.NewSlitTable(v.FlowCurve)
	for q := 1e-15; q < 1e-6; q *= 10 {
		if got, want := tube.Tube(q, 0.2e-3, phi), l.TubeStress(q, 0.2e-3); !(math.Abs(got/want-1) <= 2e-5) {
			t.Errorf("tube at %g m3/s: %.7g Pa, quadrature %.7g Pa", q, got, want)
		}
		got, want := slit.Slit(q, 4e-3, 0.3e-3, phi), l.SlitStress(q, 4e-3, 0.3e-3)
		if !(math.Abs(got/want-1) <= 2e-5) {
			t.Errorf("slit at %g m3/s: %.7g Pa, quadrature %.7g Pa", q, got, want)
		}
		y := 4 * q / (math.Pi * math.Pow(0.2e-3, 3) * phi)
		want = math.Log(tube.At(y*1.01)/tube.At(y/1.01)) / (2 * math.Log(1.01))
		if got := tube.Index(y); !(math.Abs(got-want) <= 1e-3) {
			t.Errorf("index at y = %.3g: %.5f, by difference %.5f", y, got, want)
		}
		drop := l.RadialDrop(q, 1e-3, 0.2e-3)
		if got := tube.Radial(q, 1e-3, 0.2e-3, phi); !(math.Abs(got/drop-1) <= 5e-5) {
			t.Errorf("cone at %g m3/s: %.7g Pa, quadrature %.7g Pa", q, got, drop)
		}
	}
}

// ConeFactor at hand-computed values of its formula, and at the step: 1/sin a + 0.73 sin(a)^m.
func TestConeFactor(t *testing.T) {
	for _, x := range [][3]float64{{90, 0.3, 1.73}, {90, 1, 1.73}, {30, 1, 2.365},
		{30, 0.5, 2 + 0.73*0.7071067811865476}} {
		if got := duct.ConeFactor(x[0]*math.Pi/180, x[1]); !(math.Abs(got-x[2]) <= 1e-9) {
			t.Errorf("half angle %g deg, m = %g: %.6f, want %.6f", x[0], x[1], got, x[2])
		}
	}
}
