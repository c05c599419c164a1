package assess

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"meltload/flow/casefile"
	"meltload/flow/march"
	"meltload/flow/setup"
	"meltload/flow/vary"
	"meltload/materials/unit"
)

// The corners move the three unknowns that the load hangs on most to where, for three that move it alike, all at once
// are as rare as one load in twenty: the normal distribution's 1.645 over the root of three.
func TestCornersAreAsRareAsTheySay(t *testing.T) {
	s := &casefile.Invented().Setup
	p := distuv.UnitNormal.CDF(-1.6448536 / math.Sqrt(3))
	c := Corners(s)
	us := Unknowns(s)
	for i := range us {
		u := &us[i]
		for k, share := range [2]float64{p, 1 - p} {
			switch u.ID {
			case vary.Viscosity, vary.Entrance:
			case vary.Heated:
				share = 1 - share
			default:
				share = 0.5
			}
			if !u.Has {
				continue
			}
			if got, want := u.Get(c[k].Setup), u.At(share); got != want && !(math.Abs(got/want-1) < 1e-3) {
				t.Errorf("%s at corner %d: %g, want %g", u.ID, k, got, want)
			}
		}
	}
}

// Values that go together, by hand: the normal score of the second is r of that of the first and the root of 1 - r^2 of
// its own. What belongs to the stock comes before what belongs to a hot end, whatever the order of the table; one that
// goes with none keeps its own.
func TestValuesThatGoTogether(t *testing.T) {
	s := &casefile.Invented().Setup
	const r = 0.6
	s.Correlations = []setup.Correlation{{First: string(vary.Heated), Second: string(vary.Entrance), Value: -r}}
	us := Unknowns(s)
	at := map[vary.ID]int{}
	p := make([]float64, len(us))
	for i := range us {
		at[us[i].ID] = i
		p[i] = 0.3 + 0.03*float64(i)
	}
	heated, entrance := at[vary.Heated], at[vary.Entrance]
	if heated > entrance {
		t.Fatal("the table has the entrance first")
	}
	got := Values(us, p)
	z := distuv.UnitNormal.Quantile
	for i := range us {
		want := us[i].At(p[i])
		if i == heated {
			want = us[i].At(distuv.UnitNormal.CDF(-r*z(p[entrance]) + math.Sqrt(1-r*r)*z(p[heated])))
		}
		if got[i] != want && !(math.Abs(got[i]-want) <= 1e-9*math.Abs(want)) {
			t.Errorf("%s: %g, want %g", us[i].ID, got[i], want)
		}
	}
	// The ends of a distribution are not met, also where scores add up to beyond them.
	s.Doubts[string(vary.Entrance)] = setup.Doubt{Kind: setup.Factor, High: 2}
	s.Correlations[0] = setup.Correlation{First: string(vary.Viscosity), Second: string(vary.Entrance), Value: 0.99}
	us = Unknowns(s)
	p[at[vary.Viscosity]], p[entrance] = 1e-12, 1e-12
	if got, want := Values(us, p)[entrance], us[entrance].At(1e-9); !(math.Abs(got/want-1) < 1e-9) {
		t.Errorf("%g, want %g", got, want)
	}
	if (&Unknown{}).At(0.3) != 0 {
		t.Error("a value of what the set-up does not have")
	}
}

// A range without anything unknown is one number, held or not, with one limit; samples and seed that are not given are
// those of the set-up. With one unknown its ends are those of the set-up with it there, and its rank tells its way.
func TestRangeOfOneUnknown(t *testing.T) {
	s, _ := bench(t)
	for _, u := range Unknowns(s) {
		s.Doubts[string(u.ID)] = setup.Doubt{}
	}
	s.Samples, s.Seed = 8, 5
	for flow, held := range map[float64]float64{5: 1, 39: 0} {
		r, err := Spread(t.Context(), s, Options{Flow: flow * unit.MM3})
		if err != nil {
			t.Fatal(err)
		}
		if r.Samples != 8 || r.Seed != 5 || r.Solved != 8 || r.Miss != 0 || math.Abs(r.Held-held) > 1e-9 ||
			len(r.Limits) != 1 || math.Abs(r.Limits[0].Share-1) > 1e-9 || len(r.Influences) != 0 ||
			!(r.Usable.High/r.Usable.Low < 1.002) || r.Usable.Best < r.Usable.Low || r.Usable.Best > r.Usable.High {
			t.Errorf("at %g mm3/s: %+v", flow, r)
		}
	}
	s.Doubts[string(vary.Viscosity)] = setup.Doubt{Kind: setup.Factor, High: 2}
	s.Doubts[string(vary.Drag)] = setup.Doubt{Kind: setup.PlusMinus, High: 0.5}
	r, err := Spread(t.Context(), s, Options{Flow: 5 * unit.MM3, Samples: 12, Seed: 3})
	if err != nil || r.Samples != 12 || r.Seed != 3 || len(r.Influences) != 2 {
		t.Fatal(r, err)
	}
	v := r.Influences[0] // it moves the flow more than the drag
	if v.ID != vary.Viscosity || !(v.Rank < -0.9) {
		t.Errorf("%s: %g", v.ID, v.Rank)
	}
	base := march.New(&s.Case, march.Options{})
	for p, got := range map[float64]float64{0.05: v.Low, 0.95: v.High} {
		n := s.Clone()
		if err := v.Set(n, v.At(p)); err != nil {
			t.Fatal(err)
		}
		if want := Usable(n, base, 15*unit.MM3); math.Abs(got/want-1) > 0.01 {
			t.Errorf("at %g of the viscosity: %g m3/s, want %g", p, got, want)
		}
	}
}
