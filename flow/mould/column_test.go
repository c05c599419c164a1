package mould

import (
	"math"
	"testing"
)

// What leaves a station comes into the next one in equal shares of the flow from the middle: mapped by hand in four
// cells, the slope along the flow counted.
func TestInflowByEqualShares(t *testing.T) {
	c, m := strip()
	f := newRun(c, m, checked(t, c, m, Settings{Melt: 503, Flow: 60e-9, Cells: 4}))
	p := f.pathOf(&m.Elements[0])
	a, b := f.st[0], f.add(0, &p, 1e-3, 1e-3)
	copy(a.q, []float64{4, 3, 2, 1})
	copy(a.h, []float64{100, 200, 300, 400})
	copy(a.rise, []float64{1, 2, 3, 4})
	copy(b.q, []float64{1, 1, 0, 2}) // of four, as 2.5, 2.5, 0 and 5 of ten
	copy(b.h, []float64{0, 0, 77, 0})
	for _, x := range []struct {
		before *station
		q      float64
		want   [4]float64
	}{
		{a, 1, [4]float64{101, (1.5*101 + 202) / 2.5, 77, (2*202 + 2*303 + 404) / 5.0}},
		{nil, 1, [4]float64{55, 55, 55, 55}},
		{a, 0, [4]float64{101, 202, 303, 404}}, // nothing flows: cell by cell
	} {
		for i := range b.q {
			b.q[i] *= x.q
		}
		f.inflow(x.before, b, 55)
		for i, want := range x.want {
			if math.Abs(f.in[i]/want-1) > 1e-9 {
				t.Errorf("flow %g, cell %d: %g, by hand %g", x.q, i, f.in[i], want)
			}
		}
	}
}

// The stress of a station goes on as in the step before, by a tenth of its logarithm at most.
func TestStressIsExpectedToGoOn(t *testing.T) {
	c, m := strip()
	f := newRun(c, m, checked(t, c, m, Settings{Melt: 503, Flow: 60e-9}))
	s := f.st[0]
	for _, x := range [][3]float64{{9, 9.05, 9.1}, {9, 8.95, 8.9}, {9, 9.5, 9.6}, {9, 8, 7.9}} {
		s.was, s.logS = x[0], x[1]
		f.refresh()
		if math.Abs(s.logS-x[2]) > 1e-12 || s.was != x[1] {
			t.Errorf("from %g over %g to %g, want %g", x[0], x[1], s.logS, x[2])
		}
	}
}

// The supply decides from where the pressure passed what it gives, by a straight line over the step; only the first
// time is noted.
func TestSinceWhenTheSupplyDecides(t *testing.T) {
	c, m := strip()
	f := newRun(c, m, checked(t, c, m, Settings{Melt: 503, Flow: 60e-9}))
	s := f.st[0]
	s.x, s.dx, s.volume = 3e-3, 1e-3, 60e-9
	f.now = 5
	f.sinceWhen(4e6, 3e6, s, 0.2, 0.4) // nothing before: at once
	if f.r.Limited != 5 || math.Abs(f.r.LimitedAt-2.2e-3) > 1e-12 {
		t.Errorf("%g s, %g m", f.r.Limited, f.r.LimitedAt)
	}
	f.sinceWhen(4e6, 3e6, s, 0.5, 0.4)
	if math.Abs(f.r.LimitedAt-2.2e-3) > 1e-12 {
		t.Errorf("noted again at %g m", f.r.LimitedAt)
	}
	f.r.Limited, f.r.Trace = 0, []Sample{{Pressure: 9e6}, {Pressure: 2e6}}
	f.sinceWhen(6e6, 3e6, s, 0.2, 0.4) // after a quarter of a step of 0.4 s, which takes the front to 0.6
	if math.Abs(f.r.Limited-5.1) > 1e-12 || math.Abs(f.r.LimitedAt-2.3e-3) > 1e-12 {
		t.Errorf("%g s, %g m", f.r.Limited, f.r.LimitedAt)
	}
	f.r.Limited, f.r.Trace, f.now = 0, []Sample{{Pressure: 3.5e6}}, 0
	f.sinceWhen(6e6, 3e6, s, 0.2, 0.4)
	if f.r.Limited != 1e-9 || math.Abs(f.r.LimitedAt-2.2e-3) > 1e-12 {
		t.Errorf("from the start: %g s, %g m", f.r.Limited, f.r.LimitedAt)
	}
}

// An open mould loses heat through half a cell of wall and the air in series; its face lies between the two.
func TestOpenFaceByHand(t *testing.T) {
	f := inMetal(t, Wall{Name: "resin", K: 0.25, RhoC: 1.9e6, Depth: 10e-3, Air: 10, AirT: 300}, aStrip)
	p := f.pathOf(&aStrip)
	s := f.add(0, &p, 4e-3, 0)
	s.front, s.wall[0] = 1, 350
	o := opened{f: f, s: s, air: 20, airT: 300}
	half := f.wallEdge[1] / 2 / 0.25
	if want := 2 * 10e-3 * 4e-3 / (half + 1.0/20); math.Abs(o.link()/want-1) > 1e-9 {
		t.Errorf("%g W/K, by hand %g", o.link(), want)
	}
	if want := 300 + 50*(1.0/20)/(half+1.0/20); math.Abs(o.face()-want) > 1e-9 {
		t.Errorf("face at %g K, by hand %g", o.face(), want)
	}
	before := append([]float64{}, s.wall...)
	o.rest(0)
	if s.wall[0] != before[0] {
		t.Error("a mould that is not opened cools")
	}
	// After long enough nothing changes any more: the flow of heat is the same through the face, the wall and the back.
	f.m.Wall.AirT = 330
	o.rest(1e9)
	q := 30 / (1.0/20 + 10e-3/0.25 + 1.0/10)
	last := 330 - q*(1.0/10+(f.wallEdge[f.nw]-f.wallEdge[f.nw-1])/2/0.25)
	if math.Abs(o.face()-(300+q/20)) > 1e-3 || math.Abs(s.wall[f.nw-1]-last) > 1e-3 {
		t.Errorf("face at %g K, last cell at %g K; by hand %g and %g", o.face(), s.wall[f.nw-1], 300+q/20, last)
	}
}
