package flow_test

import (
	"errors"
	"math"
	"testing"

	"meltload/flow"
)

func TestInputsAreChecked(t *testing.T) {
	for _, x := range []struct {
		block, q float64
		ok       bool
	}{
		{480, 10e-9, true}, {250, 10e-9, true}, {800, 1e-3, true}, {249, 10e-9, false}, {801, 10e-9, false},
		{480, 0, false}, {480, -1e-9, false}, {480, 2e-3, false}, {480, math.Inf(1), false}, {480, math.NaN(), false},
		{math.NaN(), 10e-9, false},
	} {
		if err := flow.CheckInput(x.block, x.q); (err == nil) != x.ok || err != nil && !errors.Is(err, flow.ErrInput) {
			t.Errorf("%g K, %g m3/s: %v", x.block, x.q, err)
		}
	}
}

// A path with another bore: the bore itself, the end of the cone before it and the length of that cone change, its
// angle does not.
func TestReboreKeepsTheAngle(t *testing.T) {
	c := plain(t)
	c.Complete()
	h := &c.HotEnd
	if b := h.Bore(); !(math.Abs(b-0.4e-3) <= 1e-12) {
		t.Fatalf("bore %g m", b)
	}
	h.Rebore(0.6e-3)
	cone, bore := h.Sections[1], h.Sections[2]
	if bore.D1 != 0.6e-3 || bore.D2 != 0.6e-3 || cone.D2 != 0.6e-3 || cone.D1 != 2e-3 || cone.Half != math.Pi/6 {
		t.Errorf("cone %+v, bore %+v", cone, bore)
	}
	if want := 0.7e-3 / math.Tan(math.Pi/6); !(math.Abs(cone.Length/want-1) <= 1e-12) {
		t.Errorf("cone of %g m, want %g m", cone.Length, want)
	}
	// Volume by hand: cylinders and a frustum.
	want := math.Pi*1e-6*20e-3 + math.Pi/3*cone.Length*(1e-6+0.3e-6+0.09e-6) + math.Pi*0.09e-6*1e-3
	if got := h.Volume(); !(math.Abs(got/want-1) <= 1e-12) {
		t.Errorf("volume %g m3, want %g m3", got, want)
	}
	h.Rebore(1e-6)
	if got := h.Bore(); !(math.Abs(got/0.12e-3-1) <= 1e-9) {
		t.Errorf("bore %g m; at least a fifth of the one before is kept", got)
	}
}

// The force of a path and what arrives of it are inverse to each other.
func TestPathByHand(t *testing.T) {
	p := flow.Path{Drag: 3, Bend: math.Pi, Friction: 0.2}
	if got, want := p.Force(30), 33*math.Exp(0.2*math.Pi); !(math.Abs(got/want-1) <= 1e-12) {
		t.Errorf("%g N at the feeder, want %g N", got, want)
	}
	if got := p.Inverse(p.Force(30)); !(math.Abs(got-30) <= 1e-9) {
		t.Errorf("%g N of 30 N arrive", got)
	}
	if got := p.Inverse(1); got != 0 {
		t.Errorf("%g N arrive of less than the drag", got)
	}
}
