package mould

import (
	"math"
	"testing"

	"meltload/materials"
)

// inMetal is a filler of a strip and a runner in a wall of its own.
func inMetal(t *testing.T, w Wall, e ...Element) *filler {
	t.Helper()
	c, m := heated()
	m.Wall, m.Contact, m.Elements = w, 2000, e
	s := Settings{Melt: 503, Flow: 20e-9}
	if err := s.check(c, m); err != nil {
		t.Fatal(err)
	}
	return newFiller(c, m, s)
}

var (
	aStrip = Element{Name: "strip", Shape: StripGap, Width: 10e-3, Height: 2e-3, Length: 20e-3, Copies: 1,
		Cavity: true}
	aRunner = Element{Name: "runner", Shape: Round, D1: 3e-3, D2: 2e-3, Length: 10e-3, Copies: 2}
)

// The wall is cut into cells from the face to the back that grow by one ratio, the first six times as thick as answers
// as fast as the last cell of the melt in the thinnest element; a shallow wall is cut evenly.
func TestWallIsCutFromItsFace(t *testing.T) {
	w := Wall{Name: "steel", K: 30, RhoC: 3.7e6, Depth: 20e-3, Air: 0, AirT: 298}
	f := inMetal(t, w, aRunner, aStrip)
	e := f.wallEdge
	if e[0] != 0 || math.Abs(e[f.nw]/20e-3-1) > 1e-9 || f.nw != DefaultWallCells {
		t.Fatalf("%v", e)
	}
	alpha := f.c.Material.Conductivity.At(503) * f.rho / f.rho / f.rho / f.c.Material.Heat.Cp.At(503)
	last := 1 - f.face[f.n-1]
	if want := 6 * 1e-3 * last * math.Sqrt(30/3.7e6/alpha); math.Abs(e[1]/want-1) > 1e-6 {
		t.Errorf("the first cell is %g m, want %g", e[1], want)
	}
	ratio := (e[2] - e[1]) / e[1]
	for i := 2; i < f.nw; i++ {
		if got := (e[i+1] - e[i]) / (e[i] - e[i-1]); math.Abs(got/ratio-1) > 1e-6 || ratio <= 1 {
			t.Errorf("cell %d is %g times the one before, the second %g times the first", i, got, ratio)
		}
	}
	w.Depth = 1e-3
	e = inMetal(t, w, aStrip).wallEdge
	if math.Abs(e[1]*float64(len(e)-1)/1e-3-1) > 1e-9 {
		t.Errorf("a shallow wall begins with %g m", e[1])
	}
}

// Conductances across the wall by hand: half a cell of melt, contact and half a cell of wall in series at the face; a
// link between cells; half a cell and the air at the back. About a runner the area grows with the depth.
func TestWayThroughTheWallByHand(t *testing.T) {
	w := Wall{Name: "resin", K: 0.25, RhoC: 1.9e6, Depth: 10e-3, Air: 10, AirT: 300}
	f := inMetal(t, w, aRunner, aStrip)
	e := f.wallEdge
	for i := range f.k {
		f.k[i] = 0.2
	}
	for k := range f.m.Elements {
		p := f.pathOf(&f.m.Elements[k])
		s := f.add(k, &p, 4e-3, 2e-3)
		s.front = 0.5
		area := func(depth float64) float64 {
			if k == 1 {
				return 2 * 10e-3 * 4e-3
			}
			r := (1.4e-3 + 1.2e-3) / 2 // 2 to 6 mm along it
			return 2 * math.Pi * (r + depth) * 4e-3
		}
		last := 1 - f.xi[f.n-1]
		way := last*s.half/0.2 + 1.0/2000 + e[1]/2/0.25*area(0)/area(e[1]/4)
		face := 0.5 * area(0) / way
		link := 0.5 * 0.25 * area(e[2]) / ((e[3] - e[1]) / 2)
		n := f.nw
		back := 0.5 * area(e[n]) / ((e[n]-e[n-1])/2/0.25 + 0.1)
		g, T := f.back(s)
		for what, x := range map[string][2]float64{"face": {f.toFace(s, f.row(s)), face},
			"link": {f.wallLink(s, 1), link}, "back": {g, back}, "air": {T, 300},
			"room": {f.wallRoom(s, 1), (e[2] - e[1]) * area((e[1]+e[2])/2)}} {
			if math.Abs(x[0]/x[1]-1) > 1e-3 {
				t.Errorf("%s, %s: %g, by hand %g", f.m.Elements[k].Name, what, x[0], x[1])
			}
		}
		// The face of the mould lies half a cell of wall nearer than the first wall cell.
		for i := range s.T {
			s.T[i] = 450
		}
		s.wall[0] = 340
		q := f.toFace(s, f.row(s)) / (area(0) * 0.5) * (450 - 340)
		f.k[f.n-1] = 0.2
		own := f.conductivity(450)
		q *= (last*s.half/0.2 + (way - last*s.half/0.2)) / (last*s.half/own + (way - last*s.half/0.2))
		if got, want := f.surfaceOf(s), 340+q*e[1]/2/0.25; math.Abs(got-want) > 0.02 {
			t.Errorf("%s: face at %.3f K, by hand %.3f K", f.m.Elements[k].Name, got, want)
		}
		f.k[f.n-1] = 0.2
	}
	w.Air = 0
	f = inMetal(t, w, aStrip)
	p := f.pathOf(&aStrip)
	s := f.add(0, &p, 4e-3, 0)
	s.front = 1
	half := (f.wallEdge[f.nw] - f.wallEdge[f.nw-1]) / 2
	if g, T := f.back(s); T != f.m.Surface || math.Abs(g/(0.25*2*10e-3*4e-3/half)-1) > 1e-9 {
		t.Errorf("held back: %g W/K at %g K", g, T)
	}
}

// Two stations made one keep mass, heat of melt and heat of wall.
func TestMergedStationsKeepMassAndHeat(t *testing.T) {
	w := Wall{Name: "resin", K: 0.25, RhoC: 1.9e6, Depth: 10e-3, Air: 10, AirT: 300}
	for k := range 2 {
		f := inMetal(t, w, aRunner, aStrip)
		p := f.pathOf(&f.m.Elements[k])
		for j := range 4 {
			s := f.add(k, &p, 1e-3, float64(j)*1e-3)
			s.front, s.x, s.drop = 1, float64(j+1)*1e-3, float64(j+1)
			for i := range s.T {
				s.T[i] = 400 + float64(10*j+i)
				s.h[i] = f.prop.enthalpy(s.T[i])
			}
			for i := range s.wall {
				s.wall[i] += float64(3*j + i)
			}
		}
		var room, volume float64
		for _, s := range f.st {
			room, volume = room+s.room, volume+s.volume
		}
		melt, wall := f.content()
		f.merge(0)
		m2, w2 := f.content()
		if len(f.st) != 2 || math.Abs(m2/melt-1) > 1e-9 || math.Abs(w2/wall-1) > 2e-3 {
			t.Errorf("%s: %d stations, %g J of melt, %g J of wall; before %g, %g", f.m.Elements[k].Name, len(f.st),
				m2, w2, melt, wall)
		}
		a := f.st[0]
		if math.Abs((a.room+f.st[1].room)/room-1) > 1e-12 || math.Abs((a.volume+f.st[1].volume)/volume-1) > 1e-12 ||
			a.x != 2e-3 || a.drop != 3 || math.Abs(a.dx-2e-3) > 1e-15 {
			t.Errorf("%s: %+v", f.m.Elements[k].Name, a)
		}
		if want := []float64{math.Sqrt(a.room / math.Pi / a.dx), 1e-3}[k]; math.Abs(a.half/want-1) > 1e-12 {
			t.Errorf("%s: half %g m, want %g", f.m.Elements[k].Name, a.half, want)
		}
		if T := f.prop.temperature(a.h[3], 300); math.Abs(T-a.T[3]) > 1e-6 {
			t.Errorf("enthalpy of %g K at %g K", T, a.T[3])
		}
	}
}

// The slope of enthalpy along the flow is limited: half the lesser of the changes and of their mean, none at a turn.
func TestLimitedSlopes(t *testing.T) {
	for _, x := range [][3]float64{{4, 4, 2}, {4, 8, 3}, {1, 8, 1}, {8, 1, 1}, {-4, -8, -3}, {-1, -8, -1}, {4, -4, 0},
		{0, 4, 0}, {-4, 1, 0}} {
		if got := limited(x[0], x[1]); got != x[2] {
			t.Errorf("%g and %g: %g, want %g", x[0], x[1], got, x[2])
		}
	}
}

// The flow through the cells of a station by hand: speed falls to nothing at the wall, by the rate in each cell; in a
// gap and in a tube.
func TestFlowThroughCells(t *testing.T) {
	f := inMetal(t, heldFace(), aRunner, aStrip)
	for k := range 2 {
		p := f.pathOf(&f.m.Elements[k])
		s := f.add(k, &p, 1e-3, 0)
		for i := range s.rate {
			s.rate[i] = f.xi[i] // a parabola, nearly
		}
		const q = 7e-9
		f.flows(s, q)
		sum := 0.0
		for i := range s.q {
			sum += s.q[i]
			a, b := f.face[i], f.face[i+1]
			share := (b - b*b*b/3 - a + a*a*a/3) * 1.5 // in a gap
			if k == 0 {
				share = 2 * (b*b - a*a) * (1 - (a*a+b*b)/2)
			}
			if math.Abs(s.q[i]/q-share) > 2e-3 {
				t.Errorf("%s, cell %d: %g of the flow, want %g", f.m.Elements[k].Name, i, s.q[i]/q, share)
			}
		}
		if math.Abs(sum/q-1) > 1e-12 {
			t.Errorf("%s: %g of the flow in all", f.m.Elements[k].Name, sum/q)
		}
	}
}

// Steps of a filling that hardly changes grow by a tenth to a hundred times, and shrink by half as it moves again.
func TestStepsOfACreepingFilling(t *testing.T) {
	f := &fillRun{pace: 1}
	f.settle(0.9e-3, 0.019)
	if math.Abs(f.pace-1.1) > 1e-12 {
		t.Errorf("pace %g", f.pace)
	}
	for range 100 {
		f.settle(0, 0)
	}
	if f.pace != 100 {
		t.Errorf("pace %g", f.pace)
	}
	for _, x := range [][2]float64{{1.1e-3, 0}, {0, 0.021}} {
		f.pace = 100
		if f.settle(x[0], x[1]); f.pace != 50 {
			t.Errorf("%v: pace %g", x, f.pace)
		}
	}
	f.pace = 1.5
	if f.settle(1, 1); f.pace != 1 {
		t.Errorf("pace %g", f.pace)
	}
}

// The materials of moulds, by the properties that their sources give; a poor conductor stands in still air.
func TestWallsByName(t *testing.T) {
	for _, x := range []struct {
		name      string
		k, rhoC   [2]float64
		depth     float64
		air, held bool
	}{
		{"aluminium", [2]float64{130, 170}, [2]float64{2.4e6, 2.6e6}, 20e-3, false, false},
		{"steel", [2]float64{24, 36}, [2]float64{3.6e6, 3.9e6}, 20e-3, false, false},
		{"brass", [2]float64{105, 125}, [2]float64{3.1e6, 3.3e6}, 20e-3, false, false},
		{"printed-resin", [2]float64{0.2, 0.4}, [2]float64{1.7e6, 2.1e6}, 10e-3, true, false},
		{"cast-epoxy", [2]float64{0.15, 0.25}, [2]float64{1.6e6, 2e6}, 10e-3, true, false},
		{"plaster", [2]float64{0.3, 0.5}, [2]float64{0.9e6, 1.3e6}, 20e-3, true, false},
	} {
		w, err := WallOf(x.name)
		if err != nil || w.K < x.k[0] || w.K > x.k[1] || w.RhoC < x.rhoC[0] || w.RhoC > x.rhoC[1] ||
			w.Depth != x.depth || (w.Air > 0) != x.air || w.AirT != 298.15 || w.validate() != nil {
			t.Errorf("%s: %+v, %v", x.name, w, err)
		}
	}
	good := Wall{K: 1, RhoC: 1e6, Depth: 0.01, Air: 5, AirT: 300}
	for what, change := range map[string]func(w *Wall){"k": func(w *Wall) { w.K = 0 },
		"rho c": func(w *Wall) { w.RhoC = 0 },
		"depth": func(w *Wall) { w.Depth = -1 }, "inf": func(w *Wall) { w.Depth = math.Inf(1) },
		"rho inf": func(w *Wall) { w.RhoC = math.Inf(1) }, "air": func(w *Wall) { w.Air = -1 },
		"cold": func(w *Wall) { w.AirT = 200 }, "hot": func(w *Wall) { w.AirT = 700 }} {
		w := good
		if change(&w); w.validate() == nil {
			t.Errorf("%s: %+v is accepted", what, w)
		}
	}
	good.Air, good.AirT = 0, 0
	if good.validate() != nil {
		t.Errorf("%+v: %v", good, good.validate())
	}
}

// What a filling warns of: a mould at its ejection temperature, melt that is set as it comes, half a minute of filling.
func TestWarningsOfAFilling(t *testing.T) {
	f := inMetal(t, heldFace(), aStrip)
	m := *f.m
	f.m = &m
	for _, x := range []struct {
		surface, melt, time float64
		want                string
	}{{362.9, 503, 29, ""}, {363, 503, 29, "mould-too-hot"}, {340, 503, 31, "slow-fill"}, {340, f.noFlow - 1, 29,
		"melt-too-cold"}} {
		f.m.Surface, f.s.Melt = x.surface, x.melt
		for _, code := range []string{"mould-too-hot", "slow-fill", "melt-too-cold"} {
			if got := materials.Warned(f.warnings(&Result{Time: x.time}), code); got != (code == x.want) {
				t.Errorf("%+v: %s %t", x, code, got)
			}
		}
	}
}

// A row of shots asks for what can be: a shot at least, air to cool in, a cycle longer than the mould is open.
func TestRowsOfShotsThatCannotBe(t *testing.T) {
	c, m := heated()
	m.Wall, _ = WallOf("printed-resin")
	good := RepeatSettings{Melt: 503, Shots: 1, Open: 20, AirT: 298}
	for what, x := range map[string]struct {
		change func(s *RepeatSettings)
		ok     bool
	}{
		"good": {func(*RepeatSettings) {}, true}, "no shot": {func(s *RepeatSettings) { s.Shots = 0 }, false},
		"open back":      {func(s *RepeatSettings) { s.Open = -1 }, false},
		"never open":     {func(s *RepeatSettings) { s.Open = 0 }, true},
		"short cycle":    {func(s *RepeatSettings) { s.Cycle = 20 }, false},
		"longer cycle":   {func(s *RepeatSettings) { s.Cycle = 21 }, true},
		"cold air":       {func(s *RepeatSettings) { s.AirT = 200 }, false},
		"hot air":        {func(s *RepeatSettings) { s.AirT = 700 }, false},
		"air that heats": {func(s *RepeatSettings) { s.Air = -1 }, false},
	} {
		s := good
		x.change(&s)
		if _, err := Repeat(t.Context(), c, m, s); (err == nil) != x.ok {
			t.Errorf("%s: %v", what, err)
		}
	}
}
