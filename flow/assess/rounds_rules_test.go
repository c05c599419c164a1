package assess

import (
	"context"
	"math"
	"slices"
	"testing"

	"meltload/flow/feeder"
	"meltload/flow/march"
	"meltload/flow/mould"
	"meltload/flow/setup"
	"meltload/flow/vary"
	"meltload/materials"
	"meltload/materials/unit"
)

// drawn is a group of 64 draws of one unknown, z evenly between -1 and 1 on its scale, whose flows lie on a surface
// that is known: the push grows by 0.3 z in its logarithm, so that the feeder's flow is 20 mm3/s less that.
func drawn(t *testing.T) *group {
	t.Helper()
	s, _ := bench(t)
	us := Unknowns(s)
	s.Doubts = map[string]setup.Doubt{}
	for _, u := range us {
		s.Doubts[string(u.ID)] = setup.Doubt{}
	}
	s.Doubts[string(vary.Viscosity)] = setup.Doubt{Kind: setup.Factor, High: 2}
	us = Unknowns(s)
	melt, in := s.Material.FlowPoint(), s.Filament.Inlet
	g := &group{ctx: t.Context(), us: us, base: march.New(&s.Case, march.Options{}), guide: newSurface(us, middleFlow,
		false)}
	g.first = *newSampler(s, us, g.base, middleFlow, Sample{})
	const n = 64
	for i := range n {
		z := 2*(float64(i)+0.5)/n - 1
		x := Middle(us)
		x[g.guide.at[0]] = math.Exp(g.guide.mid[0] + g.guide.half[0]*z)
		var seen []probe
		for _, u := range []float64{-1, -0.5, 0, 0.4, 0.8} {
			p := probe{q: middleFlow * math.Exp(u), solved: true}
			p.y = [outputs]float64{math.Log(20) + u + 0.3*z, 14 + u, 3 + 0.5*u,
				melt + (melt-in)*0.3*(math.Log(1.5)-u), 480 + u, 1}
			seen = append(seen, p)
		}
		g.draws, g.seen = append(g.draws, x), append(g.seen, seen)
		g.out = append(g.out, Sample{Usable: 20 * unit.MM3 * math.Exp(-0.3*z), Pushed: 20 * unit.MM3 * math.Exp(-0.3*z),
			Melted: 15 * unit.MM3, Push: 20 * math.Exp(0.3*z), Pressure: math.Exp(14), Heater: math.Exp(3),
			EntryCentre: melt + (melt-in)*0.3*math.Log(1.5), ExitBulk: 480})
	}
	return g
}

// A surface is read from if it misses no number of the samples by more than a twentieth of the width of its range, root
// mean square, or a thousandth where there is hardly one; at least half of the samples must be such that it can tell.
// It says by how much the usable flow is missed. Else the surface stays what it was.
func TestSurfacesThatAreReadFrom(t *testing.T) {
	g := drawn(t)
	lean, exact := g.guide, slices.Clone(g.out)
	// Of 64 z evenly spaced, 5 and 95 per cent are 0.9 either side: 0.54 of the logarithm, a twentieth is 0.027.
	for _, x := range []struct {
		what string
		off  float64 // either way
		put  func(x *Sample, by float64)
		good bool
		miss float64
	}{
		{"exact", 0, func(*Sample, float64) {}, true, 0},
		{"usable", 0.026, func(x *Sample, by float64) { x.Usable *= math.Exp(by) }, true, 0.026},
		{"usable too far", 0.029, func(x *Sample, by float64) { x.Usable *= math.Exp(by) }, false, 0},
		{"pushed", 0.026, func(x *Sample, by float64) { x.Pushed *= math.Exp(by) }, true, 0},
		{"pushed too far", 0.029, func(x *Sample, by float64) { x.Pushed *= math.Exp(by) }, false, 0},
		{"push", 0.026, func(x *Sample, by float64) { x.Push *= math.Exp(by) }, true, 0},
		{"push too far", 0.029, func(x *Sample, by float64) { x.Push *= math.Exp(by) }, false, 0},
		{"melted", 0.9e-3, func(x *Sample, by float64) { x.Melted *= math.Exp(by) }, true, 0},
		{"melted too far", 1.1e-3, func(x *Sample, by float64) { x.Melted *= math.Exp(by) }, false, 0},
		{"pressure", 0.9e-3, func(x *Sample, by float64) { x.Pressure *= math.Exp(by) }, true, 0},
		{"pressure too far", 1.1e-3, func(x *Sample, by float64) { x.Pressure *= math.Exp(by) }, false, 0},
		{"heater", 0.9e-3, func(x *Sample, by float64) { x.Heater *= math.Exp(by) }, true, 0},
		{"heater too far", 1.1e-3, func(x *Sample, by float64) { x.Heater *= math.Exp(by) }, false, 0},
		{"centre too far", 1.1e-3, func(x *Sample, by float64) { x.EntryCentre += by }, false, 0},
		{"exit", 0.9e-3, func(x *Sample, by float64) { x.ExitBulk += by }, true, 0},
		{"exit too far", 1.1e-3, func(x *Sample, by float64) { x.ExitBulk += by }, false, 0},
	} {
		g.guide, g.out = lean, slices.Clone(exact)
		for i := range g.out {
			by := x.off
			if i/2%2 == 0 {
				by = -by
			}
			x.put(&g.out[i], by)
		}
		got, good := g.enrich(len(g.draws))
		if good != x.good || good && math.Abs(got-x.miss) > 3e-4 || g.guide.rich != good || !good && g.guide != lean {
			t.Errorf("%s: good %t, %g; want %t, %g", x.what, good, got, x.good, x.miss)
		}
	}
	// What the surface misses of the limits that seldom bind: 0.2 either way at the flows of each draw.
	g.guide, g.out = lean, exact
	for i := range g.seen {
		for k := range g.seen[i] {
			by := 0.2
			if (i/4+k)%2 == 0 {
				by = -by
			}
			g.seen[i][k].y[outRest] += by
		}
	}
	if _, good := g.enrich(len(g.draws)); !good || math.Abs(g.guide.rest-0.2) > 0.02 {
		t.Errorf("good %t, the rest is missed by %g", good, g.guide.rest)
	}
	// Where most draws cannot be told, they would have to be solved in any case.
	g = drawn(t)
	lean = g.guide
	for i := range g.seen {
		for k := range g.seen[i] {
			g.seen[i][k].y[outRest] = 0.01
		}
	}
	if _, good := g.enrich(len(g.draws)); good || g.guide != lean {
		t.Error("a surface that cannot tell is read from")
	}
	if got := lnFlow(0); math.Abs(got-math.Log(1e-12)) > 1e-12 || math.Abs(lnFlow(2e-9)-math.Log(2e-9)) > 1e-12 {
		t.Errorf("no flow is %g", got)
	}
}

// Rounds of draws are answered in order and put into the surface; a cancelled context ends them. The share done counts
// all draws.
func TestRoundsOfDraws(t *testing.T) {
	g := drawn(t)
	g.ends = g.draws[:0:0]
	var asked [64]int
	n := len(g.draws)
	g.out = make([]Sample, n)
	seen := g.seen
	g.seen = make([][]probe, n)
	answer := func(w *sampler, i int) Sample {
		asked[i]++
		w.seen = append(w.seen, seen[i]...)
		return Sample{Push: float64(i)}
	}
	for _, x := range [][2]int{{0, 24}, {24, 60}} {
		if err := g.solve(x[0], x[1], answer); err != nil {
			t.Fatal(err)
		}
	}
	rows := 0
	for k := range g.guide.rows {
		rows += len(g.guide.rows[k])
		if want := 15 * 5; len(g.guide.rows[k]) != want {
			t.Errorf("fold %d has %d points, want %d", k, len(g.guide.rows[k]), want)
		}
	}
	for i := range n {
		if want := float64(i); asked[i] != 1 && i < 60 || i >= 60 && asked[i] != 0 || i < 60 &&
			(g.out[i].Push != want ||
				len(g.seen[i]) != 5) {
			t.Errorf("draw %d asked %d times: %+v", i, asked[i], g.out[i])
		}
	}
	if rows != 300 || g.lost {
		t.Errorf("%d points, lost %t", rows, g.lost)
	}
	seen[61] = []probe{{q: 1e-9}}
	if err := g.solve(60, 63, answer); err != nil || !g.lost {
		t.Errorf("a flow without a solution is not noted, %v", err)
	}
	twice := &group{ctx: t.Context(), base: g.base, draws: append(g.draws, g.draws...), out: make([]Sample, 2*n),
		seen: make([][]probe, 2*n)}
	var done []float64
	twice.report = func(x float64) { done = append(done, x) }
	for from := range 2 {
		if err := twice.solve(64*from, 64*from+64, func(*sampler, int) Sample { return Sample{} }); err != nil {
			t.Fatal(err)
		}
	}
	if !slices.Equal(done, []float64{0.5, 1}) {
		t.Errorf("done %v", done)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	g.ctx = ctx
	if err := g.solve(63, 64, answer); err != context.Canceled {
		t.Errorf("%v", err)
	}
}

// How the longest flow is looked at: six thicknesses and four temperatures of the mould, of those that are possible,
// in the last strip or disc, six times as long as it is.
func TestLongestIsLaidOut(t *testing.T) {
	s, _ := bench(t)
	sprue := mould.Element{Name: "sprue", Shape: mould.Sprue, D1: 4e-3, D2: 5e-3, Length: 30e-3, Copies: 1}
	strip := mould.Element{Name: "strip", Shape: mould.StripGap, Width: 9e-3, Height: 2e-3, Length: 20e-3, Copies: 1,
		Cavity: true}
	disc := mould.Element{Name: "disc", Shape: mould.DiscGap, D1: 6e-3, D2: 26e-3, Height: 1e-3, Length: 1, Copies: 1,
		Cavity: true}
	for _, x := range []struct {
		list    []mould.Element
		element int
		asked   float64
	}{{[]mould.Element{sprue, strip}, 1, 20e-3}, {[]mould.Element{sprue, strip, disc, sprue}, 2, 10e-3},
		{[]mould.Element{sprue}, -1, 0}} {
		s.Mould.Elements, s.Mould.Surface = x.list, 300
		l := newLongest(s, 480)
		if x.element < 0 {
			if l != nil {
				t.Errorf("%+v", l)
			}
			continue
		}
		h := x.list[x.element].Height
		for i, f := range []float64{0.4, 0.6, 0.8, 1, 1.3, 1.6} {
			if !close9(1e3*l.Thickness[i], 1e3*h*f) {
				t.Errorf("%v of %g m", l.Thickness, h)
			}
		}
		if l.Element != x.element || !close9(l.Asked*1e3, x.asked*1e3) || !close9(l.Cap*1e3, 6e3*x.asked) ||
			len(l.Thickness) != 6 || !slices.Equal(l.Mould, []float64{270, 300, 320, 340}) || len(l.Longest) != 4 ||
			len(l.Longest[0]) != 6 {
			t.Errorf("%+v", l)
		}
		m := l.mould(s, 2*6+4)
		e := m.Elements[x.element]
		if len(m.Elements) != x.element+1 || m.Surface != 320 || !close9(1e3*e.Height, 1.3e3*h) ||
			!close9(1e3*e.FlowLength(), 6e3*x.asked) || s.Mould.Surface != 300 {
			t.Errorf("%+v", m)
		}
	}
	s.Mould.Elements = []mould.Element{strip}
	for _, x := range []struct {
		surface, melt float64
		want          []float64
	}{{280.1, 480, []float64{250.10000000000002, 280.1, 300.1, 320.1}}, {279.9, 480, []float64{279.9, 299.9, 319.9}},
		{300, 360.1, []float64{270, 300, 320, 340}}, {300, 359.9, []float64{270, 300, 320}}} {
		s.Mould.Surface = x.surface
		if got := newLongest(s, x.melt).Mould; !slices.EqualFunc(got, x.want, close9) {
			t.Errorf("%+v: %v", x, got)
		}
	}
	at := func(x float64) *float64 { return &x }
	for short, full := range map[float64]bool{0.5e-9: true, 1.1e-9: false} {
		l := LongestFlow{Asked: 1, Thickness: []float64{3}, Longest: [][]*float64{{at(1 - short)}}}
		if _, ok := l.Thinnest(0); ok != full {
			t.Errorf("short by %g: full %t", short, ok)
		}
	}
}

// The load of a hot end between the flows of its table, on lines over the logarithm of flow; below in proportion, above
// that of the end. How full a mould is at the end.
func TestSupplyByHand(t *testing.T) {
	s, _ := bench(t)
	x := &Supply{s: s, lnQ: []float64{0, 1, 2}, push: []float64{4, 10, 13}}
	for l, want := range map[float64]float64{-1: 4 / math.E, 0: 4, 0.25: 5.5, 1: 10, 1.5: 11.5, 2: 13, 7: 13} {
		if got := x.hotEnd(math.Exp(l)); math.Abs(got-want) > 1e-6 {
			t.Errorf("at e^%g: %g N, want %g", l, got, want)
		}
	}
	for _, x := range []struct {
		r    mould.Result
		want float64
	}{{mould.Result{Filled: true, Trace: []mould.Sample{{Filled: 0.3}}}, 1},
		{mould.Result{Trace: []mould.Sample{{Filled: 0.3}, {Filled: 0.6}}}, 0.6}, {mould.Result{}, 0}} {
		if got := (&Filling{Result: &x.r}).Share(); got != x.want {
			t.Errorf("full to %g, want %g", got, x.want)
		}
	}
	if contactText(math.Inf(1)) != "perfect contact with the mould" || contactText(1234) !=
		"contact with the mould 1234 W/(m2 K)" || warmer(-5) != "mould 5 K colder" || warmer(5) != "mould 5 K warmer" ||
		higher(-15) != "no-flow temperature 15 K lower" || higher(15) != "no-flow temperature 15 K higher" {
		t.Error("words")
	}
	s.Mould.NoFlow = 401
	if noFlowOf(s) != 401 {
		t.Errorf("%g K", noFlowOf(s))
	}
	if s.Mould.NoFlow = 0; noFlowOf(s) != mould.NoFlow(s.Material) {
		t.Errorf("%g K", noFlowOf(s))
	}
	// A mould as hot as the block is not asked about.
	for off, why := range map[float64]bool{-1: false, 0: true, 1: true} {
		if _, got := withMould(s, func(m *mould.Spec) { m.Surface = s.Block + off })(); (got != "") != why {
			t.Errorf("%g K over the block: %q", off, got)
		}
	}
}

// What is known of each side of a pair comes from that side alone, and the feeder pushes the filament of the duty.
func TestBandsOfAPair(t *testing.T) {
	duty, _ := bench(t)
	end, push := duty.Clone(), duty.Clone()
	for i, s := range []*setup.Setup{duty, end, push} {
		s.Doubts = map[string]setup.Doubt{}
		for _, id := range []vary.ID{vary.Viscosity, vary.Drag, vary.Heated, vary.Force} {
			s.Doubts[string(id)] = setup.Doubt{Kind: setup.Factor, High: float64(2 + i)}
		}
	}
	for id, want := range map[vary.ID]float64{vary.Viscosity: 2, vary.Drag: 2, vary.Heated: 3, vary.Force: 4} {
		if got := Pair(duty, end, push).Doubts[string(id)]; got.High != want {
			t.Errorf("%s: %+v, want that of number %g", id, got, want-2)
		}
	}
	stock := feeder.Stock{Material: duty.Material, Diameter: duty.Filament.Diameter, Temperature: 301}
	for what, change := range map[string]func(x *feeder.Stock){"the same": func(*feeder.Stock) {},
		"thicker": func(x *feeder.Stock) { x.Diameter = 2.85e-3 }, "other": func(x *feeder.Stock) {
			m := *x.Material
			x.Material = &m
		}} {
		x := stock
		change(&x)
		f, err := push.Feeder.With(x)
		if err != nil {
			t.Fatal(err)
		}
		push.Feeder = f
		pair := Pair(duty, end, push)
		if got := pair.Feeder.Stock; got == nil || got.Material != pair.Material || got.Diameter != stock.Diameter ||
			got.Temperature != 301 {
			t.Errorf("%s: %+v", what, got)
		}
	}
	push.Feeder.Stock = nil
	if got := Pair(duty, end, push).Feeder.Stock; got == nil || got.Temperature != duty.Filament.Inlet {
		t.Errorf("without stock: %+v", got)
	}
	// Another material: what was found for the one before stays behind. The same keeps it.
	petg, err := materials.Get("petg")
	if err != nil {
		t.Fatal(err)
	}
	duty.ViscosityFactor, duty.EntranceFactor = 1.4, 1.3
	for _, temperature := range []float64{0, 301} {
		duty.Feeder.Stock = nil
		inlet := duty.Filament.Inlet
		if temperature > 0 {
			inlet = temperature
			f, err := duty.Feeder.With(stock)
			if err != nil {
				t.Fatal(err)
			}
			duty.Feeder = f
		}
		n := OnMaterial(duty, petg)
		if n.Material != petg || n.ViscosityFactor != 0 || n.EntranceFactor != 0 || n.Temps != petg.Window ||
			n.Mould != nil ||
			n.Feeder.Stock.Material != petg || n.Feeder.Stock.Temperature != inlet || len(n.Doubts) != 3 ||
			duty.Mould == nil || len(duty.Doubts) != 4 {
			t.Errorf("%+v, %+v", n.Case, n.Feeder.Stock)
		}
	}
	n := OnMaterial(duty, duty.Material)
	if n.ViscosityFactor != 1.4 || n.EntranceFactor != 1.3 || len(n.Doubts) != 4 || n.Mould != nil ||
		n.Temps != duty.Temps {
		t.Errorf("the same material: %+v", n.Case)
	}
}

// Changes of a feeder made of parts, as their names say them, and what keeps them from being tried: a motor at the root
// of two of its rated current has no more to give, and a block at the onset of decomposition is not made hotter.
func TestChangesOfAFeeder(t *testing.T) {
	find := func(text string) Change {
		i := slices.IndexFunc(Changes, func(c Change) bool { return c.Text == text })
		if i < 0 {
			t.Fatalf("no change is called %s", text)
		}
		return Changes[i]
	}
	for text, want := range map[string][]Step{
		"motor current 10 % higher": {{vary.Current, Times, 1.1}}, "gear ratio 25 % higher": {{vary.Ratio, Times,
			1.25}},
		"one more driven wheel": {{vary.Wheels, Add, 1}}, "gap below the gear halved": {{vary.Gap, Times, 0.5}},
		"no path drag or bends": {{vary.Drag, To, 0}, {vary.Bend, To, 0}}} {
		if got := find(text).Steps; !slices.Equal(got, want) {
			t.Errorf("%s: %+v", text, got)
		}
	}
	s, _ := bench(t)
	s.Feeder = &feeder.Feeder{Model: &feeder.Model{Motor: &feeder.Motor{Rated: 2}}}
	for current, want := range map[float64]bool{2.8: true, 2.83: false} {
		s.Feeder.Model.Motor.Current = current
		if got := find("motor current 10 % higher").fits(nil, s); got != want {
			t.Errorf("%g A: %t", current, got)
		}
	}
	for off, want := range map[float64]bool{-0.1: true, 0: false, 0.1: false} {
		s.Block = s.Material.Decomposition + off
		if got := find("block 10 K hotter").fits(nil, s); got != want {
			t.Errorf("%g K over the onset: %t", off, got)
		}
	}
}
