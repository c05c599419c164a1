package feeder

import (
	"math"
	"testing"
)

// The interval by hand: t(0.975) is 4.3027 for 2 degrees of freedom and 12.706 for 1 (any table of Student's t).
func TestEstimate(t *testing.T) {
	f := must(t, Feeder{Points: []Point{
		{Speed: 2e-3, Force: 80, Cause: Grind, SD: 3, Repeats: 3}, {Speed: 4e-3, Force: 60, Cause: Skip},
		{Speed: 8e-3, Force: 50, Cause: Skip, SD: 1, Repeats: 2}}})
	first := 4.302653 * 3 / math.Sqrt(3) / 80
	last := 12.706205 / math.Sqrt(2) / 50
	for _, c := range []struct {
		v, half float64
		basis   Basis
		repeats int
		assumed bool
	}{
		{2e-3, first, Measured, 3, false},
		{2.03e-3, first, Measured, 3, false}, // within 2 %
		{1.97e-3, first, Measured, 3, false},
		{2.1e-3, math.Max(first, 0.1), Between, 0, true},
		{4e-3, 0.1, Measured, 1, true},
		{6e-3, last, Between, 0, true}, // the wider one of the two
		{8e-3, last, Measured, 2, false},
		{16e-3, math.Hypot(last, 0.2), Beyond, 0, true},
		{0.5e-3, math.Hypot(first, 0.4), Beyond, 0, true},
	} {
		e := f.Estimate(c.v)
		if e.Basis != c.basis || e.Repeats != c.repeats || e.Assumed != c.assumed || e.Capability != f.At(c.v) {
			t.Errorf("at %g mm/s: %+v", c.v*1e3, e)
		}
		if math.Abs((e.High/e.Force-1)/c.half-1) > 1e-4 || math.Abs(e.Low-e.Force*(1-c.half)) > 1e-3 {
			t.Errorf("at %g mm/s: %.2f to %.2f N about %.2f, want a half-width of %.4f", c.v*1e3, e.Low, e.High,
				e.Force, c.half)
		}
	}
	m := must(t, Feeder{Model: testModel(t)}).Estimate(3e-3)
	if m.Basis != Modelled || math.Abs(m.High/m.Force-1.4) > 1e-9 || !m.Assumed {
		t.Errorf("data sheet: %+v", m)
	}
	soft := must(t, Feeder{Points: []Point{{Speed: 2e-3, Force: 74, Material: "pla", SD: 1, Repeats: 5}},
		Stock: stock(t, "tpu")}).Estimate(2e-3)
	if soft.Basis != AsAColumn || soft.Force > 30 || !soft.Assumed || soft.Repeats != 0 {
		t.Errorf("soft stock: %+v", soft)
	}
}
