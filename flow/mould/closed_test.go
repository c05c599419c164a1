package mould

import (
	"math"
	"testing"

	"meltload/flow"
	"meltload/flow/flowtest"
	"meltload/materials"
	"meltload/materials/num"
	"meltload/thermal/reference"

	"pgregory.net/rapid"
)

// Slow filling with a uniform fluid between walls held at their temperature: what passes a place behind the front has
// the bulk temperature of Graetz's series for the slit.
func TestSlowFillingMeetsGraetz(t *testing.T) {
	const k, rho, cp, h, q, breadth, melt, wall = 0.2, 1000.0, 2000.0, 1e-3, 20e-9, 10e-3, 480.0, 340.0
	c := &flow.Case{Material: flowtest.Uniform("Newtonian",
		materials.Viscosity{FlowCurve: materials.FlowCurve{Kind: materials.PowerLaw, N: 1, Tau: 10},
			Shift: materials.Shift{Kind: materials.Exponential, Eta0: 10, Tref: 480}, Cap: 1e30}, rho, cp, k, 0)}
	m := &Mould{Surface: wall, Wall: heldFace(), Contact: math.Inf(1),
		Elements: []Element{{Name: "strip", Shape: StripGap, Width: breadth, Height: h,
			Length: 12e-3, Copies: 1, Cavity: true}}}
	s := Settings{Melt: melt, Flow: q, NoFlow: 200}
	if err := s.check(c, m); err != nil {
		t.Fatal(err)
	}
	f := newRun(c, m, s)
	for !f.step() {
	}
	g := reference.NewSlitGraetz(1, 40)
	checked := 0
	for _, st := range f.st {
		x := st.x
		theta := (f.prop.temperature(bulk(st), 400) - wall) / (melt - wall)
		star := x * k / (rho * cp) / (q / (breadth * h) * h * h)
		want := g.MixingCup(star)
		if x < 2e-3 || x > 8e-3 || want < 0.05 { // behind the entry and before the front
			continue
		}
		checked++
		if math.Abs(theta-want) > 0.02 {
			t.Errorf("at %.1f mm %.4f, Graetz %.4f", x*1e3, theta, want)
		}
	}
	if checked < 5 {
		t.Errorf("only %d places checked", checked)
	}
}

// twoSlabs is the centre of a slab 0 to a, hot (1) at first and insulated in its middle, against a slab of depth d,
// cold (0) at first and held at 0 at its back, in perfect contact: eigenfunctions cos in the first and sin in the
// second, matched in value and flux (H. S. Carslaw, J. C. Jaeger, Conduction of Heat in Solids, sec. 12.8 for composite
// slabs, from memory; the coefficients derived here).
func twoSlabs(k1, c1, a, k2, c2, d, time float64) float64 {
	s1, s2 := math.Sqrt(c1/k1)*a, math.Sqrt(c2/k2)*d // beta times these are the phases
	e1, e2 := math.Sqrt(k1*c1), math.Sqrt(k2*c2)
	// e1 sin(p) sin(r) = e2 cos(p) cos(r)
	match := func(b float64) float64 { return e1*math.Sin(b*s1)*math.Sin(b*s2) - e2*math.Cos(b*s1)*math.Cos(b*s2) }
	sum := 0.0
	step := math.Pi / (s1 + s2) / 40
	for b, found := step/7, 0; found < 200; b += step {
		if match(b)*match(b+step) > 0 {
			continue
		}
		found++
		root, err := num.Root(match, b, b+step, 1e-15)
		if err != nil {
			continue
		}
		p, r := root*s1, root*s2
		A, B := math.Sin(r), math.Cos(p) // cos(p) A = sin(r) B
		// integrals of the square and of the start, weighted by the heat capacity
		n1 := c1 * a / 2 * (1 + math.Sin(2*p)/(2*p))
		n2 := c2 * d / 2 * (1 - math.Sin(2*r)/(2*r))
		start := c1 * a * math.Sin(p) / p
		sum += A * start * A / (A*A*n1 + B*B*n2) * math.Exp(-root*root*time)
		if root*root*time > 60 {
			break
		}
	}
	return sum
}

// Standing melt against the wall of the mould: the centre follows the series of two slabs, for resin and for metal.
func TestMeltAndWallMeetTheSeriesOfTwoSlabs(t *testing.T) {
	const k, rho, cp, h, melt, mould = 0.2, 1000.0, 2000.0, 2e-3, 480.0, 320.0
	c := &flow.Case{Material: flowtest.Uniform("slab",
		materials.Viscosity{FlowCurve: materials.FlowCurve{Kind: materials.PowerLaw, N: 1, Tau: 10},
			Shift: materials.Shift{Kind: materials.Exponential, Eta0: 10, Tref: 480}, Cap: 1e30}, rho, cp, k, 0)}
	for _, w := range []Wall{{Name: "resin", K: 0.25, RhoC: 1.9e6, Depth: 10e-3},
		{Name: "steel", K: 30, RhoC: 7800 * 480, Depth: 20e-3}} {
		m := &Mould{Surface: mould, Wall: w, Contact: math.Inf(1),
			Elements: []Element{{Name: "slab", Shape: StripGap, Width: 20e-3, Height: h, Length: 10e-3, Copies: 1,
				Cavity: true}}}
		for _, share := range []float64{0.75, 0.5, 0.3} {
			f, s := standing(t, c, m, Settings{Melt: melt, Flow: 1e-6, NoFlow: 200})
			_, got := f.cool(s, mould+share*(melt-mould))
			want, err := num.Root(func(x float64) float64 {
				return twoSlabs(k, rho*cp, h/2, w.K, w.RhoC, w.Depth, x) -
					share
			}, 0.3, 1000, 1e-9)
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(got/want-1) > 0.02 {
				t.Errorf("%s: the centre is at %.2f after %.4g s, series %.4g s", w.Name, share, got, want)
			}
		}
	}
}

// What leaves the fast core at the front is laid outside it to the last joule, whatever the speeds and temperatures,
// and in the order of the stream function: the middle next to the wall.
func TestFrontKeepsHeat(t *testing.T) {
	c, m := heated()
	rapid.Check(t, func(t *rapid.T) {
		s := Settings{Melt: 503, Flow: 60e-9, Cells: rapid.IntRange(6, 40).Draw(t, "cells")}
		if err := s.check(c, m); err != nil {
			t.Fatal(err)
		}
		f := newRun(c, m, s)
		st := f.st[0]
		h := make([]float64, f.n)
		for i := range h {
			st.q[i] = rapid.Float64Range(0, 1).Draw(t, "q") * f.row(st).vol[i]
			h[i] = rapid.Float64Range(1e5, 5e5).Draw(t, "h")
		}
		f.turn(st)
		f.lay(h)
		var out, in, q float64
		for i, a := range f.away {
			if a > 0 {
				out += a * h[i]
				q += a
			} else {
				in -= a * f.laid[i]
			}
		}
		if math.Abs(out-in) > 1e-9*(out+1e-30) {
			t.Fatalf("%g leaves, %g is laid", out, in)
		}
	})
	// In order: a core that is hotter in the middle makes a skin that is hottest at the wall.
	f := newRun(c, m, checked(t, c, m, Settings{Melt: 503, Flow: 60e-9}))
	st := f.st[0]
	h := make([]float64, f.n)
	for i, x := range f.xi {
		st.q[i] = f.row(st).vol[i] * 1.5 * (1 - x*x)
		h[i] = 4e5 - 1e5*x
	}
	f.turn(st)
	f.lay(h)
	for i := f.n - 2; f.away[i] < 0; i-- {
		if f.laid[i] > f.laid[i+1]*(1+1e-9) {
			t.Errorf("cell %d is laid warmer than the one next to the wall", i)
		}
	}
}

func checked(t *testing.T, c *flow.Case, m *Mould, s Settings) Settings {
	t.Helper()
	if err := s.check(c, m); err != nil {
		t.Fatal(err)
	}
	return s
}

// The reach at the default grid is within 3 per cent of that at 240 stations.
func TestReachSettlesWithTheGrid(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	for _, r := range table(t, "mould_open.csv") {
		switch r["id"] {
		case "pla03", "abs12", "pp13", "hdpe02":
		default:
			continue
		}
		c, m, s := tableFilling(t, r)
		x := fill(t, c, m, s)
		s.Stations = 240
		y := fill(t, c, m, s)
		t.Logf("%s: %.3f mm, fine %.3f mm", r["id"], x.Front*1e3, y.Front*1e3)
		if math.Abs(x.Front/y.Front-1) > 0.03 {
			t.Errorf("%s: %.3f mm at the default grid, %.3f at 240 stations", r["id"], x.Front*1e3, y.Front*1e3)
		}
	}
}

// bulk is the mixing cup (J/kg) of what leaves a station.
func bulk(s *station) float64 {
	var q, e float64
	for i := range s.q {
		q += s.q[i]
		e += s.q[i] * s.h[i]
	}
	if q > 0 {
		return e / q
	}
	return s.h[0]
}

// heldFace is a wall whose face stays at the temperature of the mould.
func heldFace() Wall { return Wall{Name: "held face", K: math.Inf(1)} }
