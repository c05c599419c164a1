package mould

import (
	"math"
	"strings"
	"testing"

	"meltload/flow/duct"
	"meltload/materials"
)

// Trapezoid and rectangle by hand, and the measure across which each shape cools.
func TestOtherElementsByHand(t *testing.T) {
	trapezoid := Element{Shape: Trapezoid, Width: 4e-3, Narrow: 2e-3, Height: 3e-3, Length: 10e-3, Copies: 2}
	rectangle := Element{Shape: Rectangle, Width: 4e-3, Height: 2e-3, Length: 10e-3, Copies: 2}
	for _, x := range []struct {
		e                       Element
		volume, area, thickness float64
	}{
		{trapezoid, 2 * 9e-6 * 10e-3, 2 * 4e-3 * 10e-3, 4 * 9e-6 / (6e-3 + 2*math.Sqrt(10)*1e-3)},
		{rectangle, 2 * 8e-6 * 10e-3, 2 * 4e-3 * 10e-3, 4 * 8e-6 / 12e-3},
		{Element{Shape: HalfRound, D1: 4e-3, Length: 10e-3, Copies: 1}, math.Pi / 2 * 4e-6 * 10e-3, 4e-5,
			4 * math.Pi / 2 * 4e-6 / (math.Pi*2e-3 + 4e-3)},
		{Element{Shape: Round, D1: 2e-3, D2: 4e-3, Length: 10e-3, Copies: 1}, math.Pi / 3 * 10e-3 * 7e-6, 3e-5, 4e-3},
		{Element{Shape: Sprue, D1: 5e-3, D2: 4e-3, Length: 12e-3, Copies: 1}, math.Pi * 61e-9, math.Pi * 6.25e-6, 5e-3},
		{Element{Shape: DiscGap, D1: 2e-3, D2: 4e-3, Height: 1e-3, Copies: 3}, 9 * math.Pi * 1e-9,
			9 * math.Pi * 1e-6, 1e-3},
	} {
		for what, v := range map[string][2]float64{"volume": {x.e.Volume(), x.volume},
			"area": {x.e.Projected(), x.area}, "thickness": {x.e.thickness(), x.thickness}} {
			if math.Abs(v[0]/v[1]-1) > 1e-9 {
				t.Errorf("%s: %s %g, by hand %g", x.e.Shape, what, v[0], v[1])
			}
		}
	}
}

// Each measure that a shape has is needed, and no other one is.
func TestMeasuresThatAShapeNeeds(t *testing.T) {
	measures := map[string]func(e *Element) *float64{
		"D1":     func(e *Element) *float64 { return &e.D1 },
		"D2":     func(e *Element) *float64 { return &e.D2 },
		"width":  func(e *Element) *float64 { return &e.Width },
		"narrow": func(e *Element) *float64 { return &e.Narrow },
		"height": func(e *Element) *float64 { return &e.Height },
		"length": func(e *Element) *float64 { return &e.Length },
	}
	for shape, needs := range map[Shape]string{Sprue: "D1 D2 length", Round: "D1 D2 length", HalfRound: "D1 length",
		Trapezoid: "width narrow height length", Rectangle: "width height length", StripGap: "width height length",
		DiscGap: "D1 D2 height"} {
		for name, at := range measures {
			for _, v := range []float64{0, -1, math.Inf(1), math.NaN()} {
				e := Element{Shape: shape, D1: 1e-3, D2: 2e-3, Width: 3e-3, Narrow: 1e-3, Height: 1e-3, Length: 5e-3,
					Copies: 1}
				*at(&e) = v
				m := Mould{Surface: 333, Contact: 1, Wall: heldFace(), Elements: []Element{e}}
				if bad := m.Validate() != nil; bad != strings.Contains(needs, name) {
					t.Errorf("%s with %s of %g: refused %t", shape, name, v, bad)
				}
			}
		}
	}
	for _, x := range []struct {
		surface, contact float64
		ok               bool
	}{{235, 1, false}, {236, 1, true}, {699, 1, true}, {700, 1, false}, {333, 0, false}, {333, math.Inf(1), true}} {
		m := Mould{Surface: x.surface, Contact: x.contact, Wall: heldFace(), Elements: []Element{aStrip}}
		if (m.Validate() == nil) != x.ok {
			t.Errorf("%+v: %v", x, m.Validate())
		}
	}
}

// What a filling may be set to: both sides of every limit, and the defaults of what is left out.
func TestSettingsThatCanBe(t *testing.T) {
	c, m := heated()
	for what, x := range map[string]struct {
		s  Settings
		ok bool
	}{
		"good": {Settings{Melt: 503, Flow: 1e-8}, true}, "as cold": {Settings{Melt: 333, Flow: 1e-8}, false},
		"too hot": {Settings{Melt: materials.TableHigh, Flow: 1e-8}, false},
		"slowest": {Settings{Melt: 503, Flow: 1e-12}, true}, "slower": {Settings{Melt: 503, Flow: 0.9e-12}, false},
		"fastest": {Settings{Melt: 503, Flow: 1e-3}, true}, "faster": {Settings{Melt: 503, Flow: 1.1e-3}, false},
		"no bound":   {Settings{Melt: 503, Flow: 1e-8, SolidCap: -1}, false},
		"below zero": {Settings{Melt: 503, Flow: 1e-8, NoFlow: -1}, false},
		"no heat":    {Settings{Melt: 503, Flow: 1e-8, NoFlow: -1, NoHeat: true}, true},
	} {
		s := x.s
		if err := s.check(c, m); (err == nil) != x.ok {
			t.Errorf("%s: %v", what, err)
		}
	}
	s := checked(t, c, m, Settings{Melt: 503, Flow: 1e-8})
	if s.Cells != 20 || s.WallCells != 12 || s.Stations != 32 || s.Longest != 3600 || s.SolidCap != 1e7 ||
		s.NoFlow != NoFlow(c.Material) {
		t.Errorf("%+v", s)
	}
	given := Settings{Melt: 503, Flow: 1e-8, Cells: 7, WallCells: 5, Stations: 9, Longest: 11, SolidCap: 1e8,
		NoFlow: 400}
	if s := checked(t, c, m, given); s.Cells != 7 || s.WallCells != 5 || s.Stations != 9 || s.Longest != 11 ||
		s.SolidCap != 1e8 || s.NoFlow != 400 {
		t.Errorf("%+v", s)
	}
	mat := *c.Material
	mat.Cooling = [2]float64{370, 390}
	if got := noFlow(&mat); got != 380 {
		t.Errorf("stands still at %g K, the middle of its cooling range is 380 K", got)
	}
}

// The defaults of a mould to fill; what is given stays.
func TestDefaultsOfASpec(t *testing.T) {
	var m Spec
	m.Complete()
	metal, _ := WallOf("aluminium")
	if m.Contact != 3000 || m.Safety != 1.5 || m.SolidCap != 1e7 || m.NoFlowRange != 15 || m.SurfaceRange != 5 ||
		m.Open != 20 || m.Shots != 12 || m.ContactRange != [2]float64{1000, math.Inf(1)} || m.Wall != metal {
		t.Errorf("%+v", m)
	}
	m = Spec{Mould: Mould{Contact: 500, Wall: heldFace()}, Safety: 2, SolidCap: 1e8, NoFlowRange: 3, SurfaceRange: 2,
		Open: 7, Shots: 4, Flow: 1e-8, NoFlow: 400}
	m.Complete()
	if m.Contact != 500 || m.Safety != 2 || m.SolidCap != 1e8 || m.NoFlowRange != 3 || m.SurfaceRange != 2 ||
		m.Open != 7 || m.Shots != 4 || m.ContactRange != [2]float64{500, math.Inf(1)} || m.Wall != heldFace() {
		t.Errorf("%+v", m)
	}
	if s := m.Settings(); s.Flow != 1e-8 || s.NoFlow != 400 || s.SolidCap != 1e8 {
		t.Errorf("%+v", s)
	}
	m.ContactRange = [2]float64{400, 600}
	if m.Complete(); m.ContactRange != [2]float64{400, 600} {
		t.Errorf("%v", m.ContactRange)
	}
	m.Elements = []Element{aStrip}
	if x := m.Clone(); &x.Elements[0] == &m.Elements[0] || x.Elements[0] != aStrip || (*Spec)(nil).Clone() != nil {
		t.Error("a clone shares its elements, or is none")
	}
}

// An element is cut into stations a twentieth of its thickness long or shorter, those of a feed half as many; no
// shorter than a ten-thousandth of the element.
func TestHowAnElementIsCut(t *testing.T) {
	f := inMetal(t, heldFace(), aStrip)
	for _, x := range []struct {
		length, height float64
		cavity         bool
		stations, most int
		halvings       float64
	}{{64e-3, 100e-3, true, 32, 64, 0}, {64e-3, 10.1e-3, true, 32, 64, 1}, {64e-3, 4.1e-3, true, 32, 64, 3},
		{64e-3, 100e-3, false, 32, 32, 0}, {64e-3, 100e-3, false, 6, 8, 1}, {64, 1e-6, true, 32, 64, 8}} {
		f.s.Stations = x.stations
		p := f.pathOf(&Element{Shape: StripGap, Width: 0.1, Height: x.height, Length: x.length, Cavity: x.cavity})
		if first := x.length / float64(x.most) / math.Pow(2, x.halvings); p.most != x.most || p.length != x.length ||
			math.Abs(p.first/first-1) > 1e-9 {
			t.Errorf("%+v: %+v, want %g m", x, p, first)
		}
	}
}

// The front freezes within a step by a straight line of the coldest place in time; a place is as warm as its hottest
// layer, and the tip as what reaches it.
func TestFreezingWithinAStep(t *testing.T) {
	c, m := strip()
	r := newRun(c, m, checked(t, c, m, Settings{Melt: 503, Flow: 60e-9, NoFlow: 400}))
	p := r.pathOf(&m.Elements[0])
	r.add(0, &p, 1e-3, 1e-3)
	set := func(s *station, T float64) {
		for i := range s.T {
			s.T[i], s.rise[i] = 340, 0
		}
		s.T[3] = T
	}
	for _, x := range []struct{ was, first, tip, want, warmest float64 }{{410, 401, 405, 1, 401},
		{410, 405, 401, 1, 401},
		{410, 395, 405, 10.0 / 15, 395}, {410, 450, 380, 10.0 / 30, 380}, {400, 450, 380, 0, 380},
		{410, 400, 450, 1, 400},
		{390, 450, 380, 0, 380}} {
		r.warmest = x.was
		set(r.st[0], x.first)
		set(r.st[1], x.tip)
		if got := r.frozenWithin(); math.Abs(got-x.want) > 1e-12 || r.warmest != x.warmest {
			t.Errorf("%+v: after %g of the step, warmest %g K", x, got, r.warmest)
		}
	}
	r.warmest = 410
	set(r.st[0], 450)
	set(r.st[1], 395)
	r.st[1].rise[3] = 7 * r.prop.capacity(395)
	if got := r.frozenWithin(); got != 1 || math.Abs(r.warmest-402) > 1e-9 {
		t.Errorf("a warmer tip: %g, %g K", got, r.warmest)
	}
	// The share of the thickness that is frozen, where it is most.
	set(r.st[0], 450)
	set(r.st[1], 450)
	r.st[0].T[4] = 400
	share, at := r.frozen()
	if want := 1 - (r.face[4] - r.face[3]); math.Abs(share-want) > 1e-12 || at != 1 {
		t.Errorf("%g frozen at station %d, want %g at 1", share, at, want)
	}
	if why := r.why(Spent); !strings.HasPrefix(why, "frozen") {
		t.Errorf("%q", why)
	}
	for _, s := range r.st {
		for i := range s.T {
			s.T[i] = 450
		}
	}
	for stop, want := range map[Stop]string{Late: "it creeps", Spent: "the force", Frozen: "frozen"} {
		if why := r.why(stop); !strings.HasPrefix(why, want) {
			t.Errorf("%s: %q", stop, why)
		}
	}
}

// The table of properties gives back enthalpy and temperature on either side of its steps, held lines beyond its ends,
// and a factor on viscosity divides the fluidity but for the bound.
func TestTableOfProperties(t *testing.T) {
	c, m := strip()
	r := newRun(c, m, checked(t, c, m, Settings{Melt: 503, Flow: 60e-9}))
	for _, T := range []float64{300, 333.3, 450, 500.25, 503} {
		h := r.prop.enthalpy(T)
		if want := r.heat.Enthalpy(T); math.Abs(h-want) > 1e-3*math.Abs(r.heat.Enthalpy(T+50)-want) {
			t.Errorf("%g K: %g J/kg, want %g", T, h, want)
		}
		for _, guess := range []float64{0, 290, T, 520, 5000} {
			if got := r.prop.temperature(h, guess); math.Abs(got-T) > 1e-9*T {
				t.Errorf("%g J/kg from %g K: %g K, want %g", h, guess, got, T)
			}
		}
	}
	double := *c
	double.ViscosityFactor = 2
	d := newRun(&double, m, checked(t, c, m, Settings{Melt: 503, Flow: 60e-9}))
	a, _ := r.prop.of(480)
	b, _ := d.prop.of(480)
	cap := 1 / r.law.Cap
	if math.Abs((a.phi-cap)/(b.phi-cap)-2) > 1e-9 || math.Abs(a.dphi/b.dphi-2) > 1e-6 {
		t.Errorf("fluidity %g, of twice the viscosity %g", a.phi, b.phi)
	}
}

// A row of properties by hand: a duct's drop over that of the tube of its hydraulic diameter.
func TestDropOfADuctOverItsTube(t *testing.T) {
	c := powerCase(6000, 0.5)
	e := Element{Name: "half", Shape: HalfRound, D1: 3e-3, Length: 5e-3, Copies: 1}
	m := &Mould{Surface: 300, Wall: heldFace(), Contact: math.Inf(1), Elements: []Element{e}}
	r := newRun(c, m, checked(t, c, m, Settings{Melt: 500, Flow: 40e-9, NoHeat: true, Cells: 40}))
	s := r.st[0]
	s.front = 1
	r.refresh()
	p, power := r.pressure(40e-9)
	want := duct.HalfRound(1.5e-3).PowerDrop(6000, 0.5, 40e-9, s.dx)
	if math.Abs(p/want-1) > 0.003 || math.Abs(power-0.5) > 1e-3 || s.p != p {
		t.Errorf("%g Pa to the power %g, closed form %g", p, power, want)
	}
}
