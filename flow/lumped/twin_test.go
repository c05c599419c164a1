package lumped_test

import (
	"math"
	"testing"

	"meltload/flow"
	"meltload/flow/duct"
	"meltload/flow/flowtest"
	"meltload/flow/lumped"
	"meltload/materials"
	"meltload/materials/checks"
	"meltload/thermal"
)

// The whole estimate of stock whose every property goes with temperature, through two barrels with walls of their own,
// the first of them partly unheated, a cone and a bore. By hand: the two series of heating, the wall as the mean over
// the length so far, the law at the temperature halfway between wall and the stock (three quarters of the way along),
// stresses by quadrature, loads over the length in which melt is held.
func TestEstimateByHand(t *testing.T) {
	m, err := materials.Get("pla")
	if err != nil {
		t.Fatal(err)
	}
	const inlet, block, q, h = 298.15, 483.15, 6e-9, 3000.0
	tube := func(d, l float64, w flow.Wall) flow.Section {
		return flow.Section{Shape: flow.Tube, D1: d, D2: d, Length: l, Channels: 1, H: h, Wall: w}
	}
	cone := flow.Section{Shape: flow.Cone, D1: 2e-3, D2: 0.4e-3, Half: math.Pi / 6, Channels: 1, H: h,
		Length: 0.8e-3 / math.Tan(math.Pi/6)}
	c := path(m, inlet, tube(2e-3, 12e-3, flow.Wall{Start: -6, End: -2}),
		tube(2e-3, 9e-3, flow.Wall{Fixed: true, Start: 470, End: 490}), cone, tube(0.4e-3, 1.5e-3, flow.Wall{End: -4}))
	c.HotEnd.TipDrop, c.HotEnd.HeatedShare, c.Stock = 5, 0.9, flow.Stock{Eccentricity: 0.3}
	var d flow.Solution
	if err := lumped.New(c).Solve(block, q, &d); err != nil {
		t.Fatal(err)
	}
	const barrel, unheated = 21e-3, 2.1e-3
	st := d.Stretches
	if st.Unheated != c.Unheated() || st.Solid || !(st.Rod > 2e-3 && st.Rod < barrel-unheated-2e-3) {
		t.Fatalf("stretches %+v show nothing", st)
	}
	checks.Near(t, "held length", st.Held, barrel-unheated-st.Rod, 1e-9)
	checks.Near(t, "push area", d.PushArea, c.PushArea(2e-3), 1e-12)
	// Where the rod ends: its mean there, under the push that the sections make, in whole passes of which a further one
	// changes little.
	film := (inlet + m.Window[1]) / 2
	k := m.Conductivity.At(film)
	checks.Near(t, "through the gap", st.GapH, flow.GapH(1.75e-3, 2e-3, 0.3, film), 1e-12)
	rod := thermal.NewCylinder(st.GapH * 0.875e-3 / k)
	rate := m.Conductivity.At((inlet+block)/2) / m.Density.Solid * math.Pi / q * (block - inlet) /
		(m.Heat.Enthalpy(block) - m.Heat.Enthalpy(inlet)) // Fourier number over a length
	checks.Near(t, "softens at", st.Softening, m.Softens(d.Force/c.Area()), 2e-4)
	checks.Near(t, "mean at the end of the rod", rod.Mean(rate*st.Rod),
		(st.Softening-(block-4))/(inlet-(block-4)), 1e-5)
	var sum, length, resist, wall, before float64
	before = inlet
	from := 0.0
	for i := range c.HotEnd.Sections {
		sec, out := &c.HotEnd.Sections[i], &d.Sections[i]
		length += sec.Length
		resist += sec.Length * k / (h * (sec.D1 + sec.D2) / 4)
		wall += sec.Length * (c.WallAt(i, 0, block) + c.WallAt(i, 1, block)) / 2
		w, wet := wall/length, thermal.NewCylinder(length/resist)
		var mean, centre float64
		if fo := rate * (length - unheated); length-unheated <= st.Rod {
			mean, centre = rod.Mean(fo), rod.Centre(fo)
		} else {
			fo = wet.FourierForMean(rod.Mean(rate*st.Rod)) + rate*(length-unheated-st.Rod)
			mean, centre = wet.Mean(fo), wet.Centre(fo)
		}
		mix := w + (inlet-w)*mean
		checks.Near(t, "bulk", out.Bulk, mix, 1e-5)
		checks.Near(t, "centre", out.Centre, w+(inlet-w)*centre, 1e-5)
		checks.Near(t, "wall", out.Wall, c.WallAt(i, 1, block), 1e-12)
		checks.Near(t, "heat", out.WallHeat, m.Density.Solid*q*(m.Heat.Enthalpy(mix)-m.Heat.Enthalpy(before)), 1e-3)
		local := c.WallAt(i, 0.5, block)
		T := (local + before + (mix-before)*0.75) / 2
		qc := q * m.Density.Solid * m.Density.Volume((before+mix)/2, 0)
		law := duct.At(&m.Viscosity, T, 0)
		if i != 2 {
			tau := law.TubeStress(qc, sec.D1/2)
			checks.Near(t, "wall stress", out.WallStress, tau, 1e-3)
			held := sec.Length
			if i < 2 { // after the top of the path, the unheated length and the rod
				held = math.Max(0, math.Min(from+sec.Length, barrel)-math.Max(from, unheated+st.Rod))
			}
			checks.Near(t, "drop", out.Drop, 4*tau*held/sec.D1, 1e-3)
		} else {
			checks.Near(t, "shear of the cone", out.Shear, law.ConeDrop(qc, 1e-3, 0.2e-3, cone.Length), 1e-3)
			checks.Near(t, "elongation", out.Elongation+out.Shear+out.Entrance, out.Drop, 1e-9)
		}
		checks.Near(t, "work", out.Viscous, (out.Drop-out.Entrance)*qc, 1e-4)
		before, from, sum = mix, from+sec.Length, sum+out.Drop
	}
	checks.Near(t, "force", d.Force, sum*c.PushArea(2e-3), 1e-9)
}

// A rod that the heat does not soften meets the cone as a solid, and one that its push crushes is gone at the top.
func TestRodThatNeverSoftensAndOneThatIsCrushed(t *testing.T) {
	m, err := materials.Get("pla")
	if err != nil {
		t.Fatal(err)
	}
	solve := func(m *materials.Material, bore, q float64, wall flow.Wall) *flow.Solution {
		c := flowtest.Case(m, flowtest.Nozzle(2e-3, 20e-3, 60, bore, 1e-3, 3000), 298.15)
		c.Stock.Stick = false
		c.HotEnd.Sections[0].Wall = wall
		d := &flow.Solution{}
		if err := lumped.New(c).Solve(483.15, q, d); err != nil {
			t.Fatal(err)
		}
		return d
	}
	// Cold walls: the rod stays below its softening point however long it is heated.
	d := solve(m, 0.4e-3, 5e-9, flow.Wall{Fixed: true, Start: 320, End: 320})
	if st := d.Stretches; !st.Solid || st.Rod != 20e-3 || st.Held != 0 || d.Sections[0].Drop != 0 ||
		!(d.Sections[0].Bulk < st.Softening) {
		t.Errorf("a cold barrel: %+v", st)
	}
	// So fast that it has no time to, through a bore that takes little push.
	if st := solve(m, 1.5e-3, 60e-9, flow.Wall{}).Stretches; !st.Solid || st.Rod != 20e-3 {
		t.Errorf("a fast feed: %+v", st)
	}
	// Stock that yields under any push where it enters is melt's from the top.
	weak := m.WithStrength(1e-6)
	d = solve(weak, 0.4e-3, 5e-9, flow.Wall{})
	if st := d.Stretches; st.Solid || st.Rod > 0.1e-3 || !(st.Held > 19.9e-3) {
		t.Errorf("weak stock: %+v", st)
	}
}

// A path that begins with its cone has no rod; its entrance loss counts, and a wall stress beyond the law is told. A
// cone that widens stretches nothing.
func TestConeFirst(t *testing.T) {
	m := *flowtest.IsothermalFluid("pl_10000_035")
	m.Entrance = materials.Entrance{K: 2e5, Low: 1e5, High: 4e5, Exponent: 1.5}
	cone := flow.Section{Shape: flow.Cone, D1: 2e-3, D2: 0.5e-3, Half: math.Pi / 6, Channels: 1, H: math.Inf(1)}
	bore := flow.Section{Shape: flow.Tube, D1: 0.5e-3, Length: 1e-3, Channels: 1, H: math.Inf(1)}
	wide := flow.Section{Shape: flow.Cone, D1: 0.5e-3, D2: 2e-3, Half: math.Pi / 6, Channels: 1, H: math.Inf(1)}
	for _, x := range []struct {
		q      float64
		beyond bool
	}{{5e-9, false}, {400e-9, true}} {
		c := path(&m, 400, cone, bore, wide)
		c.Stock.Stick = false
		var d flow.Solution
		if err := lumped.New(c).Solve(500, x.q, &d); err != nil {
			t.Fatal(err)
		}
		s := d.Sections
		if (s[1].WallStress > materials.EntranceLimit) != x.beyond || d.BeyondEntrance != x.beyond {
			t.Errorf("%g m3/s: %g Pa, beyond the law: %v", x.q, s[1].WallStress, d.BeyondEntrance)
		}
		want, _ := c.EntranceLoss(0, s[1].WallStress, s[0].Elongation)
		if !(want > 0) || s[0].Entrance != want || s[1].Entrance != 0 || s[2].Entrance != 0 || s[2].Elongation != 0 {
			t.Errorf("entrance losses %g, %g, %g, want %g at the first only; elongation %g", s[0].Entrance,
				s[1].Entrance, s[2].Entrance, want, s[2].Elongation)
		}
		if st := d.Stretches; st.Solid || st.GapH != 0 || st.Softening != 0 || d.PushArea != c.Area() {
			t.Errorf("a rod before a cone that is first: %+v", st)
		}
	}
}

// The work of channels side by side is that of all of them: drop times the whole flow. Each question is counted once.
func TestWorkOfChannels(t *testing.T) {
	m := flowtest.IsothermalFluid("pl_10000_035")
	many := flow.Section{Shape: flow.Tube, D1: 2e-3, Length: 10e-3, Channels: 4, H: math.Inf(1)}
	c := path(m, 400, many)
	c.Stock.Stick = true
	s := lumped.New(c)
	var d flow.Solution
	for range 2 {
		if err := s.Solve(500, 5e-9, &d); err != nil {
			t.Fatal(err)
		}
	}
	checks.Near(t, "work", d.Sections[0].Viscous, d.Sections[0].Drop*5e-9, 1e-9)
	if s.Solves() != 2 {
		t.Errorf("%d questions counted, want 2", s.Solves())
	}
}
