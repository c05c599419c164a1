package assess

import (
	"errors"
	"math"
	"sync"
	"testing"

	"meltload/flow"
	"meltload/flow/casefile"
	"meltload/flow/feeder"
	"meltload/flow/match"
	"meltload/flow/setup"
	"meltload/materials/unit"
)

// The flow that u, its logarithm, is counted from.
const middleFlow = 10 * unit.MM3

// written is a solver whose answers are written down, over u: the push and the heater's power, and how far the centre
// is above the flow point, as a share of the way from the inlet.
type written struct {
	push, heater, centre func(u float64) float64
	fails                func(u float64) bool
	s                    *setup.Setup
	mu                   sync.Mutex
	asked                []float64 // u of every solution
}

func (w *written) Name() string       { return "written" }
func (w *written) Clone() flow.Solver { return w }

func (w *written) Solve(block, q float64, d *flow.Solution) error {
	u := math.Log(q / middleFlow)
	w.mu.Lock()
	w.asked = append(w.asked, u)
	w.mu.Unlock()
	if w.fails != nil && w.fails(u) {
		return errors.New("no answer")
	}
	melt, in := w.s.Material.FlowPoint(), w.s.Filament.Inlet
	*d = flow.Solution{Block: block, Flow: q, Speed: q / w.s.Area(), Push: w.push(u), Pressure: 1e5 * w.push(u),
		Heater: w.heater(u), EntryCentre: melt + (melt-in)*w.centre(u), ExitBulk: 480 + u}
	return nil
}

// lineOf is a + b u.
func lineOf(a, b float64) func(u float64) float64 { return func(u float64) float64 { return a + b*u } }

// power is a e^(b u).
func power(a, b float64) func(u float64) float64 {
	return func(u float64) float64 { return a * math.Exp(b*u) }
}

// bench is a set-up whose feeder holds 50 N at any speed, 40 N over the safety factor, with a heater of 50 W, and a
// solver by which the push reaches the 40 N at 20 mm3/s, the heater its 50 W at 30, and the core the flow point at 15.
func bench(t *testing.T) (*setup.Setup, *written) {
	t.Helper()
	s := casefile.Invented().Setup.Clone()
	f, err := feeder.New(feeder.Feeder{Points: []feeder.Point{{Speed: 4e-3, Force: 50, Cause: feeder.Grind}}})
	if err != nil {
		t.Fatal(err)
	}
	s.Feeder, s.HotEnd.Block.Power = f, 50
	s.Limits = match.Limits{Safety: 1.25, MinFlow: 0.5 * unit.MM3, MaxFlow: 40 * unit.MM3}
	return s, &written{s: s, push: power(20, 1), heater: power(50.0/3, 1), centre: lineOf(0.3*math.Log(1.5), -0.3)}
}

// sampling takes the one draw of a bench in hand: without a surface, or with one whose outputs are cubics of u.
func sampling(s *setup.Setup, v *written, lines map[int]line) *sampler {
	w := newSampler(s, nil, nil, middleFlow, Sample{Pushed: middleFlow, Melted: middleFlow})
	if lines != nil {
		w.guide = newSurface(nil, middleFlow, false)
		for o := range w.guide.coef {
			l := lines[o]
			w.guide.coef[o] = l[:]
		}
	}
	w.begin(nil, s, v)
	return w
}

// exact is the surface that a bench has: its push and centre are lines of u.
func exact(s *setup.Setup) map[int]line {
	melt, in := s.Material.FlowPoint(), s.Filament.Inlet
	return map[int]line{outPush: {math.Log(20), 1}, outCentre: {melt + (melt-in)*0.3*math.Log(1.5), -0.3 * (melt - in)},
		outRest: {math.Log1p(9), 0}}
}

// What a flow that was solved keeps: the least margin of the feeder, the core and the rest of what counts, what the
// surface is fitted to, and the feeder's limit; -1 of all where there is no solution. One within the tolerance of it is
// not solved again.
func TestMarginsOfAFlow(t *testing.T) {
	s, v := bench(t)
	v.fails = func(u float64) bool { return u > 1.2 }
	s.Limits.MountMax = 30
	w := sampling(s, v, nil)
	q := 12 * unit.MM3
	p := *w.margins(q, 0)
	// 24 N: 40/24 - 1, the mount's 30/(24 * 1.25) - 1, the heater's 50/20 - 1
	for k, want := range [kinds]float64{ofFeeder: 40.0/24 - 1, ofCore: 0.3 * math.Log(1.25), ofRest: 0} {
		if math.Abs(p.least[k]-want) > 1e-9 {
			t.Errorf("kind %d: %g, want %g", k, p.least[k], want)
		}
	}
	u := math.Log(1.2)
	centre := s.Material.FlowPoint() + (s.Material.FlowPoint()-s.Filament.Inlet)*0.3*math.Log(1.25)
	for o, want := range [outputs]float64{math.Log(24), math.Log(24e5), math.Log(20), centre, 480 + u, 0} {
		if math.Abs(p.y[o]-want) > 1e-9 {
			t.Errorf("output %d: %g, want %g", o, p.y[o], want)
		}
	}
	if !p.solved || p.feeder != match.Grip || p.q != q {
		t.Errorf("%+v", p)
	}
	for _, x := range []struct {
		off, tolerance float64
		again          bool
	}{{0, 0, false}, {0.9e-3, 1e-3, false}, {-0.9e-3, 1e-3, false}, {1.1e-3, 1e-3, true}, {-1.3e-3, 1e-3, true}} {
		before := len(v.asked)
		w.margins(q*(1+x.off), x.tolerance)
		if got := len(v.asked) > before; got != x.again {
			t.Errorf("%g away within %g: solved again %t", x.off, x.tolerance, got)
		}
	}
	if p := w.margins(39*unit.MM3, 0); p.solved || p.least != [kinds]float64{-1, -1, -1} {
		t.Errorf("without a solution: %+v", p)
	}
	// The window of the material is only told unless it is made a limit: then it counts as any other. Room without end
	// is shown as 10 times; of a heater that takes nothing the logarithm stays finite.
	s, v = bench(t)
	s.HotEnd.Block.Power, v.heater = 0, lineOf(0, 0)
	w = sampling(s, v, nil)
	if p := w.margins(q, 0); !math.IsInf(p.least[ofRest], 1) || math.Abs(p.y[outRest]-math.Log(10)) > 1e-12 ||
		math.Abs(p.y[outHeater]-math.Log(1e-9)) > 1e-12 {
		t.Errorf("%+v", p)
	}
	s.Limits.Window, s.Block = true, s.Material.Window[1]+100
	w = sampling(s, v, nil)
	if p := w.margins(q, 0); !(p.least[ofRest] <= -0.99) || math.Abs(p.y[outRest]-math.Log(0.1)) > 1e-12 {
		t.Errorf("far outside the window: %+v", p)
	}
}

// A draw by hand, by the search that knows nothing and by surfaces, exact or off: how far feeder and core go, what is
// usable, what limits it, and what is so at the operating flow.
func TestSampleByHand(t *testing.T) {
	for what, x := range map[string]struct {
		change                 func(s *setup.Setup, v *written)
		pushed, melted, usable float64 // mm3/s
		limit                  match.Limit
		held                   bool
	}{
		"feeder": {func(*setup.Setup, *written) {}, 20, 15, 20, match.Grip, true},
		"core":   {func(s *setup.Setup, _ *written) { s.Limits.Core = true }, 20, 15, 15, match.Core, true},
		"core further": {func(s *setup.Setup, v *written) {
			s.Limits.Core, v.centre = true, lineOf(0.3*math.Log(2.5),
				-0.3)
		}, 20, 25, 20, match.Grip, true},
		"heater": {func(_ *setup.Setup, v *written) { v.heater = power(40, 1) }, 20, 15, 12.5, match.Heater,
			true},
		"nothing": {func(_ *setup.Setup, v *written) {
			v.push, v.centre, v.heater = power(2, 0.5), lineOf(0.4, 0), power(5, 0.5)
		}, 40, 40, 40, "", true},
		"near the end": {func(_ *setup.Setup, v *written) { v.push = power(40/3.9, 1) }, 39, 15, 30, match.Heater,
			true},
		"near the start": {func(_ *setup.Setup, v *written) { v.push = power(40/0.055, 1) }, 0.55, 15, 0.55,
			match.Grip, false},
		"core near the end": {func(s *setup.Setup, v *written) {
			s.Limits.Core, v.centre, v.push, v.heater = true, lineOf(0.3*math.Log(3.9), -0.3), power(2, 0.5), power(5,
				0.5)
		}, 40, 39, 39, match.Core, true},
		"core nowhere": {func(s *setup.Setup, v *written) { s.Limits.Core, v.centre = true, lineOf(-0.4, -0.01) }, 20,
			0, 0, match.Core, false},
		"feeder nowhere": {func(_ *setup.Setup, v *written) { v.push = power(70, 0.1) }, 0, 15, 0, match.Grip,
			false},
		"core at the flow": {func(s *setup.Setup, v *written) {
			s.Limits.Core, v.centre = true,
				lineOf(0.3*math.Log(0.8), -0.3)
		}, 20, 8, 8, match.Core, false},
		"heater at the flow": {func(_ *setup.Setup, v *written) { v.heater = power(60, 1) }, 20, 15, 10 * 5.0 / 6,
			match.Heater,
			false},
		"core not asked": {func(_ *setup.Setup, v *written) { v.centre = lineOf(0.3*math.Log(0.8), -0.3) }, 20, 8, 20,
			match.Grip, true},
	} {
		for how, off := range map[string]func(s *setup.Setup) map[int]line{
			"plainly": func(*setup.Setup) map[int]line { return nil }, "exactly": exact,
			"guided off": func(s *setup.Setup) map[int]line {
				l := exact(s)
				l[outPush] = line{math.Log(26), 0.8, 0.03}
				l[outCentre] = line{l[outCentre][0] + 9, 0.8 * l[outCentre][1]}
				return l
			}} {
			s, v := bench(t)
			x.change(s, v)
			w := sampling(s, v, off(s))
			var got Sample
			ok := true
			if w.guide == nil {
				got = w.plain()
			} else if got, ok = w.guided(); !ok {
				continue // a surface that points elsewhere leaves it to the search
			}
			for name, y := range map[string][2]float64{"pushed": {got.Pushed, x.pushed}, "melted": {got.Melted,
				x.melted},
				"usable": {got.Usable, x.usable}} {
				if a, b := y[0]/unit.MM3, y[1]; a != b && !(math.Abs(math.Log(a/b)) < settled) {
					t.Errorf("%s, %s: %s %g mm3/s, want %g", what, how, name, a, b)
				}
			}
			push, heater := v.push(0), v.heater(0)
			if got.Limit != x.limit || got.Held != x.held || !close9(got.Push, push) || !close9(got.Pressure,
				1e5*push) ||
				!close9(got.Heater, heater) || !close9(got.ExitBulk, 480) ||
				!close9((got.EntryCentre-s.Material.FlowPoint())/(s.Material.FlowPoint()-s.Filament.Inlet),
					v.centre(0)) {
				t.Errorf("%s, %s: %+v", what, how, got)
			}
		}
	}
}

// A surface that is right needs the operating flow and one solution for each kind of limit.
func TestWhatASurfaceSpares(t *testing.T) {
	s, v := bench(t)
	w := sampling(s, v, exact(s))
	if _, ok := w.guided(); !ok || len(v.asked) != 3 {
		t.Errorf("%d solutions, %t", len(v.asked), ok)
	}
	// The limits that seldom bind are looked at where the next solution is further off than 0.03 of ln q, or has less
	// than a twentieth of room: here the heater is reached at 19.9 mm3/s.
	for _, x := range []struct {
		flow, steep float64
		known       []float64 // mm3/s
		limit       match.Limit
	}{{19.8, 11, nil, match.Grip}, {19.8, 9, nil, match.Heater}, {10, 40, []float64{17, 23.5}, match.Heater},
		{19.5, 11, []float64{19.5, 20.8}, match.Grip}, {19.3, 11, []float64{19.3, 20.9}, match.Heater}} {
		s, v := bench(t)
		v.heater = power(50/math.Pow(1.99, x.steep), x.steep)
		w := sampling(s, v, exact(s))
		w.flow = x.flow * unit.MM3
		for _, q := range x.known {
			w.margins(q*unit.MM3, 0)
		}
		got, ok := w.guided()
		want := 20.0
		if x.limit == match.Heater {
			want = 19.9
		}
		if !ok || got.Limit != x.limit || math.Abs(math.Log(got.Usable/unit.MM3/want)) > settled/2 {
			t.Errorf("from %g mm3/s, steep by %g: %+v, %t", x.flow, x.steep, got, ok)
		}
	}
}

// Without a solution at the operating flow nothing is said there, and the surface is not followed.
func TestSampleWithoutASolutionAtTheFlow(t *testing.T) {
	for _, guided := range []bool{false, true} {
		s, v := bench(t)
		var lines map[int]line
		if guided {
			lines = exact(s)
		}
		v.fails = func(u float64) bool { return u > -0.1 }
		w := sampling(s, v, lines)
		if guided {
			if _, ok := w.guided(); ok {
				t.Error("guided without a solution at the operating flow")
			}
		}
		got := w.plain()
		if got.Push != 0 || got.Held || got.Limit != match.Force ||
			math.Abs(math.Log(got.Usable/middleFlow)+0.1) > settled {
			t.Errorf("%+v", got)
		}
	}
}

func close9(a, b float64) bool { return math.Abs(a-b) <= 1e-9*math.Max(1, math.Abs(b)) }

// probeAt is a flow that was solved with what it leaves over the surface, for feeder and core alike: the room there is
// that of the surface, which falls by 1 with u and vanishes at 0, and less by `off`.
func probeAt(w *sampler, u, off float64) probe {
	melt, in := w.s.Material.FlowPoint(), w.s.Filament.Inlet
	p := probe{q: middleFlow * math.Exp(u), solved: true}
	p.least = [kinds]float64{math.Exp(-u-off) - 1, -u - off, 9}
	p.y[outPush], p.y[outCentre] = math.Log(40)+u+off, melt-(melt-in)*(u+off)
	return p
}

// onLines is a sampler whose room of feeder and core is -u by its surface.
func onLines(t *testing.T) *sampler {
	s, v := bench(t)
	melt, in := s.Material.FlowPoint(), s.Filament.Inlet
	return sampling(s, v, map[int]line{outPush: {math.Log(40), 1}, outCentre: {melt, -(melt - in)},
		outRest: {math.Log1p(9), 0}})
}

// Where solutions lie near enough to where the room vanishes by the surface, here at 0, by what they leave over it: it
// may be off by 0.002 of ln q. Between two of them a quarter of how they differ; beside one that share of how it
// differs from the next, as far as they are apart; and by itself within 0.015.
func TestSolutionsNearEnough(t *testing.T) {
	type at struct{ u, off float64 }
	for _, x := range []struct {
		what  string
		seen  []at
		close bool
	}{
		{"none", nil, false},
		{"one near", []at{{0.0149, 0}}, true}, {"one below", []at{{-0.0149, 0}}, true},
		{"one not near", []at{{0.0151, 0}}, false}, {"one not near below", []at{{-0.0151, 0}}, false},
		{"two about it", []at{{-0.2, 0}, {0.199, 0}}, true}, {"two too far", []at{{-0.2, 0}, {0.201, 0}}, false},
		// the room falls by 0.2 and what they differ by: d/4/(1 + d/0.2) is 0.002 at 0.00833
		{"two that differ little", []at{{-0.1, 0}, {0.1, 0.0082}}, true},
		{"two that differ", []at{{-0.1, 0}, {0.1, 0.0085}}, false},
		{"two that differ the other way", []at{{-0.1, 0.00775}, {0.1, 0}}, false},
		{"two that differ little the other way", []at{{-0.1, 0.0076}, {0.1, 0}}, true},
		{"with others further away", []at{{0.5, 1}, {-0.1, 0}, {0.1, 0.0082}, {-0.6, 2}}, true},
		{"next to it", []at{{0.0019, 0}, {0.3, 5}}, true}, {"not next to it", []at{{0.0021, 0}, {0.03, 5}}, false},
		// d/0.1 * 0.01 is 0.002 at 0.02
		{"beside two", []at{{0.01, 0}, {0.11, 0.0198}}, true}, {"beside two apart", []at{{0.01, 0}, {0.11, 0.0202}},
			false},
		{"below two", []at{{-0.01, 0}, {-0.11, -0.0198}}, true},
		{"below two apart", []at{{-0.01, 0}, {-0.11, 0.0202}}, false},
		{"the nearest two", []at{{0.4, 3}, {0.01, 0}, {0.11, 0.0198}, {0.3, 7}}, true},
		{"the nearest two, in order", []at{{0.01, 0}, {0.11, 0.0202}, {0.3, 0}}, false},
		{"a side that is near, beside one that is not", []at{{0.3, 9}, {-0.0149, 0}}, true},
	} {
		for _, kind := range []int{ofFeeder, ofCore} {
			for _, backwards := range []bool{false, true} {
				w := onLines(t)
				for i := range x.seen {
					y := x.seen[i]
					if backwards {
						y = x.seen[len(x.seen)-1-i]
					}
					w.seen = append(w.seen, probeAt(w, y.u, y.off))
				}
				if got := w.close(kind, 0); got != x.close {
					t.Errorf("%s, kind %d: %t", x.what, kind, got)
				}
			}
		}
	}
	// What is near is told of u, not of the middle.
	w := onLines(t)
	w.seen = []probe{probeAt(w, 0.5, -0.51), probeAt(w, 0.2, -0.51)}
	if !w.close(ofFeeder, 0.51) || w.close(ofFeeder, 0.53) || w.nearest(0.34).q != w.seen[1].q ||
		w.nearest(0.36).q != w.seen[0].q {
		t.Error("near 0.5")
	}
}

// What solutions leave over the surface: that of the nearest outside of them, on a line between two; one without a
// solution leaves nothing.
func TestWhatSolutionsLeave(t *testing.T) {
	w := onLines(t)
	if got := w.left(outPush, 0.3); got != 0 {
		t.Errorf("none leave %g", got)
	}
	w.seen = []probe{probeAt(w, 0.4, 3), {q: middleFlow * math.Exp(0.05)}, probeAt(w, -0.2, 1), probeAt(w, 0.1, 2),
		probeAt(w, -0.5, 7)}
	for u, want := range map[float64]float64{-0.9: 7, -0.5: 7, -0.35: 4, -0.2: 1, -0.05: 1.5, 0.1: 2, 0.2: 7.0 / 3,
		0.4: 3,
		0.8: 3} {
		for _, kind := range []int{ofFeeder, ofCore} {
			if got := w.room(kind, u); math.Abs(got+u+want) > 1e-9 {
				t.Errorf("kind %d at %g: %g, want %g", kind, u, got, -u-want)
			}
		}
	}
	a, b := probeAt(w, 0, 0.25), probeAt(w, 0, 1)
	for _, kind := range []int{ofFeeder, ofCore} {
		if got := w.apart(kind, 0.3, &a, &b); math.Abs(got-0.75) > 1e-9 {
			t.Errorf("kind %d: apart by %g", kind, got)
		}
		if got := room(kind, &b); math.Abs(got+1) > 1e-9 {
			t.Errorf("kind %d: room %g", kind, got)
		}
	}
}

// Where the room vanishes: by the surface alone, beside solutions, at the ends of the search, and where solutions say
// what the surface does not.
func TestWhereTheRoomVanishes(t *testing.T) {
	up, down := math.Inf(1), math.Inf(-1)
	none := func(u float64, room float64) probe { // without a solution, or one that does not fit the surface
		return probe{q: middleFlow * math.Exp(u), least: [kinds]float64{room, room, room}}
	}
	for _, x := range []struct {
		what   string
		root   float64 // of the surface
		seen   func(w *sampler) []probe
		lo, hi float64
		want   float64
	}{
		{"above the middle", 0.7, nil, -3, 1.4, 0.7}, {"below the middle", -0.7, nil, -3, 1.4, -0.7},
		{"at the first step", 0.15, nil, -3, 1.4, 0.15}, {"above the search", 1.5, nil, -3, 1.4, up},
		{"below the search", -3.1, nil, -3, 1.4, down},
		{"above a solution with room", 0.7, func(w *sampler) []probe { return []probe{probeAt(w, 0.2, -0.9)} }, -3,
			1.4, 0.9},
		{"below one without", -0.7, func(w *sampler) []probe { return []probe{probeAt(w, 0.2, 0.4)} }, -3, 1.4, -0.4},
		{"between two", 0, func(w *sampler) []probe { return []probe{probeAt(w, 0.5, 0.5), probeAt(w, -0.5, 0.1)} },
			-3, 1.4,
			-0.5 + 0.4/1.4},
		{"the highest with room", 0, func(w *sampler) []probe {
			return []probe{none(0.2, 1), none(0.6, 1), none(0.4, 1), none(0.9, -1), none(0.7, -1), none(0.8, -1)}
		}, -3, 1.4, 0.6},
		{"room above none", 0, func(w *sampler) []probe { return []probe{none(0.2, -1), none(0.6, 1)} }, -3, 1.4,
			math.NaN()},
		{"room at the end", 0, func(w *sampler) []probe { return []probe{none(1.4, 1)} }, -3, 1.4, up},
		{"no room at the start", 0, func(w *sampler) []probe { return []probe{none(-3, -1)} }, -3, 1.4, down},
		{"no solution before the surface's own", 0.7, func(w *sampler) []probe {
			return []probe{none(0.3, -1), none(0,
				1)}
		},
			-3, 1.4, 0.3},
		{"a solution without, beside the surface", 0.7, func(w *sampler) []probe { return []probe{none(-0.3, -1)} },
			-3, 1.4,
			-0.3},
		{"no solution above the search", 1.6, func(w *sampler) []probe { return []probe{none(1.5, -1)} }, -3, 1.4, 1.5},
	} {
		for _, kind := range []int{ofFeeder, ofCore} {
			w := onLines(t)
			w.lines[outPush][0] -= x.root
			w.lines[outCentre][0] -= w.lines[outCentre][1] * x.root
			if x.seen != nil {
				w.seen = x.seen(w)
				// solutions are written for a surface that vanishes at 0
				for i := range w.seen {
					if w.seen[i].solved {
						w.lines[outPush] = line{math.Log(40), 1}
					}
				}
			}
			if kind == ofCore && x.seen != nil && w.seen[0].solved {
				continue
			}
			got := w.cross(kind, x.lo, x.hi)
			if math.IsNaN(x.want) != math.IsNaN(got) || !math.IsNaN(got) && got != x.want &&
				!(math.Abs(got-x.want) < 1e-4) {
				t.Errorf("%s, kind %d: %g, want %g", x.what, kind, got, x.want)
			}
		}
	}
}
