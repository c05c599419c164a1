package lumped_test

import (
	"math"
	"testing"

	"meltload/flow"
	"meltload/flow/flowtest"
	"meltload/flow/lumped"
	"meltload/flow/reference"
	"meltload/materials"
	"meltload/thermal"
)

// stuck solves a case whose stock fills the bore from the first millimetre.
func stuck(t *testing.T, c *flow.Case, block, q float64) *flow.Solution {
	t.Helper()
	c.Stock.Stick = true
	var d flow.Solution
	if err := lumped.New(c).Solve(block, q, &d); err != nil {
		t.Fatal(err)
	}
	return &d
}

func path(m *materials.Material, inlet float64, s ...flow.Section) *flow.Case {
	return flowtest.Case(m, flow.HotEnd{Sections: s}, inlet)
}

// Isothermal drops and stresses against the closed forms: tube, slit and a cone that widens, and channels that share
// the flow.
func TestIsothermalSectionsByHand(t *testing.T) {
	m := flowtest.IsothermalFluid("pl_10000_035")
	const k, n, q = 1e4, 0.35, 5e-9
	tube := flow.Section{Name: "tube", Shape: flow.Tube, D1: 2e-3, D2: 2e-3, Length: 10e-3, Channels: 1, H: math.Inf(1)}
	many := tube
	many.Channels = 4
	slit := flow.Section{Name: "slit", Shape: flow.Slit, Width: 8e-3, Gap: 0.5e-3, Length: 5e-3, Channels: 1,
		H: math.Inf(1)}
	wide := flow.Section{Name: "wide", Shape: flow.Cone, D1: 0.5e-3, D2: 2e-3, Half: 0.2,
		Length:   0.75e-3 / math.Tan(0.2),
		Channels: 1, H: math.Inf(1)}
	dt, tt, _ := reference.PowerMelt{K: k, N: n}.Tube(q, 1e-3, 10e-3)
	dm, tm, _ := reference.PowerMelt{K: k, N: n}.Tube(q/4, 1e-3, 10e-3)
	ds, ts, _ := reference.PowerMelt{K: k, N: n}.Slit(q, 8e-3, 0.5e-3, 5e-3)
	_, tw, _ := reference.PowerMelt{K: k, N: n}.Tube(q, 0.25e-3, 1)
	for _, x := range []struct {
		s         flow.Section
		drop, tau float64
	}{{tube, dt, tt}, {many, dm, tm}, {slit, ds, ts}, {wide, reference.PowerMelt{K: k, N: n}.Cone(q, 0.25e-3, 1e-3,
		0.2), tw}} {
		d := stuck(t, path(m, 500, x.s), 500, q)
		if got := d.Sections[0].Drop; !(math.Abs(got/x.drop-1) <= 1e-4) {
			t.Errorf("%s: drop %.5g Pa, closed form %.5g Pa", x.s.Name, got, x.drop)
		}
		if got := d.Sections[0].WallStress; !(math.Abs(got/x.tau-1) <= 1e-4) {
			t.Errorf("%s: wall stress %.5g Pa, closed form %.5g Pa", x.s.Name, got, x.tau)
		}
		if got, want := d.Residence, x.s.Volume()/q; !(math.Abs(got/want-1) <= 1e-6) {
			t.Errorf("%s: stay %.4g s, volume over flow %.4g s", x.s.Name, got, want)
		}
	}
}

// Heating of the slug by hand: the series of a cylinder at the Fourier number of the length, with the wall where each
// section puts it.
func TestHeatingByHand(t *testing.T) {
	m := flowtest.Uniform("slug", powerLaw(100, 1), 1200, 2000, 0.24, 0)
	const q, inlet, block = 5e-9, 300.0, 500.0
	section := func(h float64, w flow.Wall) flow.Section {
		return flow.Section{Shape: flow.Tube, D1: 2e-3, D2: 2e-3, Length: 10e-3, Channels: 1, H: h, Wall: w}
	}
	fo := 0.24 / 1200 / 2000 * math.Pi * 10e-3 / q
	for _, x := range []struct {
		what       string
		s          flow.Section
		bi, wallAt float64
	}{
		{"wall at the block", section(math.Inf(1), flow.Wall{}), math.Inf(1), 500},
		{"wall 20 to 40 K below", section(math.Inf(1), flow.Wall{Start: -20, End: -40}), math.Inf(1), 470},
		{"wall at 440 to 460 K", section(math.Inf(1), flow.Wall{Fixed: true, Start: 440, End: 460}), math.Inf(1), 450},
		{"contact", section(1200, flow.Wall{}), 1200 * 1e-3 / 0.24, 500},
	} {
		d := stuck(t, path(m, inlet, x.s), block, q)
		c := thermal.NewCylinder(x.bi)
		bulk, centre := x.wallAt+(inlet-x.wallAt)*c.Mean(fo), x.wallAt+(inlet-x.wallAt)*c.Centre(fo)
		if !(math.Abs(d.ExitBulk-bulk) <= 0.05) || !(math.Abs(d.ExitCentre-centre) <= 0.05) {
			t.Errorf("%s: bulk %.2f K, centre %.2f K; by hand %.2f K and %.2f K", x.what, d.ExitBulk, d.ExitCentre,
				bulk, centre)
		}
		if got, want := d.WallHeat, 1200*q*2000*(bulk-inlet); !(math.Abs(got/want-1) <= 1e-3) {
			t.Errorf("%s: %.4f W from the wall, by hand %.4f W", x.what, got, want)
		}
	}
}

// Channels that share the flow, and gaps, by hand: n channels have n times the stay over the length, and a gap is a
// tube of its half width heated from both sides, twice the length; contact counts on that half width.
func TestHeatingOfChannelsAndGapsByHand(t *testing.T) {
	m := flowtest.Uniform("slug", powerLaw(100, 1), 1200, 2000, 0.24, 0)
	const q, inlet, block, length = 20e-9, 300.0, 500.0, 10e-3
	many := flow.Section{Shape: flow.Tube, D1: 2e-3, D2: 2e-3, Length: length, Channels: 3, H: 1200}
	slit := flow.Section{Shape: flow.Slit, Width: 8e-3, Gap: 1e-3, Length: length, Channels: 1, H: 1200}
	fo := 0.24 / 1200 / 2000 * math.Pi * length / q
	for _, x := range []struct {
		what   string
		s      flow.Section
		bi, fo float64
	}{{"three channels", many, 1200 * 1e-3 / 0.24, 3 * fo}, {"gap", slit, 1200 * 0.5e-3 / 0.24, 2 * fo}} {
		d := stuck(t, path(m, inlet, x.s), block, q)
		c := thermal.NewCylinder(x.bi)
		if bulk := block + (inlet-block)*c.Mean(x.fo); !(math.Abs(d.ExitBulk-bulk) <= 0.05) {
			t.Errorf("%s: bulk %.2f K, by hand %.2f K", x.what, d.ExitBulk, bulk)
		}
	}
}

// A rod that gives way goes on along the wetted wall from the mean that it had: by the series of both.
func TestHeatingGoesOnWhereTheRodEnds(t *testing.T) {
	m, err := materials.Get("pla")
	if err != nil {
		t.Fatal(err)
	}
	const inlet, block, q, h = 298.15, 483.15, 5e-9, 3000.0
	barrel := flow.Section{Name: "barrel", Shape: flow.Tube, D1: 2e-3, D2: 2e-3, Length: 20e-3, Channels: 1, H: h}
	cone := flow.Section{Name: "cone", Shape: flow.Cone, D1: 2e-3, D2: 0.4e-3, Half: math.Pi / 6, Channels: 1, H: h,
		Length: 0.8e-3 / math.Tan(math.Pi/6)}
	c := path(m, inlet, barrel, cone)
	c.Stock.Stick = false
	var d flow.Solution
	if err := lumped.New(c).Solve(block, q, &d); err != nil {
		t.Fatal(err)
	}
	st := d.Stretches
	if !(st.Rod > 2e-3 && st.Rod < 18e-3) {
		t.Fatalf("a rod of %g m shows nothing", st.Rod)
	}
	k := m.Conductivity.At((inlet + m.Window[1]) / 2)
	rod, wall := thermal.NewCylinder(st.GapH*0.875e-3/k), thermal.NewCylinder(h*1e-3/k)
	theta := func(T float64) float64 { return (block - T) / (block - inlet) }
	end := func(perLength float64) float64 {
		atEnd := rod.Mean(perLength * st.Rod)
		return wall.Mean(wall.FourierForMean(atEnd) + perLength*(20e-3-st.Rod))
	}
	// stock as it is fed, conductivity in the middle, mean heat capacity
	cp := (m.Heat.Enthalpy(block) - m.Heat.Enthalpy(inlet)) / (block - inlet)
	a := m.Conductivity.At((inlet+block)/2) / m.Density.Solid / cp * math.Pi / q
	if got, want := theta(d.Sections[0].Bulk), end(a); !(math.Abs(got-want) <= 0.003) {
		t.Errorf("theta at the end of the barrel %.4f, by the two series %.4f", got, want)
	}
}

func powerLaw(k, n float64) materials.Viscosity {
	return materials.Viscosity{FlowCurve: materials.FlowCurve{Kind: materials.PowerLaw, N: n, Tau: k},
		Shift: materials.Shift{Kind: materials.Exponential, Eta0: k, Tref: 500}, Cap: 1e30}
}

// The air gap about the rod by hand: half of what the bore is wider than the filament, and the stretches that add up to
// the barrel.
func TestRodByHand(t *testing.T) {
	m, err := materials.Get("pla")
	if err != nil {
		t.Fatal(err)
	}
	c := flowtest.Case(m, flowtest.Nozzle(2e-3, 20e-3, 60, 0.4e-3, 1e-3, 3000), 298.15)
	c.Stock.Stick = false
	var d flow.Solution
	if err := lumped.New(c).Solve(483.15, 5e-9, &d); err != nil {
		t.Fatal(err)
	}
	st := d.Stretches
	if !(math.Abs(st.Gap-0.125e-3) <= 1e-9) {
		t.Errorf("gap of %g m between 1.75 and 2 mm", st.Gap)
	}
	if sum := st.Rod + st.Wetted + st.Held; !(math.Abs(sum-20e-3) <= 1e-9) || !(st.Rod > 0) || !(st.Held > 0) {
		t.Errorf("stretches of %g, %g and %g m in a barrel of 20 mm", st.Rod, st.Wetted, st.Held)
	}
	film := (298.15 + m.Window[1]) / 2
	if want := flow.GapH(1.75e-3, 2e-3, 0, film); !(math.Abs(st.GapH/want-1) <= 1e-9) {
		t.Errorf("%g W/m2K through the gap, want %g", st.GapH, want)
	}
}

// What sections say of themselves in an isothermal chain of slit, barrel, cone and bore: drops by their wall stresses,
// work by their drops, a cone's shear and elongation by the closed forms, and the entrance loss on the passage before.
func TestSectionsOfAChainHangTogether(t *testing.T) {
	m := *flowtest.IsothermalFluid("pl_10000_035")
	m.Entrance = materials.Entrance{K: 2e5, Low: 1e5, High: 4e5, Exponent: 1.5}
	const k, n, q = 1e4, 0.35, 5e-9
	tube := func(name string, d, l float64) flow.Section {
		return flow.Section{Name: name, Shape: flow.Tube, D1: d, D2: d, Length: l, Channels: 1, H: math.Inf(1)}
	}
	slit := flow.Section{Name: "slit", Shape: flow.Slit, Width: 8e-3, Gap: 1e-3, Length: 5e-3, Channels: 1,
		H: math.Inf(1)}
	cone := flow.Section{Name: "cone", Shape: flow.Cone, D1: 2e-3, D2: 0.5e-3, Half: math.Pi / 6, Channels: 1,
		H: math.Inf(1), Length: 0.75e-3 / math.Tan(math.Pi/6)}
	c := path(&m, 500, slit, tube("barrel", 2e-3, 10e-3), cone, tube("bore", 0.5e-3, 1e-3))
	d := stuck(t, c, 500, q)
	s := d.Sections
	for i, want := range []float64{2 * s[0].WallStress * 5e-3 / 1e-3, 4 * s[1].WallStress * 10e-3 / 2e-3, 0,
		4 * s[3].WallStress * 1e-3 / 0.5e-3} {
		if i != 2 && (math.Abs(s[i].Shear/want-1) > 1e-9 || s[i].Elongation != 0) {
			t.Errorf("%s: %g Pa of shear, want %g", s[i].Name, s[i].Shear, want)
		}
		if got := (s[i].Drop - s[i].Entrance) * q; !(math.Abs(s[i].Viscous/got-1) <= 1e-9) {
			t.Errorf("%s: %g W of work, want %g", s[i].Name, s[i].Viscous, got)
		}
	}
	lub := reference.PowerMelt{K: k, N: n}.Cone(q, 0.25e-3, 1e-3, math.Pi/6)
	if !(math.Abs(s[2].Shear/lub-1) <= 1e-4) {
		t.Errorf("cone: %g Pa of shear, by the closed form %g", s[2].Shear, lub)
	}
	if own := s[2].Drop - s[2].Entrance; !(math.Abs(s[2].Shear+s[2].Elongation-own) <= 1e-6*own) ||
		s[2].Elongation < 0.05*own {
		t.Errorf("cone: %g Pa of shear and %g of elongation, together %g", s[2].Shear, s[2].Elongation, own)
	}
	loss, _ := c.EntranceLoss(2, s[3].WallStress, s[2].Elongation)
	if loss <= 0 || !(math.Abs(s[2].Entrance/loss-1) <= 1e-9) || s[3].Entrance != 0 {
		t.Errorf("entrance loss %g Pa, want %g", s[2].Entrance, loss)
	}
	sum := 0.0
	for i := range s {
		sum += s[i].Drop
	}
	if !(math.Abs(d.Pressure/sum-1) <= 1e-9) {
		t.Errorf("%g Pa, the sections add up to %g", d.Pressure, sum)
	}
	// The rate at the wall of a power-law melt is (3n+1)/4n times that of a Newtonian one.
	want := (3*n + 1) / (4 * n) * 32 * q / (math.Pi * math.Pow(0.5e-3, 3))
	if !(math.Abs(s[3].WallRate/want-1) <= 1e-3) {
		t.Errorf("bore: wall rate %g 1/s, want %g", s[3].WallRate, want)
	}
}
