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
