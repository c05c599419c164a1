package mould

import (
	"context"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"meltload/flow"
	"meltload/flow/duct"
	"meltload/flow/flowtest"
	"meltload/flow/reference"
	"meltload/materials"
	heat "meltload/thermal/reference"
)

// powerCase is an isothermal power-law melt.
func powerCase(k, n float64) *flow.Case {
	return &flow.Case{Material: flowtest.Uniform("power law", materials.Viscosity{
		FlowCurve: materials.FlowCurve{Kind: materials.PowerLaw, N: n, Tau: k},
		Shift:     materials.Shift{Kind: materials.Exponential, Eta0: k, Tref: 500},
		Cap:       1e30,
	}, 1000, 2000, 0.2, 0)}
}

func fill(t *testing.T, c *flow.Case, m *Mould, s Settings) *Result {
	t.Helper()
	r, err := Fill(context.Background(), c, m, s)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// Isothermal filling meets the closed forms: a chain of sprue, runner and strips, a disc and its opening force.
func TestIsothermalFillingMeetsTheClosedForms(t *testing.T) {
	const k, n, q = 6000, 0.5, 40e-9
	c := powerCase(k, n)
	chain := &Mould{Surface: 300, Wall: heldFace(), Contact: math.Inf(1), Elements: []Element{
		{Name: "sprue", Shape: Sprue, D1: 2e-3, D2: 3e-3, Length: 20e-3, Copies: 1},
		{Name: "runner", Shape: Round, D1: 2e-3, D2: 2e-3, Length: 15e-3, Copies: 2},
		{Name: "half-round", Shape: HalfRound, D1: 3e-3, Length: 5e-3, Copies: 2},
		{Name: "gate", Shape: StripGap, Width: 3e-3, Height: 0.8e-3, Length: 1e-3, Copies: 2},
		{Name: "strip", Shape: StripGap, Width: 10e-3, Height: 1.5e-3, Length: 30e-3, Copies: 2, Cavity: true},
	}}
	r := fill(t, c, chain, Settings{Melt: 500, Flow: q, NoHeat: true, Stations: 120, Cells: 40})
	want := reference.PowerMelt{K: k, N: n}.Cone(q, 1e-3, 1.5e-3, math.Atan(0.5/20))
	for _, dp := range []func() float64{
		func() float64 { p, _, _ := reference.PowerMelt{K: k, N: n}.Tube(q/2, 1e-3, 15e-3); return p },
		func() float64 { return duct.HalfRound(1.5e-3).PowerDrop(k, n, q/2, 5e-3) },
		func() float64 { p, _, _ := reference.PowerMelt{K: k, N: n}.Slit(q/2, 3e-3, 0.8e-3, 1e-3); return p },
		func() float64 { p, _, _ := reference.PowerMelt{K: k, N: n}.Slit(q/2, 10e-3, 1.5e-3, 30e-3); return p },
	} {
		want += dp()
	}
	if !r.Filled || math.Abs(r.Peak/want-1) > 0.003 {
		t.Errorf("filled %v with %.4g Pa, closed form %.4g", r.Filled, r.Peak, want)
	}
	if math.Abs(r.Time*q/r.Volume-1) > 0.002 {
		t.Errorf("filled in %.4g s, volume over flow is %.4g s", r.Time, r.Volume/q)
	}
	disc := &Mould{Surface: 300, Wall: heldFace(), Contact: math.Inf(1),
		Elements: []Element{{Name: "disc", Shape: DiscGap, D1: 2e-3, D2: 30e-3, Height: 1.5e-3, Copies: 1,
			Cavity: true}}}
	r = fill(t, c, disc, Settings{Melt: 500, Flow: 20e-9, NoHeat: true, Stations: 200, Cells: 40})
	d := reference.PowerMelt{K: k, N: n}.Disc(1.5e-3, 1e-3, 15e-3, 20e-9)
	if math.Abs(r.Peak/d.Pressure-1) > 0.005 || math.Abs((r.Open+r.Peak*math.Pi*1e-6)/d.Force-1) > 0.005 ||
		math.Abs(r.Time/d.Time-1) > 0.002 {
		t.Errorf("disc: %.4g Pa, %.4g N, %.4g s; closed form %+v", r.Peak, r.Open, r.Time, d)
	}
}

// At constant pressure the front of a strip goes with time to the power n/(n+1).
func TestForceLimitedFrontMeetsTheClosedForm(t *testing.T) {
	const k, n, p = 6000, 0.5, 5e6
	m := &Mould{Surface: 300, Wall: heldFace(), Contact: math.Inf(1),
		Elements: []Element{{Name: "strip", Shape: StripGap, Width: 10e-3, Height: 1.5e-3, Length: 60e-3, Copies: 1,
			Cavity: true}}}
	r := fill(t, powerCase(k, n), m,
		Settings{Melt: 500, Flow: 1e-4, NoHeat: true, Supply: func(float64) float64 { return p }, Stations: 80})
	if !r.Filled || r.Limited == 0 {
		t.Fatalf("%+v", r)
	}
	at := 0
	for i, x := range r.Trace {
		if x.Front < 30e-3 {
			at = i
		}
	}
	for _, x := range []Sample{r.Trace[at], r.Trace[len(r.Trace)-1]} {
		if want := (reference.PowerMelt{K: k, N: n}).Strip(1.5e-3, p, x.Time); math.Abs(x.Front/want-1) > 0.015 {
			t.Errorf("after %.4g s at %.4g mm, closed form %.4g mm", x.Time, x.Front*1e3, want*1e3)
		}
	}
}

// heated is the check fluid of the heated tables (test constants) poured into a cold strip.
func heated() (*flow.Case, *Mould) {
	m := flowtest.HeatedFluid()
	m.Ejection = 363
	return &flow.Case{Material: m}, &Mould{Surface: 333, Wall: heldFace(), Contact: math.Inf(1), Elements: []Element{
		{Name: "gate", Shape: StripGap, Width: 5e-3, Height: 1.2e-3, Length: 2e-3, Copies: 1},
		{Name: "strip", Shape: StripGap, Width: 10e-3, Height: 2e-3, Length: 20e-3, Copies: 1, Cavity: true},
	}}
}

// Heat and mass close, and the answer settles with the grid.
func TestColdMouldBalancesAndConverges(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	c, m := heated()
	var p, ti, frozen []float64
	for _, f := range []int{1, 2, 4} {
		r := fill(t, c, m, Settings{Melt: 503, Flow: 60e-9, Cells: DefaultCells * f, Stations: DefaultStations * f})
		if !r.Filled || r.Balance > 1e-5 || math.Abs(r.Time*60e-9/r.Volume-1) > 1e-6 {
			t.Errorf("grid %d: filled %v, balance %.2g, time %.4g s of %.4g", f, r.Filled, r.Balance, r.Time,
				r.Volume/60e-9)
		}
		p, ti, frozen = append(p, r.Peak), append(ti, r.Cooling), append(frozen, r.Trace[len(r.Trace)-1].Frozen)
	}
	t.Logf("pressure %.4g, cooling %.4g, frozen %.3g", p, ti, frozen)
	if e := math.Abs(p[0]/p[2] - 1); e > 0.03 {
		t.Errorf("default grid %.2f %% from the finest", 100*e)
	}
	if math.Abs(p[1]-p[2]) > math.Abs(p[0]-p[1]) {
		t.Errorf("pressures do not settle: %v", p)
	}
}

// strip is a cold strip without a gate.
func strip() (*flow.Case, *Mould) {
	c, m := heated()
	m.Elements = m.Elements[1:]
	return c, m
}

// A mould too thin or too cold fills short, and says why; a feeder too weak too.
func TestShortShots(t *testing.T) {
	c, m := heated()
	m.Elements[1].Height, m.Elements[1].Length = 0.5e-3, 60e-3
	strong := func(float64) float64 { return 20e6 }
	r := fill(t, c, m, Settings{Melt: 503, Flow: 10e-9, Supply: strong})
	if r.Filled || r.Where != "strip" || !strings.Contains(r.Why, "frozen") {
		t.Errorf("%v at %q: %q", r.Filled, r.Where, r.Why)
	}
	last := r.Trace[len(r.Trace)-1]
	if r.Peak > 20.1e6 || last.Flow > 10e-9 || last.Filled >= 1 {
		t.Errorf("peak %.3g, end %+v", r.Peak, last)
	}
	c, m = heated()
	r = fill(t, c, m, Settings{Melt: 503, Flow: 60e-9, Supply: func(float64) float64 { return 1e5 }})
	if r.Filled || r.Why == "" || r.Limited == 0 {
		t.Errorf("0.1 MPa filled it: %+v", r.Why)
	}
}

func TestImpossibleMouldsAreRefused(t *testing.T) {
	c, good := heated()
	for name, change := range map[string]func(m *Mould, s *Settings){
		"nothing":   func(m *Mould, s *Settings) { m.Elements = nil },
		"shape":     func(m *Mould, s *Settings) { m.Elements[0].Shape = "star" },
		"height":    func(m *Mould, s *Settings) { m.Elements[0].Height = 0 },
		"copies":    func(m *Mould, s *Settings) { m.Elements[0].Copies = 0 },
		"hot mould": func(m *Mould, s *Settings) { m.Surface = 600 },
		"flow":      func(m *Mould, s *Settings) { s.Flow = math.NaN() },
		"contact":   func(m *Mould, s *Settings) { m.Contact = 0 },
		"disc": func(m *Mould, s *Settings) {
			m.Elements[0] = Element{Shape: DiscGap, D1: 2e-3, D2: 1e-3, Height: 1e-3, Copies: 1}
		},
	} {
		m := *good
		m.Elements = append([]Element{}, good.Elements...)
		s := Settings{Melt: 503, Flow: 60e-9}
		change(&m, &s)
		if _, err := Fill(context.Background(), c, &m, s); err == nil {
			t.Errorf("%s was accepted", name)
		}
	}
}

// standing is the first station of a mould, filled at once.
func standing(t *testing.T, c *flow.Case, m *Mould, s Settings) (*filler, *station) {
	t.Helper()
	if err := s.check(c, m); err != nil {
		t.Fatal(err)
	}
	r := newRun(c, m, s)
	r.st[0].front = 1
	return r.filler, r.st[0]
}

// Standing melt between cold walls: the frozen layer grows as in Neumann's solution while the middle is still hot, and
// the time to the ejection temperature is that of the plate formula.
func TestStandingMeltFreezesAndCoolsAsTheClosedForms(t *testing.T) {
	const wall, melt, freeze, latent = 330.0, 480.0, 420.0, 60e3
	m := flowtest.HeatedFluid()
	m.Heat = materials.NewHeat(materials.Constant(2000), latent, freeze-0.5, freeze+0.5)
	m.Ejection = 363
	c := &flow.Case{Material: m}
	slab := &Mould{Surface: wall, Wall: heldFace(), Contact: math.Inf(1),
		Elements: []Element{{Name: "slab", Shape: StripGap, Width: 50e-3, Height: 20e-3, Length: 10e-3, Copies: 1,
			Cavity: true}}}
	f, s := standing(t, c, slab, Settings{Melt: melt, Flow: 1e-6, Cells: 160, Stations: 4})
	n := heat.Freeze{KSolid: 0.18, KLiquid: 0.18, Rho: 1200, CSolid: 2000, CLiquid: 2000, Latent: latent, Melt: melt,
		Freeze: freeze, Wall: wall}
	for at := 0.0; at < 60; {
		f.energy(nil, s, 0, 1, 0.02, still)
		if at += 0.02; math.Abs(at-20) < 0.01 || at >= 60 {
			frozen := 0.0
			for i := f.n - 1; i > 0 && s.T[i] < freeze; i-- { // between cells by straight line
				frozen = 1 - f.xi[i]
				if s.T[i-1] >= freeze {
					frozen += (f.xi[i] - f.xi[i-1]) * (freeze - s.T[i]) / (s.T[i-1] - s.T[i])
				}
			}
			if want := n.Layer(at); math.Abs(frozen*10e-3/want-1) > 0.02 {
				t.Errorf("after %.0f s %.4g mm are frozen, Neumann %.4g mm", at, frozen*10, want*1e3)
			}
		}
	}
	// Cooling, without latent heat: 1 per cent of the series.
	m.Heat = materials.NewHeat(materials.Constant(2000), 0, 0, 0)
	for _, e := range []Element{{Shape: StripGap, Width: 20e-3, Height: 2e-3, Length: 10e-3, Copies: 1, Cavity: true},
		{Shape: Round, D1: 4e-3, D2: 4e-3, Length: 10e-3, Copies: 1, Cavity: true}} {
		f, s := standing(t, c, &Mould{Surface: wall, Wall: heldFace(), Contact: math.Inf(1), Elements: []Element{e}},
			Settings{Melt: melt, Flow: 1e-6, Stations: 4})
		want, _ := reference.Cooling{Alpha: 0.18 / 1200 / 2000, Melt: melt, Mould: wall}.Plate(2e-3, m.Ejection)
		if e.Shape == Round {
			want, _ = reference.Cooling{Alpha: 0.18 / 1200 / 2000, Melt: melt, Mould: wall}.Rod(4e-3, m.Ejection)
		}
		if _, got := f.cool(s, m.Ejection); math.Abs(got/want-1) > 0.02 {
			t.Errorf("%s cools in %.4g s, closed form %.4g s", e.Shape, got, want)
		}
	}
}

// Whatever the measures, a filling ends in finite numbers.
func TestFillingEndsInNumbers(t *testing.T) {
	pla, err := materials.Get("pla")
	if err != nil {
		t.Fatal(err)
	}
	c := &flow.Case{Material: pla}
	walls := []Wall{heldFace()}
	for _, n := range WallNames() {
		w, _ := WallOf(n)
		walls = append(walls, w)
	}
	rapid.Check(t, func(t *rapid.T) {
		m := &Mould{Surface: rapid.Float64Range(280, 400).Draw(t, "wall"),
			Wall:    rapid.SampledFrom(walls).Draw(t, "material"),
			Contact: rapid.SampledFrom([]float64{300, 2000, math.Inf(1)}).Draw(t, "H"), Elements: []Element{
				{Name: "gate", Shape: Round, D1: rapid.Float64Range(0.5e-3, 4e-3).Draw(t, "gate"), D2: 2e-3,
					Length: 3e-3, Copies: 1},
				{Name: "strip", Shape: StripGap, Width: 8e-3,
					Height: rapid.Float64Range(0.2e-3, 5e-3).Draw(t, "height"),
					Length: rapid.Float64Range(1e-3, 0.1).Draw(t, "length"), Copies: 2, Cavity: true},
			}}
		r, err := Fill(context.Background(), c, m,
			Settings{Melt: 483, Flow: rapid.Float64Range(1e-10, 1e-6).Draw(t, "flow"),
				Supply: func(q float64) float64 { return 25e6 * (1 - q/2e-6) }, Stations: 10, Cells: 12})
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range []float64{r.Time, r.Peak, r.Open, r.OpenLow, r.OpenHigh, r.Cooling, r.GateFreeze, r.Balance} {
			if math.IsNaN(x) || math.IsInf(x, 0) || x < 0 {
				t.Fatalf("%+v", r)
			}
		}
		if r.Balance > 1e-6 {
			t.Fatalf("energy balance %.2g", r.Balance)
		}
		if !r.Filled && r.Why == "" {
			t.Fatal("short without a reason")
		}
	})
}

// Melt that creeps for an hour between walls above its no-flow temperature ends as late, whatever steps that takes; the
// longer steps of a filling that stands still change nothing that is seen.
func TestCreepBetweenWarmWallsEnds(t *testing.T) {
	pla, err := materials.Get("pla")
	if err != nil {
		t.Fatal(err)
	}
	steel, err := WallOf("steel")
	if err != nil {
		t.Fatal(err)
	}
	m := &Mould{Surface: 400, Wall: steel, Contact: math.Inf(1), Elements: []Element{
		{Name: "gate", Shape: Round, D1: 3.55e-3, D2: 2e-3, Length: 3e-3, Copies: 1},
		{Name: "strip", Shape: StripGap, Width: 8e-3, Height: 0.401e-3, Length: 81e-3, Copies: 2, Cavity: true},
	}}
	s := Settings{Melt: 483, Flow: 3.43e-9, Stations: 10, Cells: 12,
		Supply: func(q float64) float64 { return 25e6 * (1 - q/2e-6) }}
	r, err := Fill(t.Context(), &flow.Case{Material: pla}, m, s)
	if err != nil {
		t.Fatal(err)
	}
	if r.Filled || r.Stop != Late {
		t.Fatalf("filled %t, stop %q after %.0f s; want late", r.Filled, r.Stop, r.Time)
	}
	// By then the melt is as warm as its walls: the flow is that of a slit at the wall stress of the slope in pressure,
	// its side walls left out.
	n := len(r.Profile.X)
	slope := (r.Profile.P[n-10] - r.Profile.P[n-3]) / (r.Profile.X[n-3] - r.Profile.X[n-10])
	melt := pla.Viscosity
	melt.Cap = DefaultSolidCap
	law := duct.At(&melt, 400, 0)
	e := m.Elements[1]
	want := 2 * law.SlitFlow(slope*e.Height/2, e.Width, e.Height)
	if got := r.Trace[len(r.Trace)-1].Flow; math.Abs(got/want-1) > 0.02 {
		t.Errorf("creeps at %.4g mm3/s, a slit at %.4g mm3/s", got*1e9, want*1e9)
	}
}

func BenchmarkFill(b *testing.B) {
	c, m := heated()
	for b.Loop() {
		if _, err := Fill(context.Background(), c, m, Settings{Melt: 503, Flow: 60e-9}); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkStrip fills the strip that the plain solution fills.
func BenchmarkStrip(b *testing.B) {
	c, m := strip()
	for b.Loop() {
		if _, err := Fill(context.Background(), c, m, Settings{Melt: 503, Flow: 60e-9}); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkPlain is the independent explicit solution of the same strip.
func BenchmarkPlain(b *testing.B) {
	c, m := strip()
	for b.Loop() {
		plain(c, m, 503, 60e-9, 0, 40, 24)
	}
}
