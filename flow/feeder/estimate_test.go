package feeder

import (
	"math"
	"testing"
)

// The interval by hand: relative variances (3/80)^2 with 2 degrees of freedom and (1/50)^2 with 1 pool to
// [2 (3/80)^2 + (1/50)^2]/3; t(0.975) is 3.18245 for 3 degrees of freedom (any table of Student's t).
func TestEstimate(t *testing.T) {
	f := must(t, Feeder{Points: []Point{
		{Speed: 2e-3, Force: 80, Cause: Grind, SD: 3, Repeats: 3}, {Speed: 4e-3, Force: 60, Cause: Skip},
		{Speed: 8e-3, Force: 50, Cause: Skip, SD: 1, Repeats: 2}}})
	s := math.Sqrt((2*9.0/6400 + 1.0/2500) / 3)
	if got := f.Scatter(); math.Abs(got.Share/s-1) > 1e-9 || got.Freedom != 3 {
		t.Errorf("scatter %+v, want %.4f with 3 degrees of freedom", got, s)
	}
	first, once, last := 3.182446*s/math.Sqrt(3), 3.182446*s, 3.182446*s/math.Sqrt(2)
	for _, c := range []struct {
		v, half float64
		basis   Basis
		repeats int
		assumed bool
	}{
		{2e-3, first, Measured, 3, false},
		{2.03e-3, first, Measured, 3, false}, // within 2 %
		{1.97e-3, first, Measured, 3, false},
		{2.1e-3, once, Between, 0, false}, // the wider one of the two
		{4e-3, once, Measured, 1, false},
		{6e-3, once, Between, 0, false},
		{8e-3, last, Measured, 2, false},
		{16e-3, math.Hypot(last, 0.2), Beyond, 0, true},
		{0.5e-3, math.Hypot(first, 0.4), Beyond, 0, true},
	} {
		e := f.Estimate(c.v, f.Scatter())
		if e.Basis != c.basis || e.Repeats != c.repeats || e.Assumed != c.assumed || e.Capability != f.At(c.v) {
			t.Errorf("at %g mm/s: %+v", c.v*1e3, e)
		}
		if math.Abs((e.High/e.Force-1)/c.half-1) > 1e-4 || math.Abs(e.Low-e.Force*(1-c.half)) > 1e-3 {
			t.Errorf("at %g mm/s: %.2f to %.2f N about %.2f, want a half-width of %.4f", c.v*1e3, e.Low, e.High,
				e.Force, c.half)
		}
	}
	m := must(t, Feeder{Model: testModel(t)}).Estimate(3e-3, Scatter{})
	if m.Basis != Modelled || math.Abs(m.High/m.Force-1.4) > 1e-9 || !m.Assumed {
		t.Errorf("data sheet: %+v", m)
	}
	alone := must(t, Feeder{Points: []Point{{Speed: 2e-3, Force: 50}}})
	if e := alone.Estimate(2e-3, alone.Scatter()); math.Abs(e.High-55) > 1e-9 || !e.Assumed || e.Basis != Measured {
		t.Errorf("measured once: %+v", e)
	}
	if e := alone.Estimate(2e-3, Scatter{0.02, 10}); math.Abs(e.High/50-1-2.228139*0.02) > 1e-6 || e.Assumed {
		t.Errorf("measured once, the scatter of others: %+v", e)
	}
	soft := must(t, Feeder{Points: []Point{{Speed: 2e-3, Force: 74, Material: "pla", SD: 1, Repeats: 5}},
		Stock: stock(t, "tpu")}).Estimate(2e-3, Scatter{0.01, 4})
	if soft.Basis != AsAColumn || soft.Force > 30 || !soft.Assumed || soft.Repeats != 0 {
		t.Errorf("soft stock: %+v", soft)
	}
}
