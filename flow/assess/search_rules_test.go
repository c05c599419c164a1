package assess

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"

	"meltload/flow"
	"meltload/flow/march"
	"meltload/flow/match"
	"meltload/flow/setup"
	"meltload/flow/vary"
	"meltload/materials/unit"
)

// The highest flow without a limit is found from anywhere near: up to where the margin turns, the end of the search
// where it never does, nothing where it has turned at the start; the search stays within its ends.
func TestHighestFlow(t *testing.T) {
	for _, near := range []float64{0, 0.5, 1, 3, 6.9, 7, 7.1, 12, 39, 40, 1e3} {
		for _, x := range []struct{ root, want float64 }{{7, 7}, {1.001, 1.001}, {39.9, 39.9}, {41, 40}, {0.9, 0}} {
			f := func(q float64) float64 {
				if q < 1 || q > 40 {
					t.Errorf("asked at %g", q)
				}
				return math.Log(x.root/q) * 3
			}
			if got := highest(f, near, 1, 40, 1e-6); got != x.want && !(math.Abs(got/x.want-1) < 1e-5) {
				t.Errorf("from %g: %g, want %g", near, got, x.want)
			}
		}
	}
	// To the tolerance, as a share, and no closer than it takes.
	asked := 0
	got := highest(func(q float64) float64 { asked++; return 7 - q }, 5, 1, 40, 1e-2)
	if math.Abs(got/7-1) > 1e-2 || asked > 8 {
		t.Errorf("%g after %d", got, asked)
	}
}

// A search for one kind of limit begins with the flows that were solved already: between two that are near, above the
// highest with room, below the lowest without.
func TestSearchBeginsWithWhatIsKnown(t *testing.T) {
	for _, x := range []struct {
		what    string
		known   []float64 // mm3/s
		near    float64
		lo, hi  float64 // mm3/s, of the solutions that the search adds; the limit is at 20
		atMost  int
		feeders bool
	}{
		{"between", []float64{15, 29}, 3, 15, 29, 4, true},
		{"from the highest with room", []float64{12, 5, 18}, 4, 18, 40, 5, true},
		{"from the lowest without", []float64{38, 22, 30}, 39, 0.5, 22, 5, true},
		{"from near above what is known", []float64{3}, 19, 19, 40, 5, true},
		{"from near below what is known", []float64{38}, 21, 0.5, 21, 5, true},
	} {
		s, v := bench(t)
		w := sampling(s, v, nil)
		for _, q := range x.known {
			w.margins(q*unit.MM3, 0)
		}
		v.asked = nil
		got := w.search(x.near*unit.MM3, ofFeeder) / unit.MM3
		if math.Abs(math.Log(got/20)) > settled || len(v.asked) > x.atMost {
			t.Errorf("%s: %g mm3/s after %d solutions", x.what, got, len(v.asked))
		}
		for _, u := range v.asked {
			if q := 10 * math.Exp(u); q < x.lo*(1-1e-9) || q > x.hi*(1+1e-9) {
				t.Errorf("%s: asked at %g mm3/s", x.what, q)
			}
		}
	}
	// Where room comes back above a flow without, the search goes on from near.
	s, v := bench(t)
	w := sampling(s, v, nil)
	w.seen = []probe{{q: 25 * unit.MM3, least: [kinds]float64{1, 1, 1}}, {q: 22 * unit.MM3, least: [kinds]float64{-1,
		-1, -1}}}
	if got := w.search(19*unit.MM3, ofFeeder) / unit.MM3; math.Abs(math.Log(got/20)) > settled ||
		v.asked[0] > math.Log(1.91) {
		t.Errorf("%g mm3/s, first asked at %g", got, 10*math.Exp(v.asked[0]))
	}
}

// A draw read off a surface by hand: what the solver would say where the surface is right; not where a limit that
// seldom binds may do so, at the usable flow or at the operating one, nor without a flow.
func TestReadingOffASurface(t *testing.T) {
	log := math.Log
	for _, x := range []struct {
		what            string
		push, centre    line // ln of N, and room of the core
		rest            line // ln of one plus the margin
		misses          float64
		core            bool
		pushed, melted  float64
		usable          float64
		limit           match.Limit
		held, told, low bool
	}{
		{"feeder", line{log(20), 1}, line{0.3 * log(1.5), -0.3}, line{1}, 0, false, 20, 15, 20, match.Grip, true,
			true, false},
		{"core", line{log(20), 1}, line{0.3 * log(1.5), -0.3}, line{1}, 0, true, 20, 15, 15, match.Core, true, true,
			false},
		{"core further", line{log(20), 1}, line{0.3 * log(2.5), -0.3}, line{1}, 0, true, 20, 25, 20, match.Grip, true,
			true, false},
		{"none", line{log(2), 0.5}, line{0.5, -0.1}, line{1}, 0, true, 40, 40, 40, "", true, true, false},
		{"core at the flow", line{log(20), 1}, line{0.3 * log(0.8), -0.3}, line{1}, 0, true, 20, 8, 8, match.Core,
			false, true, false},
		{"feeder at the flow", line{log(50), 1}, line{0.5, -0.1}, line{1}, 0, true, 8, 40, 8, match.Grip, false, true,
			false},
		{"no flow of the feeder", line{log(900), 1}, line{0.5, -0.1}, line{1}, 0, false, 0, 0, 0, "", false, false,
			false},
		{"no flow of the core", line{log(20), 1}, line{-2, -0.1}, line{1}, 0, true, 0, 0, 0, "", false, false, false},
		// room of 5 per cent, and three times what the surface misses by, at 20 mm3/s and at 10
		{"room enough there", line{log(20), 1}, line{0.5, -0.1}, line{1, (log(1.051) - 1) / log(2)}, 0, false, 20, 40,
			20,
			match.Grip, true, true, false},
		{"too little room there", line{log(20), 1}, line{0.5, -0.1}, line{1, (log(1.049) - 1) / log(2)}, 0, false, 20,
			40, 20,
			match.Grip, true, false, false},
		{"room enough but for the surface", line{log(20), 1}, line{0.5, -0.1}, line{log(1.05) + 0.31}, 0.1, false, 20,
			40, 20,
			match.Grip, true, true, false},
		{"too little but for the surface", line{log(20), 1}, line{0.5, -0.1}, line{log(1.05) + 0.29}, 0.1, false, 20,
			40, 20,
			match.Grip, true, false, false},
		{"too little at the flow", line{log(20), 1}, line{0.5, -0.1}, line{log(1.049), 1}, 0, false, 20, 40, 20,
			match.Grip,
			true, false, false},
		{"far too little at the flow, enough there", line{log(20), 1}, line{0.5, -0.1}, line{-0.06, 1}, 0, false, 20,
			40, 20,
			match.Grip, false, true, false},
	} {
		s, v := bench(t)
		s.Limits.Core = x.core
		melt, in := s.Material.FlowPoint(), s.Filament.Inlet
		for i := range x.centre {
			x.centre[i] *= melt - in
		}
		x.centre[0] += melt
		w := sampling(s, v, map[int]line{outPush: x.push, outCentre: x.centre, outRest: x.rest, outPressure: {3},
			outHeater: {2},
			outExit:   {480}})
		w.guide.rest = x.misses
		got, ok := w.read(nil)
		if ok != x.told || len(v.asked) > 0 {
			t.Errorf("%s: %t, %d solutions", x.what, ok, len(v.asked))
		}
		if !ok {
			continue
		}
		for name, y := range map[string][2]float64{"pushed": {got.Pushed, x.pushed}, "melted": {got.Melted, x.melted},
			"usable": {got.Usable, x.usable}} {
			if a := y[0] / unit.MM3; !(math.Abs(math.Log(a/y[1])) < 1e-4) {
				t.Errorf("%s: %s %g mm3/s, want %g", x.what, name, a, y[1])
			}
		}
		if got.Limit != x.limit || got.Held != x.held || !close9(got.Push, math.Exp(x.push[0])) || !close9(got.Pressure,
			math.Exp(3)) || !close9(got.Heater, math.Exp(2)) || got.ExitBulk != 480 || !close9(got.EntryCentre,
			x.centre[0]) {
			t.Errorf("%s: %+v", x.what, got)
		}
	}
}

// The usable flow of a set-up and its limit: that of the least flow that is known to be forbidden. Without a solution
// nothing is usable.
func TestUsableFlowAndItsLimit(t *testing.T) {
	for _, x := range []struct {
		what   string
		change func(s *setup.Setup, v *written)
		near   float64
		want   float64
		limit  match.Limit
	}{
		{"feeder", func(*setup.Setup, *written) {}, 30, 20, match.Grip},
		{"feeder from below", func(*setup.Setup, *written) {}, 2, 20, match.Grip},
		// above 21 mm3/s the heater is exceeded more than the feeder
		{"heater further up", func(_ *setup.Setup, v *written) { v.heater = power(50/math.Pow(2.1, 9), 9) }, 39, 20,
			match.Grip},
		{"heater further up, from below", func(_ *setup.Setup, v *written) {
			v.heater = power(50/math.Pow(2.1, 9),
				9)
		}, 1, 20,
			match.Grip},
		{"heater", func(_ *setup.Setup, v *written) { v.heater = power(40, 1) }, 30, 12.5, match.Heater},
		{"nothing", func(_ *setup.Setup, v *written) { v.push, v.heater = power(2, 0.1), power(2, 0.1) }, 10, 40, ""},
		{"no flow", func(_ *setup.Setup, v *written) { v.push = power(60, 0.1) }, 10, 0, match.Grip},
		{"no solution", func(_ *setup.Setup, v *written) { v.fails = func(float64) bool { return true } }, 10, 0, ""},
	} {
		s, v := bench(t)
		x.change(s, v)
		got, limit := usableNear(s.Matcher(v), s.Block, x.near*unit.MM3, tolerance)
		if a := got / unit.MM3; a != x.want && !(math.Abs(math.Log(a/x.want)) < 1.1*tolerance) || limit != x.limit {
			t.Errorf("%s: %g mm3/s by %q, want %g by %q", x.what, a, limit, x.want, x.limit)
		}
	}
}

// After a change: a flow that does not change with it stays as it was to the last digit; else it is searched from the
// flow before; where that is none, or the end of the search, or load and capability cross often, it is looked for
// everywhere.
func TestFlowAfterAChange(t *testing.T) {
	for _, x := range []struct {
		what   string
		before match.Result
		push   float64 // N at 10 mm3/s
		want   float64
		same   bool
		atMost int
	}{
		{"as before", match.Result{Flow: 20.001 * unit.MM3}, 20, 20.001, true, 2},
		{"nearly as before", match.Result{Flow: 20.0035 * unit.MM3}, 20, 20.0035, true, 2},
		{"not as before", match.Result{Flow: 20.0045 * unit.MM3}, 20, 20, false, 12},
		{"not as before, below", match.Result{Flow: 19.9955 * unit.MM3}, 20, 20, false, 12},
		{"more", match.Result{Flow: 20 * unit.MM3}, 16, 25, false, 12},
		{"less", match.Result{Flow: 20 * unit.MM3}, 25, 16, false, 12},
		{"none before", match.Result{}, 20, 20, false, 99},
		{"no end before", match.Result{Flow: 40 * unit.MM3}, 20, 20, false, 99},
		{"near the end before", match.Result{Flow: 39.999 * unit.MM3}, 5, 40, false, 99},
	} {
		s, v := bench(t)
		v.push, v.heater = power(x.push, 1), power(2, 0.1)
		m := s.Matcher(v)
		got, limit, err := after(s, m, &x.before)
		if a := got / unit.MM3; err != nil || x.same != (got == x.before.Flow) || math.Abs(math.Log(a/x.want)) > 2e-4 ||
			len(v.asked) > x.atMost || (limit == match.Grip) != (x.want < 40) {
			t.Errorf("%s: %g mm3/s by %q after %d solutions, want %g; %v", x.what, a, limit, len(v.asked), x.want, err)
		}
	}
	// Often crossed: the load is too high about 10 mm3/s alone, and the flow after is that of the lowest crossing.
	s, v := bench(t)
	v.push = func(u float64) float64 { return 60 * math.Exp(-u*u) }
	v.heater = power(2, 0.1)
	before := match.Result{Flow: 30 * unit.MM3, Crossings: []float64{1, 2}}
	want := 10 * math.Exp(-math.Sqrt(math.Log(1.5)))
	if got, _, err := after(s, s.Matcher(v), &before); err != nil || math.Abs(math.Log(got/unit.MM3/want)) > 2e-3 {
		t.Errorf("crossed often: %g mm3/s, want %g, %v", got/unit.MM3, want, err)
	}
	failed := func(float64) bool { return true }
	v.fails = failed
	for _, before := range []match.Result{{Flow: 20 * unit.MM3}, {}} {
		if _, _, err := after(s, s.Matcher(v), &before); err == nil {
			t.Error("no solution is no error")
		}
	}
}

// melting is a solver whose push falls by e each 20 K, and grows in proportion to flow: 20 N at 10 mm3/s and 480 K.
type melting struct{ at func(T float64) bool }

func (m melting) Name() string       { return "melting" }
func (m melting) Clone() flow.Solver { return m }
func (m melting) Solve(T, q float64, d *flow.Solution) error {
	if m.at != nil && !m.at(T) {
		return errors.New("no answer")
	}
	*d = flow.Solution{Flow: q, Push: 20 * q / middleFlow * math.Exp((480-T)/20)}
	return nil
}

// The temperatures to set at twelve flows up to 1.2 times that of interest, by hand, within a fiftieth of a kelvin; one
// that cannot be solved holds nothing.
func TestSetPointsByHand(t *testing.T) {
	s, _ := bench(t)
	s.Temps = [2]float64{470, 500}
	for _, x := range []struct {
		force, top, min, max float64
		flows                []float64
	}{
		{20, 10, 0.5, 40, []float64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12}},
		{0, 30, 7, 27, []float64{9, 12, 15, 18, 21, 24, 27}},
		{10, 10, 3, 8, []float64{3, 4, 5, 6, 7, 8}}, {10, 10, 3.01, 7.99, []float64{4, 5, 6, 7}},
		{0.1, 50, 0.5, 60, []float64{5, 10, 15, 20, 25, 30, 35, 40, 45, 50, 55, 60}},
	} {
		s.Limits.MinFlow, s.Limits.MaxFlow = x.min*(1-1e-12)*unit.MM3, x.max*unit.MM3
		got, err := SetPoints(s, melting{}, x.top*unit.MM3, x.force)
		if err != nil || len(got) != len(x.flows) {
			t.Errorf("%+v: %+v, %v", x, got, err)
			continue
		}
		for i, p := range got {
			force := x.force
			if force == 0 {
				force = 40
			}
			T := 480 + 20*math.Log(20*x.flows[i]/10/force)
			want := SetPoint{Flow: x.flows[i] * unit.MM3, Force: force, Block: T}
			switch {
			case T < 470:
				want.Reach, want.Block = AnyBlock, 470
			case T > 500:
				want.Reach, want.Block = NoBlock, math.NaN()
			}
			if !close9(p.Flow/unit.MM3, x.flows[i]) || !close9(p.Force, force) || p.Reach != want.Reach ||
				math.IsNaN(p.Block) != math.IsNaN(want.Block) || math.Abs(p.Block-want.Block) > 0.02 {
				t.Errorf("%+v, want %+v", p, want)
			}
		}
	}
	s.Limits.MinFlow, s.Limits.MaxFlow = 1*unit.MM3, 40*unit.MM3
	got, err := SetPoints(s, melting{func(T float64) bool { return T < 499 }}, 10*unit.MM3, 20)
	if err != nil || got[0].Reach != NoBlock {
		t.Errorf("%+v, %v", got, err)
	}
}

// Numbers come before names in an order.
func TestOrderOfNumbersAndNames(t *testing.T) {
	for _, x := range []struct {
		a, b float64
		x, y string
		want int
	}{{1, 2, "b", "a", -1}, {2, 1, "a", "b", 1}, {1, 1, "a", "b", -1}, {1, 1, "b", "a", 1}, {1, 1, "a", "a", 0}} {
		if got := order(x.a, x.b, x.x, x.y); got != x.want {
			t.Errorf("%+v: %d", x, got)
		}
	}
}

// A surface by hand: its terms in two unknowns, with a penalty on each, and its outputs over u, which are the sum of
// the coefficients times the terms.
func TestTermsOfASurface(t *testing.T) {
	f := &surface{at: []int{0, 1}, ref: 1}
	const a, b, u = 2.0, 3.0, 5.0
	lean := []float64{1, a, b, a * a, a * b, b * b, u, u * a, u * b, u * u, u * u * a, u * u * b, u * u * u}
	rich := slices.Concat(lean, []float64{a * a * u, a * b * u, b * b * u, a * a * a, b * b * b})
	line, curve, cross := 1e-3, 1e-2, 0.1
	penalties := []float64{0, line, line, curve, cross, curve, 1e-6, curve, curve, line, curve, curve, curve, cross,
		cross,
		cross, cross, cross}
	rng := rand.New(rand.NewPCG(1, 2))
	for _, want := range [][]float64{lean, rich} {
		f.rich = len(want) > len(lean)
		got := f.terms(nil, []float64{a, b}, u)
		if f.size() != len(want) || !slices.Equal(got, want) || !slices.Equal(f.penalties(), penalties[:len(want)]) ||
			f.quad() != 6 {
			t.Fatalf("rich %t: %v, want %v; penalties %v", f.rich, got, want, f.penalties())
		}
		for o := range f.coef {
			f.coef[o] = nil
			for range want {
				f.coef[o] = append(f.coef[o], rng.NormFloat64())
			}
		}
		l := f.lines([]float64{a, b})
		for o := range l {
			sum := 0.0
			for i, c := range f.coef[o] {
				sum += c * want[i]
			}
			if math.Abs(l[o].at(u)-sum) > 1e-9*math.Abs(sum)+1e-9 {
				t.Errorf("rich %t, output %d: %g, want %g", f.rich, o, l[o].at(u), sum)
			}
		}
	}
}

// The coefficients are those of the normal equations with the penalties, from all folds but the one left out, whose
// points count once however often they are summed.
func TestFitOfASurface(t *testing.T) {
	f := newSurface(nil, middleFlow, false)
	points := [][2]float64{{0, 2}, {0.5, 1}, {-1, 4}, {0.3, 7}, {1.2, -3}} // u and the output
	for i, x := range points {
		p := probe{q: middleFlow * math.Exp(x[0]), solved: true}
		for o := range p.y {
			p.y[o] = x[1] * float64(o+1)
		}
		f.add(i%folds, nil, []probe{p, {q: 1}})
		f.sum()
	}
	for _, without := range []int{-1, 0, 2} {
		a, b := mat.NewDense(4, 4, nil), mat.NewVecDense(4, nil)
		for i, p := range []float64{0, 1e-6, 1e-3, 1e-2} {
			a.Set(i, i, p)
		}
		for i, x := range points {
			if i%4 == without {
				continue
			}
			row := []float64{1, x[0], x[0] * x[0], x[0] * x[0] * x[0]}
			for k := range row {
				b.SetVec(k, b.AtVec(k)+row[k]*x[1])
				for l := range row {
					a.Set(k, l, a.At(k, l)+row[k]*row[l])
				}
			}
		}
		var c mat.VecDense
		if err := c.SolveVec(a, b); err != nil {
			t.Fatal(err)
		}
		if !f.fit(without) {
			t.Fatal("no fit")
		}
		for o := range f.coef {
			for k := range 4 {
				if want := c.AtVec(k) * float64(o+1); math.Abs(f.coef[o][k]-want) > 1e-6*math.Max(1, math.Abs(want)) {
					t.Errorf("without %d, output %d: coefficient %d is %g, want %g", without, o, k, f.coef[o][k], want)
				}
			}
		}
	}
	if newSurface(nil, middleFlow, false).without(1) != nil {
		t.Error("a surface without points")
	}
	// What the set-up does not have, what is known, and a band without width have no place in it.
	s, _ := bench(t)
	s.Doubts = map[string]setup.Doubt{string(vary.Viscosity): {}}
	us := Unknowns(s)
	us[3].Has = false
	for _, i := range newSurface(us, 1, false).at {
		if us[i].ID == vary.Viscosity || i == 3 || us[i].Band.Known {
			t.Errorf("%s has a place", us[i].ID)
		}
	}
}

// What the other flows of a lattice say of a feeder in one draw: between two of them load and speed are power laws of
// the flow, other margins lines.
func TestUsableOnALattice(t *testing.T) {
	s, _ := bench(t)
	s.Limits.MinFlow, s.Limits.MaxFlow = 1*unit.MM3, 10*unit.MM3
	for _, x := range []struct {
		what   string
		push   func(q float64) float64 // N, by mm3/s
		other  func(q float64) float64
		factor float64
		want   float64 // mm3/s
	}{
		{"load", func(q float64) float64 { return 10 * q }, nil, 1, 4},
		{"a stronger feeder", func(q float64) float64 { return 10 * q }, nil, 1.5, 6},
		{"a steep load", func(q float64) float64 { return q * q * q }, nil, 1, math.Cbrt(40)},
		{"never", func(q float64) float64 { return q }, nil, 1, 10},
		{"at once", func(q float64) float64 { return 41 * q }, nil, 1, 0},
		{"near the start", func(q float64) float64 { return 39 * q }, nil, 1, 40.0 / 39},
		{"near the end", func(q float64) float64 { return 4.04 * q }, nil, 1, 40 / 4.04},
		{"another limit", func(q float64) float64 { return q }, func(q float64) float64 { return math.Log(5 / q) }, 1,
			5},
	} {
		for _, near := range []float64{0.2, 1, 3.9, 5, 10, 90} {
			l := &loads{s: s, nodes: make([]load, 1+21)} // ln 10/ln 1.12 is 20.3
			for j := range l.nodes {
				q := math.Min(10, math.Pow(1.12, float64(j)))
				if math.Abs(l.flowOf(j)/unit.MM3-q) > 1e-9 {
					t.Fatalf("node %d at %g mm3/s", j, l.flowOf(j)/unit.MM3)
				}
				l.nodes[j] = load{known: true, push: x.push(q), speed: q * unit.MM3 / s.Area(), other: math.Inf(1)}
				if x.other != nil {
					l.nodes[j].other = x.other(q)
				}
			}
			got := l.usable(rival{f: s.Feeder, factor: x.factor}, near*unit.MM3) / unit.MM3
			if got != x.want && !(math.Abs(got/x.want-1) < 3e-4) {
				t.Errorf("%s from %g: %g, want %g", x.what, near, got, x.want)
			}
		}
	}
	// Above a node without a solution nothing is usable.
	l := &loads{s: s, nodes: make([]load, 22)}
	for j := range l.nodes {
		l.nodes[j] = load{known: true, push: 1, speed: 1e-3, other: 9}
		if j > 7 {
			l.nodes[j] = load{known: true, push: math.Inf(1), speed: 1e-3, other: -1}
		}
	}
	if got, want := l.usable(rival{f: s.Feeder, factor: 1}, 3*unit.MM3)/unit.MM3, math.Pow(1.12,
		7); math.Abs(got/want-1) > 1e-9 {
		t.Errorf("%g, want %g", got, want)
	}
	// A load by itself: push and speed of a solution, the least of what counts beside the feeder; none without one.
	s, v := bench(t)
	s.Limits.MountMax = 30
	v.fails = func(u float64) bool { return u > 1 }
	l = &loads{s: s, m: s.Matcher(v)}
	a, b := l.at(12*unit.MM3), l.at(30*unit.MM3)
	if !close9(a.push, 24) || !close9(a.speed, 12*unit.MM3/s.Area()) || !close9(a.other, 0) || !a.known {
		t.Errorf("%+v", a)
	}
	if !math.IsInf(b.push, 1) || !close9(b.speed, 30*unit.MM3/s.Area()) || b.other != -1 || !b.known {
		t.Errorf("%+v", b)
	}
	if got := l.value(rival{f: s.Feeder, factor: 0.5}, load{push: 10, speed: 1e-3, other: 5}); !close9(got, 1) {
		t.Errorf("%g", got)
	}
	// As many nodes as it takes to the end of the search.
	for most, want := range map[float64]int{10: 22, 1.11: 2, 1.13: 3, 1: 1} {
		s.Limits.MinFlow, s.Limits.MaxFlow = 1*unit.MM3, most*unit.MM3
		if got := len(newLoads(s, march.New(&s.Case, march.Options{})).nodes); got != want {
			t.Errorf("%d nodes to %g times the start, want %d", got, most, want)
		}
	}
	if one(0) != 1 || one(1.3) != 1.3 {
		t.Error("a feeder's own factor")
	}
}
