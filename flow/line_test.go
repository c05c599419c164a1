package flow_test

import (
	"math"
	"testing"

	"meltload/flow"
)

// 24 mm3/s is 267 mm/s in lines of 0.2 x 0.45 mm: the arithmetic of the trade, common practice.
func TestLineSpeed(t *testing.T) {
	for _, c := range []struct {
		bore, flow, area, rounded, speed float64 // mm, mm3/s, mm2, mm2, mm/s
	}{
		{0.4, 24, 0.09, 0.08141593, 266.6667},
		{0.6, 24, 0.2025, 0.18318583, 118.5185},
		{0.25, 3, 0.03515625, 0.03180310, 85.3333},
	} {
		l := flow.Line{}.Or(c.bore * 1e-3)
		near := func(what string, got, want float64) {
			if !(math.Abs(got/want-1) <= 1e-6) {
				t.Errorf("nozzle %g mm: %s is %g, want %g", c.bore, what, got, want)
			}
		}
		near("area", l.Area(), c.area*1e-6)
		near("rounded", l.Rounded(), c.rounded*1e-6)
		near("speed", l.Speed(c.flow*1e-9), c.speed*1e-3)
		near("flow", l.Flow(l.Speed(c.flow*1e-9)), c.flow*1e-9)
	}
	if l := (flow.Line{Height: 1e-4}).Or(4e-4); l.Height != 1e-4 || !(math.Abs(l.Width-4.5e-4) <= 1e-12) {
		t.Errorf("a given height becomes %+v", l)
	}
	// A line as wide as high is a circle when rounded.
	if l := (flow.Line{Height: 2e-4, Width: 2e-4}); !(math.Abs(l.Rounded()/(math.Pi*1e-8)-1) <= 1e-12) {
		t.Errorf("rounded square: %g", l.Rounded())
	}
	if v := (flow.Line{}).Speed(1e-9); v != 0 {
		t.Errorf("no line gives %g m/s", v)
	}
}

func TestNozzle(t *testing.T) {
	tube := flow.Section{Shape: flow.Tube, D1: 6e-4, D2: 6e-4}
	cone := flow.Section{Shape: flow.Cone, D1: 2e-3, D2: 4e-4}
	two := flow.Section{Shape: flow.Tube, D1: 3e-4, D2: 3e-4, Channels: 2}
	many := flow.Section{Shape: flow.Tube, D1: 3e-4, D2: 3e-4, Channels: 3}
	for _, c := range []struct {
		path []flow.Section
		want float64
	}{{[]flow.Section{cone, tube}, 6e-4}, {[]flow.Section{tube, cone}, 4e-4},
		{[]flow.Section{cone, many}, 0}, {[]flow.Section{cone, two}, 0},
		{[]flow.Section{{Shape: flow.Slit, Gap: 1e-4, Width: 1e-3}}, 0}, {nil, 0}} {
		if got := (&flow.HotEnd{Sections: c.path}).Nozzle(); got != c.want {
			t.Errorf("nozzle of %v is %g, want %g", c.path, got, c.want)
		}
	}
}
