package mould

import (
	"math"
	"testing"

	"meltload/flow/duct"
	"meltload/flow/reference"
)

// The force that opens a mould, by hand: the mean pressure of each element in the parting plane on what it shows to it.
// A sprue stands on the plane and does not count.
func TestOpeningForceByHand(t *testing.T) {
	const k, n, q = 6000, 0.5, 40e-9
	m := &Mould{Surface: 300, Wall: heldFace(), Contact: math.Inf(1), Elements: []Element{
		{Name: "sprue", Shape: Sprue, D1: 2e-3, D2: 3e-3, Length: 20e-3, Copies: 1},
		{Name: "runner", Shape: Round, D1: 2e-3, D2: 2e-3, Length: 15e-3, Copies: 2},
		{Name: "half-round", Shape: HalfRound, D1: 3e-3, Length: 5e-3, Copies: 2},
		{Name: "gate", Shape: StripGap, Width: 3e-3, Height: 0.8e-3, Length: 1e-3, Copies: 2},
		{Name: "strip", Shape: StripGap, Width: 10e-3, Height: 1.5e-3, Length: 30e-3, Copies: 2, Cavity: true},
	}}
	r := fill(t, powerCase(k, n), m, Settings{Melt: 500, Flow: q, NoHeat: true, Stations: 120, Cells: 40})
	tube, _, _ := reference.PowerMelt{K: k, N: n}.Tube(q/2, 1e-3, 15e-3)
	half := duct.HalfRound(1.5e-3).PowerDrop(k, n, q/2, 5e-3)
	gate, _, _ := reference.PowerMelt{K: k, N: n}.Slit(q/2, 3e-3, 0.8e-3, 1e-3)
	strip, _, _ := reference.PowerMelt{K: k, N: n}.Slit(q/2, 10e-3, 1.5e-3, 30e-3)
	cavity := strip / 2 * 2 * 10e-3 * 30e-3 // two strips, their mean pressure half of their drop
	want := cavity + (strip+gate/2)*2*3e-3*1e-3 + (strip+gate+half/2)*2*3e-3*5e-3 +
		(strip+gate+half+tube/2)*2*2e-3*15e-3
	if math.Abs(r.Open/want-1) > 0.01 {
		t.Errorf("opening force %.2f N, by hand %.2f N (cavities alone %.2f N)", r.Open, want, cavity)
	}
}

// On a coarse grid the mean pressure of a station is still that in its middle: a strip of linear pressure, by hand.
func TestOpeningForceOnACoarseGrid(t *testing.T) {
	const k, n, q = 6000, 0.5, 20e-9
	m := &Mould{Surface: 300, Wall: heldFace(), Contact: math.Inf(1), Elements: []Element{
		{Name: "strip", Shape: StripGap, Width: 10e-3, Height: 1.5e-3, Length: 30e-3, Copies: 1, Cavity: true}}}
	r := fill(t, powerCase(k, n), m, Settings{Melt: 500, Flow: q, NoHeat: true, Stations: 8, Cells: 40})
	if want := r.Peak / 2 * 10e-3 * 30e-3; math.Abs(r.Open/want-1) > 0.01 || math.Abs(r.OpenLow/want-1) > 0.01 {
		t.Errorf("opening force %.2f N, on cavities %.2f N, by hand %.2f N", r.Open, r.OpenLow, want)
	}
}

// A mould that is packed is opened by the highest pressure there is, that of the filling or all that the feeder has,
// on the whole area in the parting plane; a sprue stands on the plane and shows none.
func TestPackedMouldByHand(t *testing.T) {
	m := &Mould{Surface: 300, Wall: heldFace(), Contact: math.Inf(1), Elements: []Element{
		{Name: "sprue", Shape: Sprue, D1: 2e-3, D2: 12e-3, Length: 20e-3, Copies: 1},
		{Name: "runner", Shape: Round, D1: 2e-3, D2: 2e-3, Length: 15e-3, Copies: 2},
		{Name: "strip", Shape: StripGap, Width: 10e-3, Height: 1.5e-3, Length: 30e-3, Copies: 2, Cavity: true},
	}}
	const area = 2*2e-3*15e-3 + 2*10e-3*30e-3
	s := Settings{Melt: 500, Flow: 40e-9, NoHeat: true}
	c := powerCase(6000, 0.5)
	r := fill(t, c, m, s)
	if want := r.Peak * area; math.Abs(r.OpenHigh/want-1) > 1e-9 {
		t.Errorf("packed by the pressure of filling: %.1f N, by hand %.1f N", r.OpenHigh, want)
	}
	most := 3 * r.Peak
	s.Supply = func(float64) float64 { return most }
	if r = fill(t, c, m, s); math.Abs(r.OpenHigh/(most*area)-1) > 1e-9 {
		t.Errorf("packed by the feeder: %.1f N, by hand %.1f N", r.OpenHigh, most*area)
	}
	s.Supply = func(q float64) float64 { return most / 3 * math.Min(1, q/20e-9) } // pressure only in motion
	if r = fill(t, c, m, s); math.Abs(r.OpenHigh/(r.Peak*area)-1) > 1e-9 || r.Peak <= 0 {
		t.Errorf("packed by the peak: %.1f N, by hand %.1f N", r.OpenHigh, r.Peak*area)
	}
}

// The thinnest feed freezes the shot off, not the thickest: a slab of constant properties between cold faces, whose
// middle cools by the first term of the series (Carslaw and Jaeger 1959, section 3.3, from memory). The shot is quick,
// so that it begins nearly hot all through.
func TestTheThinnestFeedFreezesFirst(t *testing.T) {
	c, m := heated()
	m.Elements = []Element{
		{Name: "runner", Shape: Round, D1: 4e-3, D2: 4e-3, Length: 5e-3, Copies: 1},
		{Name: "gate", Shape: StripGap, Width: 5e-3, Height: 1e-3, Length: 2e-3, Copies: 1},
		{Name: "strip", Shape: StripGap, Width: 10e-3, Height: 2.5e-3, Length: 10e-3, Copies: 1, Cavity: true},
	}
	const noFlow, melt, alpha = 403.0, 503.0, 0.18 / 1200 / 2000
	r := fill(t, c, m, Settings{Melt: melt, Flow: 2e-6, NoFlow: noFlow})
	slab := func(h float64) float64 {
		return h * h / (math.Pi * math.Pi * alpha) * math.Log(4/math.Pi*(melt-m.Surface)/(noFlow-m.Surface))
	}
	if want := slab(1e-3); math.Abs(r.GateFreeze/want-1) > 0.15 {
		t.Errorf("the gate freezes after %.2f s, a slab of its thickness after %.2f s", r.GateFreeze, want)
	}
	part := 2.5e-3 * 2.5e-3 / (math.Pi * math.Pi * alpha) *
		math.Log(4/math.Pi*(melt-m.Surface)/(c.Material.Ejection-m.Surface))
	if !(r.Cooling > 0.9*part) { // the runner, a rod of 4 mm, may take longer
		t.Errorf("cooled after %.2f s, the part alone takes %.2f s", r.Cooling, part)
	}
}

// Two equal cavities side by side are one at half the flow, and open the mould with twice its force.
func TestCopiesOpenTogether(t *testing.T) {
	for _, e := range []Element{
		{Name: "disc", Shape: DiscGap, D1: 2e-3, D2: 20e-3, Height: 1.5e-3, Cavity: true},
		{Name: "strip", Shape: StripGap, Width: 10e-3, Height: 1.5e-3, Length: 20e-3, Cavity: true},
		{Name: "bar", Shape: Round, D1: 3e-3, D2: 2e-3, Length: 20e-3, Cavity: true},
	} {
		var r [2]*Result
		for i := range r {
			e.Copies = i + 1
			m := &Mould{Surface: 300, Wall: heldFace(), Contact: math.Inf(1), Elements: []Element{e}}
			r[i] = fill(t, powerCase(6000, 0.5), m, Settings{Melt: 500, Flow: float64(i+1) * 20e-9, NoHeat: true})
		}
		for what, x := range map[string][2]float64{"opening": {r[0].Open, r[1].Open},
			"on cavities": {r[0].OpenLow, r[1].OpenLow}, "packed": {r[0].OpenHigh, r[1].OpenHigh}} {
			if math.Abs(x[1]/x[0]-2) > 1e-6 {
				t.Errorf("%s, %s: %.3f N of one, %.3f N of two", e.Name, what, x[0], x[1])
			}
		}
	}
}

// The part that decides how long a shot cools is the thickest cavity, not a feed that is thicker than it.
func TestTheThickestCavityDecides(t *testing.T) {
	m := &Mould{Elements: []Element{
		{Shape: Sprue, D1: 3e-3, D2: 8e-3, Length: 20e-3, Copies: 1},
		{Shape: StripGap, Width: 10e-3, Height: 1e-3, Length: 30e-3, Copies: 1, Cavity: true},
		{Shape: StripGap, Width: 10e-3, Height: 2e-3, Length: 30e-3, Copies: 1, Cavity: true},
		{Shape: StripGap, Width: 10e-3, Height: 1.5e-3, Length: 30e-3, Copies: 1, Cavity: true},
	}}
	if got := thickest(m); got != 2 {
		t.Errorf("element %d decides, want the cavity of 2 mm", got)
	}
	if got := thickest(&Mould{Elements: m.Elements[:1]}); got != 0 {
		t.Errorf("element %d of one", got)
	}
}

// Volume, projected area and length of flow by hand.
func TestElementsByHand(t *testing.T) {
	for _, x := range []struct {
		e                    Element
		volume, area, length float64
	}{
		{Element{Shape: Sprue, D1: 2e-3, D2: 4e-3, Length: 30e-3, Copies: 1}, math.Pi / 3 * 30e-3 * 7e-6,
			math.Pi * 4e-6, 30e-3},
		{Element{Shape: Round, D1: 3e-3, D2: 3e-3, Length: 10e-3, Copies: 2}, 2 * math.Pi * 2.25e-6 * 10e-3,
			2 * 3e-3 * 10e-3, 10e-3},
		{Element{Shape: HalfRound, D1: 4e-3, Length: 10e-3, Copies: 1}, math.Pi / 2 * 4e-6 * 10e-3,
			4e-3 * 10e-3, 10e-3},
		{Element{Shape: DiscGap, D1: 2e-3, D2: 30e-3, Height: 1.5e-3, Copies: 1}, math.Pi * 224e-6 * 1.5e-3,
			math.Pi * 224e-6, 14e-3},
		{Element{Shape: StripGap, Width: 8e-3, Height: 2e-3, Length: 20e-3, Copies: 3}, 3 * 320e-9, 3 * 160e-6, 20e-3},
	} {
		if v := x.e.Volume(); math.Abs(v/x.volume-1) > 1e-9 {
			t.Errorf("%s: volume %g m3, want %g", x.e.Shape, v, x.volume)
		}
		if a := x.e.Projected(); math.Abs(a/x.area-1) > 1e-9 {
			t.Errorf("%s: area %g m2, want %g", x.e.Shape, a, x.area)
		}
		if l := x.e.FlowLength(); math.Abs(l/x.length-1) > 1e-9 {
			t.Errorf("%s: length %g m, want %g", x.e.Shape, l, x.length)
		}
	}
}
