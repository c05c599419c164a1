package assess

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"meltload/flow"
	"meltload/flow/casefile"
	"meltload/flow/march"
	"meltload/flow/match"
	"meltload/flow/setup"
	"meltload/flow/vary"
)

// Each change that is tried does what its name says, and nothing else of its quantity.
func TestChangesDoWhatTheyAreCalled(t *testing.T) {
	c := casefile.Invented()
	for what, want := range map[string]struct {
		id vary.ID
		to func(x float64) float64
	}{
		"block 10 K hotter":                  {vary.Block, func(x float64) float64 { return x + 10 }},
		"bore 0.1 mm wider":                  {vary.Bore, func(x float64) float64 { return x + 0.1e-3 }},
		"melt zone 5 mm longer":              {vary.Zone, func(x float64) float64 { return x + 5e-3 }},
		"all of the melt zone heated":        {vary.Heated, func(x float64) float64 { return 1 }},
		"half the land length":               {vary.Land, func(x float64) float64 { return x / 2 }},
		"heater 10 W stronger":               {vary.Heater, func(x float64) float64 { return x + 10 }},
		"no path drag or bends":              {vary.Drag, func(x float64) float64 { return 0 }},
		"feeder 20 % stronger":               {vary.Force, func(x float64) float64 { return x * 1.2 }},
		"mould 20 K hotter":                  {vary.Mould, func(x float64) float64 { return x + 20 }},
		"block 15 K hotter":                  {vary.Block, func(x float64) float64 { return x + 15 }},
		"wall of the part 25 % thicker":      {vary.Wall, func(x float64) float64 { return x * 1.25 }},
		"sprue, runners and gate 30 % wider": {vary.Feed, func(x float64) float64 { return x * 1.3 }},
		"set flow 50 % higher":               {vary.FillFlow, func(x float64) float64 { return x * 1.5 }},
		"nozzle bore 50 % wider":             {vary.Bore, func(x float64) float64 { return x * 1.5 }},
	} {
		found := false
		for _, list := range [][]Change{Changes, MouldChanges} {
			for i := range list {
				if list[i].Text != what {
					continue
				}
				found = true
				n, ok := list[i].Apply(&c.Setup)
				if !ok {
					t.Errorf("%s does not apply", what)
					continue
				}
				q := vary.Must(&c.Setup, want.id)
				if got, x := q.Get(n), want.to(q.Get(&c.Setup)); math.Abs(got-x) > 1e-9*math.Max(1e-3, math.Abs(x)) {
					t.Errorf("%s: %g, want %g", what, got, x)
				}
			}
		}
		if !found {
			t.Errorf("no change is called %s", what)
		}
	}
	// One that changes nothing, or leaves what is allowed, does not apply.
	s := c.Setup.Clone()
	for id, x := range map[vary.ID]float64{vary.Heated: 1, vary.Block: s.Material.Decomposition - 5} {
		q := vary.Must(s, id)
		if err := q.Set(s, x); err != nil {
			t.Fatal(err)
		}
	}
	for i := range Changes {
		if what := Changes[i].Text; what == "all of the melt zone heated" || what == "block 10 K hotter" {
			if _, ok := Changes[i].Apply(s); ok {
				t.Errorf("%s applies", what)
			}
		}
	}
}

// The 5 per cent point of 101 values is the 5.05th of them, by a line between two: 4.05 of those from 0 to 100. A value
// of the set-up outside of both points is an end itself.
func TestIntervalByHand(t *testing.T) {
	var x []float64
	for i := range 101 {
		x = append(x, float64((i*37)%101))
	}
	for best, want := range map[float64]Interval{50: {4.05, 50, 94.95}, 3: {3, 3, 94.95}, 99: {4.05, 99, 99}} {
		if got := NewInterval(x, best); math.Abs(got.Low-want.Low) > 1e-9 || math.Abs(got.High-want.High) > 1e-9 ||
			got.Best != best {
			t.Errorf("%+v, want %+v", got, want)
		}
	}
	for k, want := range []Verdict{NotHeld, Uncertain, Uncertain, Likely, Uncertain, Uncertain, Likely, Held} {
		if got := JudgeEnds(k&4 != 0, k&2 != 0, k&1 != 0); got != want {
			t.Errorf("easy %t, middle %t, hard %t: %s, want %s", k&4 != 0, k&2 != 0, k&1 != 0, got, want)
		}
	}
}

// What the default grid makes of the middle corrects every sample: ratios of flows and forces, differences of
// temperatures; the end of the search is no answer of a grid, and none goes beyond it.
func TestCorrectionOfSamples(t *testing.T) {
	const mm3 = 1e-9
	l := match.Limits{MaxFlow: 40 * mm3}
	full := Sample{Usable: 22 * mm3, Pushed: 33 * mm3, Melted: 40 * mm3, Push: 11, Pressure: 9, Heater: 30,
		ExitBulk:    480,
		EntryCentre: 400}
	quick := Sample{Usable: 20 * mm3, Pushed: 30 * mm3, Melted: 38 * mm3, Push: 10, Pressure: 10, Heater: 20,
		ExitBulk:    478,
		EntryCentre: 404}
	c := newControl(full, quick, l)
	got := c.correct(Sample{Usable: 10 * mm3, Pushed: 38 * mm3, Melted: 12 * mm3, Push: 20, Pressure: 20, Heater: 20,
		ExitBulk:    500,
		EntryCentre: 450})
	want := Sample{Usable: 11 * mm3, Pushed: 40 * mm3, Melted: 12 * mm3, Push: 22, Pressure: 18, Heater: 30,
		ExitBulk:    502,
		EntryCentre: 446}
	for what, x := range map[string][2]float64{"usable": {got.Usable, want.Usable}, "pushed": {got.Pushed, want.Pushed},
		"melted": {got.Melted, want.Melted}, "push": {got.Push, want.Push}, "pressure": {got.Pressure, want.Pressure},
		"heater": {got.Heater, want.Heater}, "exit": {got.ExitBulk, want.ExitBulk},
		"centre": {got.EntryCentre, want.EntryCentre}} {
		if math.Abs(x[0]/x[1]-1) > 1e-9 {
			t.Errorf("%s %g, want %g", what, x[0], x[1])
		}
	}
	if got := c.correct(Sample{Usable: 40 * mm3}); got.Usable != 40*mm3 {
		t.Errorf("the end of the search becomes %g", got.Usable)
	}
	for _, q := range []Sample{{Usable: 40 * mm3, Push: 10}, {Usable: 0, Push: 0}} {
		c = newControl(full, q, l)
		if got := c.correct(Sample{Usable: 10 * mm3, Push: 5}); got.Usable != 10*mm3 || q.Push == 0 && got.Push != 5 {
			t.Errorf("%+v: %+v", q, got)
		}
	}
}

// Weaker stock is pushed with less, stronger with more: both as a solution of the material of that strength has it.
func TestStrengthOfStock(t *testing.T) {
	s := &casefile.Invented().Setup
	const q = 30e-9
	weak, strong, err := StockStrength(s, q)
	if err != nil {
		t.Fatal(err)
	}
	for factor, got := range map[float64]float64{0.5: weak, 2: strong} {
		c := s.Case
		c.Material = s.Material.WithStrength(factor)
		var d flow.Solution
		if err := march.New(&c, march.Options{}).Solve(s.Block, q, &d); err != nil || math.Abs(got/d.Push-1) > 1e-12 {
			t.Errorf("%g times as strong: %g N, want %g, %v", factor, got, d.Push, err)
		}
	}
	if !(weak < strong) {
		t.Errorf("weak %g N, strong %g N", weak, strong)
	}
}

// Every unknown of a hot end or a feeder has a coordinate of its own in a ranking, as many as there are.
func TestSharedDrawsHaveTheirOwnCoordinates(t *testing.T) {
	us := Unknowns(&casefile.Invented().Setup)
	d := NewShared(16, 1, 3, 4)
	seen := map[string]string{}
	for h := range 3 {
		for f := range 4 {
			x := d.Draws(us, h, f)
			for j, u := range us {
				if u.Band.Known || !u.Has {
					continue
				}
				owner := string(u.ID)
				switch u.ID.Scope() {
				case vary.OfHotEnd:
					owner += fmt.Sprintf(" of hot end %d", h)
				case vary.OfFeeder:
					owner += fmt.Sprintf(" of feeder %d", f)
				}
				// Ranks tell coordinates apart whatever the band makes of them.
				key := ""
				for i := range x {
					n := 0
					for k := range x {
						if x[k][j] < x[i][j] {
							n++
						}
					}
					key += fmt.Sprint(n, " ")
				}
				if was, ok := seen[key]; ok && was != owner {
					t.Errorf("%s has the draws of %s", owner, was)
				}
				seen[key] = owner
			}
		}
	}
	if _, columns := d.points.Dims(); columns != d.all+2*len(d.ofHot)+3*len(d.force) {
		t.Errorf("%d coordinates", columns)
	}
}

// A surface comes back from points on it: lines, curves, cross terms and a cubic in the logarithm of flow, and, where
// it is rich, those of third order in the unknowns; also without one of the folds.
func TestSurfaceComesBack(t *testing.T) {
	s := &casefile.Invented().Setup
	us := Unknowns(s)
	for _, rich := range []bool{false, true} {
		f := newSurface(us, 10e-9, rich)
		m := len(f.at)
		if m < 4 {
			t.Fatalf("%d unknowns", m)
		}
		at := func(z []float64, u float64) float64 {
			y := 2 + 0.5*z[0] - 0.3*z[1] + 0.2*z[0]*z[1] + 0.1*z[2]*z[2] + u*(1+0.3*z[0]) - u*u*(0.2-0.05*z[3]) +
				0.1*u*u*u
			if rich {
				y += 0.07*z[0]*z[1]*u + 0.04*z[2]*z[2]*z[2]
			}
			return y
		}
		rng := rand.New(rand.NewPCG(5, 6))
		random := func() []float64 {
			z := make([]float64, m)
			for i := range z {
				z[i] = 2*rng.Float64() - 1
			}
			return z
		}
		for i := range 40 * f.size() {
			z, u := random(), 2*rng.Float64()-1
			p := probe{q: 10e-9 * math.Exp(u), solved: true}
			for o := range p.y {
				p.y[o] = float64(o+1) * at(z, u)
			}
			f.add(i%folds, z, []probe{p, {q: 1e-9, y: p.y}}) // one without a solution counts for nothing
		}
		f.sum()
		f.sum() // brings nothing new
		if !f.fit(-1) {
			t.Fatal("no surface")
		}
		for _, g := range []*surface{f, f.without(2)} {
			for range 20 {
				z, u := random(), 1.6*rng.Float64()-0.8
				l := g.lines(z)
				for o := range l {
					if got, want := l[o].at(u), float64(o+1)*at(z, u); math.Abs(got-want) > 5e-3*float64(o+1) {
						t.Errorf("rich %t, output %d: %g, want %g", rich, o, got, want)
					}
				}
			}
		}
	}
	// Unknowns are put between -1 and 1 at the 5 and 95 per cent points of the wider side.
	f := newSurface(us, 10e-9, false)
	mid := Middle(us)
	for k, z := range f.place(mid, nil) {
		if math.Abs(z) > 1e-9 {
			t.Errorf("%s: the middle is %g", us[f.at[k]].ID, z)
		}
	}
	for k, i := range f.at {
		lo, hi := append([]float64{}, mid...), append([]float64{}, mid...)
		lo[i], hi[i] = us[i].At(0.05), us[i].At(0.95)
		a, b := f.place(lo, nil)[k], f.place(hi, nil)[k]
		if math.Abs(math.Max(-a, b)-1) > 1e-9 || a > 1e-9 || b < -1e-9 {
			t.Errorf("%s: from %g to %g", us[i].ID, a, b)
		}
	}
}

// A pair has the stock and the rig of the duty, the path of the hot end and the feeder of the feeder.
func TestPairIsMadeOfItsParts(t *testing.T) {
	c := casefile.Invented()
	duty, end, feeder := c.Setup.Clone(), c.Setup.Clone(), c.Setup.Clone()
	for _, x := range []struct {
		s  *setup.Setup
		id vary.ID
		to float64
	}{{duty, vary.Viscosity, 1.4}, {end, vary.Zone, 31e-3}, {feeder, vary.Force, 1.3}, {end, vary.Viscosity, 0.7},
		{feeder, vary.Zone, 11e-3}} {
		q := vary.Must(x.s, x.id)
		if err := q.Set(x.s, x.to); err != nil {
			t.Fatal(err)
		}
	}
	p := Pair(duty, end, feeder)
	for id, want := range map[vary.ID]float64{vary.Viscosity: 1.4, vary.Zone: 31e-3, vary.Force: 1.3} {
		q := vary.Must(p, id)
		if got := q.Get(p); math.Abs(got/want-1) > 1e-9 {
			t.Errorf("%s is %g, want %g", id, got, want)
		}
	}
}
