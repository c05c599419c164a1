package assess_test

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"meltload/flow"
	"meltload/flow/assess"
	"meltload/flow/casefile"
	"meltload/flow/march"
	"meltload/flow/setup"
	"meltload/flow/uq"
	"meltload/flow/vary"
	"meltload/materials"
	"meltload/materials/checks"
	"meltload/materials/unit"
)

func starter() *setup.Setup { return &casefile.Invented().Setup }

// The number of a set-up as it stands lies in its own range, whatever the set-up: material, sizes, temperature, given
// values at the ends of what they may be, bands of any width. Where several unknowns stand at an end of what they may
// be, or a number hardly rises beyond the middle and falls before it, few draws lie beyond: 0.5 % must.
func TestBestLiesInItsRange(t *testing.T) {
	names := materials.Names()
	checks.Property(t, 10, func(t *rapid.T) { // each is some thousand solutions
		s := starter().Clone()
		m, err := materials.Get(rapid.SampledFrom(names).Draw(t, "material"))
		if err != nil {
			t.Fatal(err)
		}
		s.Material = m
		set := func(id vary.ID, lo, hi float64) {
			q := vary.Must(s, id)
			if err := q.Set(s, rapid.Float64Range(lo, hi).Draw(t, string(id))); err != nil {
				t.Fatal(err)
			}
		}
		set(vary.Block, m.Window[0], m.Window[1])
		set(vary.Bore, 0.25e-3, 1e-3)
		set(vary.Zone, 8e-3, 40e-3)
		set(vary.Heated, 0.5, 1)
		set(vary.Contact, 2e3, 1e5)
		set(vary.Eccentricity, 0, 0.9)
		set(vary.Drag, 0, 6)
		if rapid.Bool().Draw(t, "given") {
			q := vary.Must(s, vary.Viscosity)
			x := q.Get(s)
			s.Doubts = map[string]setup.Doubt{string(vary.Viscosity): {Kind: setup.Interval,
				Low: x / rapid.Float64Range(1, 3).Draw(t, "low"), High: x * rapid.Float64Range(1, 3).Draw(t, "high"),
				Calibrated: true}}
		}
		flow := rapid.Float64Range(2, 20).Draw(t, "flow") * unit.MM3
		// Few samples may miss: then many must not. The draws are redone by hand, as Spread moves the ends out.
		outside := func(samples int, beyond float64) string {
			r, err := assess.Spread(context.Background(), s, assess.Options{Samples: samples, Seed: 1, Flow: flow})
			if err != nil {
				t.Fatal(err)
			}
			best := assess.Sample{Usable: r.Usable.Best, Pushed: r.Pushed.Best, Melted: r.Melted.Best,
				Push: r.Push.Best, EntryCentre: r.EntryCentre.Best, Heater: r.Heater.Best}
			us := assess.Unknowns(s)
			out, err := assess.Run(context.Background(), s, us, assess.Draw(us, samples, 1),
				march.New(&s.Case, march.Options{}), flow, best, nil)
			if err != nil {
				t.Fatal(err)
			}
			for name, of := range map[string]func(x *assess.Sample) float64{
				"usable": func(x *assess.Sample) float64 { return x.Usable },
				"pushed": func(x *assess.Sample) float64 { return x.Pushed },
				"melted": func(x *assess.Sample) float64 { return x.Melted },
				"push":   func(x *assess.Sample) float64 { return x.Push },
				"centre": func(x *assess.Sample) float64 { return x.EntryCentre },
				"heater": func(x *assess.Sample) float64 { return x.Heater }} {
				q := uq.Quantiles(assess.Column(out, of), beyond, 1-beyond)
				if b, tol := of(&best), 1e-3*math.Abs(of(&best)); !(q[0] <= b+tol && b <= q[1]+tol) {
					return fmt.Sprintf("%s: best %g outside %g to %g", name, b, q[0], q[1])
				}
			}
			return ""
		}
		if outside(24, 0.05) == "" {
			return
		}
		if why := outside(400, 0.005); why != "" {
			t.Fatal(why)
		}
	})
}

// Every gain is a run with the same overrides, by the keys of the case file.
func TestGainsAreRunsWithTheSameOverrides(t *testing.T) {
	text := strings.Replace(string(casefile.BuiltIn), "length_mm = 20\n", "length_mm = 20\ncontact_W_m2K = 4000\n", 1)
	c, ps := casefile.Parse("x.toml", []byte(text))
	if len(ps) > 0 {
		t.Fatal(ps)
	}
	s := &c.Setup
	now, err := s.Matcher(march.New(&s.Case, march.Options{})).Find(s.Block)
	if err != nil {
		t.Fatal(err)
	}
	gains, err := assess.FindGains(s, now,
		func(k *flow.Case) (flow.Solver, error) { return march.New(k, march.Options{}), nil })
	if err != nil {
		t.Fatal(err)
	}
	if len(gains) < 6 {
		t.Errorf("only %d changes apply", len(gains))
	}
	for i, g := range gains {
		if i > 0 && g.Gain > gains[i-1].Gain {
			t.Errorf("%s comes after a smaller gain", g.Text)
		}
		n := s.Clone()
		var edits []vary.Edit
		for _, st := range g.Steps {
			q, _ := vary.Find(n, string(st.ID))
			x := q.Get(n)
			if err := q.Set(n, map[assess.Op]float64{assess.Add: x + st.By, assess.Times: x * st.By,
				assess.To: st.By}[st.Op]); err != nil {
				t.Fatal(err)
			}
			edits = append(edits, q.Edits(n)...)
		}
		_, file, err := casefile.Patch("x.toml", []byte(text), c.Edits(edits), "")
		if err != nil {
			t.Fatalf("%s: %v", g.Text, err)
		}
		r, err := file.Matcher(march.New(&file.Case, march.Options{})).Find(file.Block)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(r.Flow/g.Flow-1) > 1e-3 || r.Binding != g.Limit {
			t.Errorf("%s: %g by %s in the table, %g by %s from the written file", g.Text, g.Flow*1e9, g.Limit,
				r.Flow*1e9, r.Binding)
		}
		if math.Abs(g.Gain-(g.Flow-now.Flow)) > 1e-15 {
			t.Errorf("%s: gain %g", g.Text, g.Gain)
		}
	}
}

// A hotter block leaves the mould as warm as it was: its face follows from the melt, not from the block.
func TestHotterBlockLeavesTheMould(t *testing.T) {
	s := starter()
	for i := range assess.MouldChanges {
		if c := &assess.MouldChanges[i]; c.Text == "block 15 K hotter" {
			n, ok := c.Apply(s)
			if !ok || n.Mould.Surface != s.Mould.Surface || n.Block != s.Block+15 {
				t.Errorf("applies %v: mould from %.2f to %.2f K", ok, s.Mould.Surface, n.Mould.Surface)
			}
			return
		}
	}
	t.Error("there is no such change")
}

// What nothing is unknown about does not spread, and a narrower band is a narrower range.
func TestRangeFollowsTheBands(t *testing.T) {
	s := starter().Clone()
	o := assess.Options{Samples: 128, Flow: 10 * unit.MM3}
	wide, err := assess.Spread(context.Background(), s, o)
	if err != nil {
		t.Fatal(err)
	}
	s.Doubts = map[string]setup.Doubt{string(vary.Viscosity): {Kind: setup.Factor, High: 1.1},
		string(vary.Heated):   {Kind: setup.Interval, Low: 0.7, High: 0.8},
		string(vary.Entrance): {Kind: setup.Factor, High: 1.2}}
	narrow, err := assess.Spread(context.Background(), s, o)
	if err != nil {
		t.Fatal(err)
	}
	if a, b := narrow.Push.High-narrow.Push.Low, wide.Push.High-wide.Push.Low; a > 0.7*b ||
		narrow.Push.Best != wide.Push.Best {
		t.Errorf("width %g N with narrow bands, %g N with the default ones; best %g and %g", a, b, narrow.Push.Best,
			wide.Push.Best)
	}
	for _, u := range assess.Unknowns(s) {
		s.Doubts[string(u.ID)] = setup.Doubt{}
	}
	none, err := assess.Spread(context.Background(), s, o)
	if err != nil {
		t.Fatal(err)
	}
	if none.Push.High > none.Push.Low*(1+1e-9) || len(none.Influences) != 0 {
		t.Errorf("%+v", none.Push)
	}
}

func TestVerdicts(t *testing.T) {
	for share, want := range map[float64]assess.Verdict{1: assess.Held, 0.95: assess.Held, 0.94: assess.Likely,
		0.67: assess.Likely, 0.5: assess.Uncertain, 0.05: assess.Uncertain, 0.04: assess.NotHeld, 0: assess.NotHeld} {
		if got := assess.Judge(share); got != want {
			t.Errorf("%g: %s, want %s", share, got, want)
		}
	}
	if assess.JudgeEnds(true, true, true) != assess.Held || assess.JudgeEnds(true, true, false) != assess.Likely ||
		assess.JudgeEnds(true, false, false) != assess.Uncertain ||
		assess.JudgeEnds(false, false, false) != assess.NotHeld {
		t.Error("verdicts of the ends")
	}
}

// Correlations of the set-up are those of the draws' normal scores, and each unknown keeps its own distribution. Rank
// correlation of a Gaussian copula: 6/pi asin(r/2) (K. Pearson, On further methods of determining correlation, 1907,
// from memory).
func TestDrawsGoTogether(t *testing.T) {
	s := starter()
	plain := assess.Draw(assess.Unknowns(s), 4096, 1)
	s.Correlations = []setup.Correlation{{First: string(vary.Entrance), Second: string(vary.Viscosity), Value: -0.8},
		{First: string(vary.Heated), Second: string(vary.Entrance), Value: 0.5}}
	if err := s.Validate(); err != nil {
		t.Fatal(err)
	}
	us := assess.Unknowns(s)
	draws := assess.Draw(us, 4096, 1)
	at := map[vary.ID]int{}
	for j, u := range us {
		at[u.ID] = j
	}
	for _, c := range []struct {
		a, b vary.ID
		r    float64
	}{{vary.Viscosity, vary.Entrance, -0.8}, {vary.Entrance, vary.Heated, 0.5}, {vary.Viscosity, vary.Heated, 0},
		{vary.Viscosity, vary.Bore, 0}} {
		got := uq.RankCorrelation(uq.Column(draws, at[c.a]), uq.Column(draws, at[c.b]))
		if want := 6 / math.Pi * math.Asin(c.r/2); math.Abs(got-want) > 0.02 {
			t.Errorf("%s with %s: rank correlation %.3f, want %.3f", c.a, c.b, got, want)
		}
	}
	for j, u := range us {
		for _, p := range []float64{0.05, 0.5, 0.95} {
			a, b := uq.Quantiles(uq.Column(plain, j), p)[0], uq.Quantiles(uq.Column(draws, j), p)[0]
			if math.Abs(a-b) > 0.03*math.Abs(a)+1e-3*math.Abs(u.At(0.95)-u.At(0.05)) {
				t.Errorf("%s at %g: %.4g by itself, %.4g with the others", u.ID, p, a, b)
			}
		}
	}
}

// A pair keeps what goes together only where both come from the same calibration.
func TestPairKeepsCorrelationsOfOneCalibration(t *testing.T) {
	a, b := starter(), starter()
	ofStock := setup.Correlation{First: string(vary.Viscosity), Second: string(vary.Entrance), Value: -0.8}
	both := setup.Correlation{First: string(vary.Viscosity), Second: string(vary.Heated), Value: -0.4}
	a.Correlations = []setup.Correlation{ofStock, both}
	if got := assess.Pair(a, a, b).Correlations; len(got) != 2 {
		t.Errorf("duty and hot end of one calibration: %v", got)
	}
	if got := assess.Pair(a, b, b).Correlations; len(got) != 1 || got[0] != ofStock {
		t.Errorf("another hot end: %v", got)
	}
	if got := assess.Pair(b, a, a).Correlations; len(got) != 0 {
		t.Errorf("another duty: %v", got)
	}
}

// Pairs that share stock and rig share their draws; hot ends and feeders have their own.
func TestPairsShareWhatTheyShare(t *testing.T) {
	us := assess.Unknowns(starter())
	d := assess.NewShared(32, 1, 2, 2)
	a, b, c := d.Draws(us, 0, 0), d.Draws(us, 1, 0), d.Draws(us, 0, 1)
	for j, u := range us {
		scope := u.ID.Scope()
		if same := a[3][j] == b[3][j]; same == (scope == vary.OfHotEnd) && !u.Band.Known {
			t.Errorf("%s: the same for two hot ends: %v", u.ID, same)
		}
		if same := a[3][j] == c[3][j]; same == (scope == vary.OfFeeder) && !u.Band.Known {
			t.Errorf("%s: the same for two feeders: %v", u.ID, same)
		}
	}
}

// A set point holds the force it names, or what the feeder can give over the safety factor.
func TestSetPointsHoldTheirForce(t *testing.T) {
	s := starter()
	v := march.New(&s.Case, march.Options{})
	for _, force := range []float64{0, 18} {
		ps, err := assess.SetPoints(s, v, 20*unit.MM3, force)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range ps {
			want := force
			if want == 0 {
				want = s.Feeder.At(p.Flow/s.Area()).Force / s.Limits.Safety
			}
			if math.Abs(p.Force-want) > 1e-9 {
				t.Errorf("%.3g mm3/s: holds %g N, want %g", p.Flow*1e9, p.Force, want)
			}
			var d flow.Solution
			if p.Reach != assess.Within {
				continue
			}
			if err := v.Solve(p.Block, p.Flow, &d); err != nil || math.Abs(d.Push/p.Force-1) > 2e-3 {
				t.Errorf("%.3g mm3/s at %.1f K: push %g N (%v), to hold %g", p.Flow*1e9, p.Block, d.Push, err, p.Force)
			}
		}
	}
}

// How wide the answer is, and how sure the verdict.
func ExampleSpread() {
	s := starter()
	r, err := assess.Spread(context.Background(), s, assess.Options{Samples: 64, Flow: s.Target})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(r.Usable.Low < r.Usable.Best, r.Usable.Best < r.Usable.High, assess.Judge(r.Held))
	// Output: true true held
}
