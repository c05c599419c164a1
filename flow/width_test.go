package flow_test

import (
	"math"
	"testing"

	"meltload/flow"
)

// The narrowest passage of a path: a gap, the inner way of an annulus, either end of a cone.
func TestBoreIsTheNarrowestPassage(t *testing.T) {
	tube := func(d float64) flow.Section { return flow.Section{Shape: flow.Tube, D1: d, D2: d, Channels: 1} }
	slit := flow.Section{Shape: flow.Slit, Width: 8e-3, Gap: 0.5e-3, Channels: 1}
	ring := flow.Section{Shape: flow.Ring, D1: 4e-3, D2: 3.4e-3, Channels: 1}
	wide := flow.Section{Shape: flow.Cone, D1: 0.7e-3, D2: 2e-3, Channels: 1}
	for i, x := range []struct {
		s    []flow.Section
		want float64
	}{{[]flow.Section{tube(2e-3), slit, tube(1e-3)}, 0.5e-3}, {[]flow.Section{tube(2e-3), ring}, 0.3e-3},
		{[]flow.Section{tube(2e-3), wide}, 0.7e-3}, {[]flow.Section{tube(2e-3), slit, tube(0.4e-3)}, 0.4e-3}} {
		h := flow.HotEnd{Sections: x.s}
		if got := h.Bore(); !(math.Abs(got-x.want) <= 1e-15) {
			t.Errorf("path %d: %g m, want %g m", i+1, got, x.want)
		}
	}
}

// Another bore changes what is as wide as the bore: tubes at both ends, gaps, outlets of cones with their length, but
// no tube, slit or cone of another width.
func TestReboreChangesOnlyThePassagesOfThatWidth(t *testing.T) {
	h := flow.HotEnd{Sections: []flow.Section{
		{Shape: flow.Tube, D1: 2e-3, D2: 2e-3, Channels: 1},
		{Shape: flow.Cone, D1: 2e-3, D2: 1e-3, Half: math.Pi / 4, Length: 0.5e-3, Channels: 1},
		{Shape: flow.Cone, D1: 1e-3, D2: 0.5e-3, Half: math.Pi / 4, Length: 0.25e-3, Channels: 1},
		{Shape: flow.Tube, D1: 0.5e-3, D2: 0.5e-3, Length: 1e-3, Channels: 1},
		{Shape: flow.Slit, Width: 8e-3, Gap: 0.5e-3, Channels: 1},
		{Shape: flow.Slit, Width: 8e-3, Gap: 0.9e-3, Channels: 1},
		{Shape: flow.Cone, D1: 0.7e-3, D2: 0.5e-3, Half: math.Pi / 2, Channels: 1}, // flat: no length
	}}
	h.Rebore(0.6e-3)
	for i, want := range []flow.Section{{D1: 2e-3, D2: 2e-3}, {D1: 2e-3, D2: 1e-3, Length: 0.5e-3},
		{D1: 1e-3, D2: 0.6e-3, Length: 0.2e-3}, {D1: 0.6e-3, D2: 0.6e-3, Length: 1e-3}, {Gap: 0.6e-3}, {Gap: 0.9e-3},
		{D1: 0.7e-3, D2: 0.6e-3}} {
		s := h.Sections[i]
		if s.D1 != want.D1 || s.D2 != want.D2 || s.Gap != want.Gap || !(math.Abs(s.Length-want.Length) <= 1e-15) {
			t.Errorf("section %d: %+v", i+1, s)
		}
	}
	// A cone no wider than the new bore stays: it leads into nothing narrower.
	cone := flow.HotEnd{Sections: []flow.Section{{Shape: flow.Cone, D1: 0.6e-3, D2: 0.4e-3, Half: 1, Length: 1e-4}}}
	for _, to := range []float64{0.6e-3, 0.8e-3} {
		if cone.Rebore(to); cone.Sections[0].D2 != 0.4e-3 || cone.Sections[0].Length != 1e-4 {
			t.Errorf("bore of %g m: %+v", to, cone.Sections[0])
		}
	}
}
