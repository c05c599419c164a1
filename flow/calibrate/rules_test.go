package calibrate

import (
	"context"
	"math"
	"strings"
	"testing"

	"meltload/flow"
	"meltload/flow/flowtest"
	"meltload/flow/march"
)

// made returns pushes as the model makes them with factors, without noise.
func made(t *testing.T, c *flow.Case, f []Factor, v []float64, at [][2]float64) []Point {
	t.Helper()
	cs, offset := Apply(c, f, v)
	s := march.New(&cs, march.Options{})
	var out []Point
	var d flow.Solution
	for _, x := range at {
		if err := s.Solve(x[0], x[1]*1e-9, &d); err != nil {
			t.Fatal(err)
		}
		out = append(out, Point{Block: x[0], Flow: x[1] * 1e-9, Force: d.Push + offset, U: 0.3})
	}
	return out
}

// A factor that the data drive to the end of its range is not known, and it is said that the end was met.
func TestAFactorAtItsBoundIsNotKnown(t *testing.T) {
	c := flowtest.ABSForce(3000, 3)
	at := [][2]float64{{493, 3}, {493, 9}, {513, 3}, {513, 9}}
	for end, level := range []float64{0.04, 26} {
		pts := made(t, c, []Factor{Level}, []float64{level}, at)
		for i := range pts {
			pts[i].U = 0.05 * pts[i].Force
		}
		r, err := Fit(context.Background(), c, pts, Settings{Factors: []Factor{Level}})
		if err != nil {
			t.Fatal(err)
		}
		lo, hi, _ := Level.bounds()
		bound := []float64{lo, hi}[end]
		v := r.Values[0]
		if v.Known || !strings.Contains(v.Why, "bound") || math.Abs(math.Log(v.Value/bound)) > 0.05 {
			t.Errorf("forces of a level of %g: %+v, bound %g", level, v, bound)
		}
	}
	r, err := Fit(context.Background(), c, made(t, c, []Factor{Level}, []float64{1.5}, at), Settings{Factors: []Factor{Level}})
	if err != nil {
		t.Fatal(err)
	}
	if v := r.Values[0]; !v.Known || math.Abs(v.Value/1.5-1) > 0.01 || r.RanOut {
		t.Errorf("within the range: %+v, ran out %v", v, r.RanOut)
	}
}

// The test proposed is the one after which the factor is known best: no other place of the range leaves it less uncertain, and the
// uncertainty left is the one foretold.
func TestTheNextTestIsTheBest(t *testing.T) {
	c := flowtest.ABSForce(3000, 3)
	s := Settings{Factors: []Factor{Level, Conductance}, Blocks: [2]float64{493, 523}, Flows: [2]float64{1e-9, 15e-9}}
	pts := made(t, c, nil, nil, [][2]float64{{513, 3}, {513, 3.05}})
	v := []float64{1, 3000}
	p := &problem{c: c, base: march.New(c, march.Options{}), points: pts, f: s.Factors}
	before := spreads(p.sensitivity(v))
	for k := range s.Factors {
		n := p.next(v, p.sensitivity(v), k, before[k], s)
		if n == nil {
			t.Fatal("no test proposed")
		}
		after := func(block, q float64) float64 {
			x := made(t, c, nil, nil, [][2]float64{{block, q * 1e9}})[0]
			x.U = 0
			more := &problem{c: c, base: p.base, points: append(append([]Point(nil), pts...), x), f: s.Factors}
			return spreads(more.sensitivity(v))[k]
		}
		left := after(n.Block, n.Flow)
		if math.Abs(left/before[k]/n.Shrinks-1) > 0.02 {
			t.Errorf("%s: %.3f of the uncertainty is left, foretold %.3f", s.Factors[k], left/before[k], n.Shrinks)
		}
		for _, block := range []float64{493, 508, 523} {
			for _, q := range []float64{1e-9, 4e-9, 15e-9} {
				if other := after(block, q); other < 0.98*left {
					t.Errorf("%s: %.4g is left after the test proposed (%.0f K, %.2g m3/s), %.4g after one at %.0f K and %.2g m3/s", s.Factors[k], left, n.Block, n.Flow, other, block, q)
				}
			}
		}
	}
}

// The interval of a factor by hand, for a model that is linear in it: the drag is a constant force, so that its uncertainty is that of
// the mean of the forces, and its value their mean excess.
func TestIntervalOfALinearFactor(t *testing.T) {
	c := flowtest.ABSForce(3000, 3)
	pts := made(t, c, []Factor{Drag}, []float64{4}, [][2]float64{{493, 3}, {493, 9}, {513, 3}, {513, 9}})
	for i := range pts {
		pts[i].Force += []float64{0.3, -0.3, 0.3, -0.3}[i]
	}
	r, err := Fit(context.Background(), c, pts, Settings{Factors: []Factor{Drag}})
	if err != nil {
		t.Fatal(err)
	}
	// Chi squared is four residuals of one standard uncertainty over three degrees of freedom; Student's t is 3.1824 for three.
	half := 3.182446 * 0.3 / 2 * math.Sqrt(4.0/3)
	v := r.Values[0]
	if math.Abs(v.Value-4) > 0.02 || math.Abs(r.ChiSquared-4.0/3) > 0.01 || math.Abs((v.High-v.Low)/2/half-1) > 0.02 || !v.Known {
		t.Errorf("%+v, chi squared %.3f; want 4 N within %.3f N and chi squared 1.333", v, r.ChiSquared, half)
	}
	if math.Abs(r.RMS-0.3) > 0.01 {
		t.Errorf("%.3f N rms, want 0.3 N", r.RMS)
	}
}
