package study

import (
	"math"
	"slices"
	"strings"
	"testing"

	"meltload/flow/casefile"
	"meltload/flow/feeder"
	"meltload/flow/march"
	"meltload/flow/quantity"
	"meltload/flow/setup"
	"meltload/materials"
)

// held is a feeder that holds one force, measured so often with a scatter.
func held(name string, force, sd float64, repeats int, mass, cost float64) Rival {
	f, err := feeder.New(feeder.Feeder{Name: name, Mass: mass, Cost: cost, Points: []feeder.Point{
		{Speed: 2e-3, Force: force, SD: sd, Repeats: repeats, Cause: feeder.Grind},
		{Speed: 8e-3, Force: force, SD: sd, Repeats: repeats, Cause: feeder.Grind}}})
	if err != nil {
		panic(err)
	}
	return Rival{Name: name, Feeder: f}
}

// ended is the starter case with a mass and a cost of its hot end.
func ended(mass, cost float64) *setup.Setup {
	s := casefile.Invented().Clone()
	s.HotEnd.Mass, s.HotEnd.Cost = mass, cost
	return s
}

// Forces by mass, by mass with the lightest hot end that has one, and by cost; what has no mass or cost has none of
// them. The curves reach a tenth past the fastest speed that is compared or measured, in 40 steps.
func TestForcesByMassAndCost(t *testing.T) {
	job := RankJob{Feeders: []Rival{held("a", 60, 2, 5, 0.2, 50), held("b", 40, 1, 5, 0, 0)}, Speeds: []float64{4e-3,
		9e-3}, HotEnds: []Place{{"heavy", ended(0.08, 0)}, {"light", ended(0.05, 0)}, {"unweighed", ended(0, 0)}}}
	var r Ranking
	r.forces(&job)
	a, b := &r.Forces[1].Rows[0], &r.Forces[1].Rows[1]
	for what, x := range map[string]struct {
		got  *float64
		want float64
	}{"per mass": {a.PerMass, 60 / 0.2}, "per system": {a.PerSystem, 60 / 0.25}, "per cost": {a.PerCost, 1.2},
		"mass": {a.Mass, 0.2}, "cost": {a.Cost, 50}} {
		near(t, what, x.got, x.want, 1e-12)
	}
	if b.PerMass != nil || b.PerSystem != nil || b.PerCost != nil || b.Mass != nil || b.Cost != nil || b.Force != 40 ||
		r.Forces[0].Speed != 4e-3 || r.Forces[1].Speed != 9e-3 || a.Cause != "grind" || a.SD == nil {
		t.Errorf("%+v", b)
	}
	for i, c := range r.Curves {
		for k, v := range c.Speed {
			if want := 1.1 * 9e-3 * float64(k+1) / 40; math.Abs(v/want-1) > 1e-12 || len(c.Speed) != 40 ||
				c.Force[k] != job.Feeders[i].Feeder.At(v).Force {
				t.Fatalf("curve %d, point %d: %g m/s, want %g", i, k, v, want)
			}
		}
	}
	// Measured faster than compared; no hot end has a mass.
	job.Speeds, job.HotEnds = []float64{1e-3}, job.HotEnds[2:]
	r = Ranking{}
	r.forces(&job)
	if top := r.Curves[0].Speed[39]; math.Abs(top/8.8e-3-1) > 1e-12 || r.Forces[0].Rows[0].PerSystem != nil {
		t.Errorf("to %g m/s, %+v", top, r.Forces[0].Rows[0])
	}
}

// Four degrees of freedom of a feeder's own scatter are enough; with three, that of all is taken where it has more.
func TestWhoseScatterIsTaken(t *testing.T) {
	rival := func(sd float64, repeats int) Rival {
		return Rival{Feeder: &feeder.Feeder{Points: []feeder.Point{{Speed: 2e-3, Force: 100, SD: sd,
			Repeats: repeats}}}}
	}
	for _, x := range []struct {
		feeders []Rival
		shares  []float64
		warned  bool
	}{
		{[]Rival{rival(2, 5), rival(6, 5)}, []float64{0.02, 0.06}, false},
		// Of four pushes each: (3 x 4 + 3 x 36)/6 = 20 of variance.
		{[]Rival{rival(2, 4), rival(6, 4)}, []float64{math.Sqrt(20) / 100, math.Sqrt(20) / 100}, true},
		// (3 x 4 + 4 x 36)/7.
		{[]Rival{rival(2, 4), rival(6, 5)}, []float64{math.Sqrt(156.0/7) / 100, 0.06}, true},
		{[]Rival{rival(2, 4)}, []float64{0.02}, false},
	} {
		var r Ranking
		for i, s := range r.scatters(&RankJob{Feeders: x.feeders}) {
			if math.Abs(s.Share-x.shares[i]) > 1e-9 {
				t.Errorf("%d of %d: %g, want %g", i+1, len(x.feeders), s.Share, x.shares[i])
			}
		}
		if materials.Warned(r.Warnings, "pooled-scatter") != x.warned {
			t.Errorf("%d feeders: %s", len(x.feeders), warned(r.Warnings))
		}
	}
	var r Ranking
	r.scatters(&RankJob{Feeders: []Rival{rival(2, 4), rival(6, 5), rival(2, 3)}})
	if !strings.Contains(warned(r.Warnings), "2 of 3 feeders") {
		t.Errorf("%s", warned(r.Warnings))
	}
}

// One block temperature of all hot ends is that of the ranking; no hot end has none, and different ones have none.
func TestCommonBlock(t *testing.T) {
	at := func(blocks ...float64) []Place {
		var out []Place
		for _, b := range blocks {
			s := casefile.Invented().Clone()
			s.SetBlock(b)
			out = append(out, Place{"", s})
		}
		return out
	}
	for _, x := range []struct {
		ends []Place
		want float64 // 0 for none
	}{{nil, 0}, {at(480), 480}, {at(480, 480), 480}, {at(480, 490), 0}} {
		if got := quantity.Or(commonBlock(x.ends), 0); got != x.want {
			t.Errorf("%d hot ends: %g, want %g", len(x.ends), got, x.want)
		}
	}
}

// A pair as it stands: mass and cost are those of both, what they are divided into is flow or force, and a wanted flow
// is held where the usable one reaches it.
func TestAPairAsItStands(t *testing.T) {
	s := ended(0.05, 30)
	f := *s.Feeder
	f.Mass, f.Cost, s.Feeder = 0.15, 50, &f
	v := march.New(&s.Case, march.Options{})
	found, err := s.Matcher(v).Find(s.Block)
	if err != nil {
		t.Fatal(err)
	}
	for wanted, holds := range map[float64]bool{0: false, 0.99 * found.Flow: true, 1.01 * found.Flow: false} {
		s.Target = wanted
		e, err := entry(s, v)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "flow", &e.Flow, found.Flow, 1e-3)
		near(t, "force", &e.Force, s.Feeder.At(e.Flow/s.Area()).Force, 1e-12)
		near(t, "mass", e.Mass, 0.2, 1e-12)
		near(t, "cost", e.Cost, 80, 1e-12)
		near(t, "per mass", e.PerMass, e.Flow/0.2, 1e-12)
		near(t, "force per mass", e.ForceG, e.Force/0.2, 1e-12)
		near(t, "per cost", e.PerCost, e.Flow/80, 1e-12)
		near(t, "speed", e.Speed, e.Flow/(0.2e-3*0.45e-3), 1e-9)
		next := ""
		if b, ok := found.Next(); ok {
			next = string(b.Limit)
		}
		if (e.Held != nil) != (wanted > 0) || wanted > 0 && *e.Held != holds || e.Limit != string(found.Binding) ||
			e.Next != next || e.Block != s.Block {
			t.Errorf("%g m3/s wanted: %+v", wanted, e)
		}
	}
	// One of the two without a mass or a cost leaves the pair without.
	for _, x := range [][4]float64{{0, 50, 0.05, 30}, {0.15, 0, 0.05, 30}, {0.15, 50, 0, 30}, {0.15, 50, 0.05, 0}} {
		f.Mass, f.Cost, s.HotEnd.Mass, s.HotEnd.Cost = x[0], x[1], x[2], x[3]
		e, err := entry(s, v)
		if err != nil || (e.Mass != nil) != (x[0]*x[2] > 0) || (e.Cost != nil) != (x[1]*x[3] > 0) ||
			(e.PerMass != nil) != (e.Mass != nil) || (e.PerCost != nil) != (e.Cost != nil) {
			t.Errorf("%v: %+v, %v", x, e, err)
		}
	}
	// Nothing flows under a block below the flow point: the force is that at the start of the search.
	s.SetBlock(s.Material.FlowPoint() - 5)
	e, err := entry(s, v)
	if err != nil || e.Flow != 0 || e.Force != s.Feeder.At(s.Limits.MinFlow/s.Area()).Force {
		t.Errorf("%+v, %v", e, err)
	}
}

// What a table sorts by: numbers before what is not known, names by their letters; ranks stay those of force and flow.
func TestTablesAreSorted(t *testing.T) {
	known := func(x float64) *float64 { return quantity.KnownIf(x > 0, x) }
	row := func(name, cause string, force, mass, cost float64) ForceRow {
		return ForceRow{Feeder: name, Cause: cause, Force: force, Low: force, High: force, Mass: known(mass),
			Cost: known(cost)}
	}
	pair := func(name, limit string, flow, mass, cost float64) Entry {
		return Entry{Pair: name, Limit: limit, Flow: flow, Mass: known(mass), Cost: known(cost),
			samples: []float64{flow}}
	}
	for by, want := range map[string][2]string{"mass": {"c a b", "z x y"}, "cost": {"b c a", "y z x"},
		"cause": {"b a c", "y x z"}, "name": {"a b c", "x y z"}, "force": {"c b a", "z y x"}, "flow": {"c b a",
			"z y x"}} {
		r := Ranking{Forces: []ForceTable{{Speed: 2e-3, Rows: []ForceRow{row("b", "buckle", 20, 0, 5),
			row("c", "skip", 30, 0.1, 9), row("a", "grind", 10, 0.2, 0)}}},
			Entries: []Entry{pair("y", "core", 20, 0, 5), pair("z", "heater", 30, 0.1, 9), pair("x", "grip", 10, 0.2,
				0)}}
		r.order(named(by))
		var rows, pairs []string
		for i, x := range r.Forces[0].Rows {
			if rows = append(rows, x.Feeder); x.Rank != map[string]int{"c": 1, "b": 2, "a": 3}[x.Feeder] || x.Tied {
				t.Errorf("by %s, row %d: %+v", by, i, x)
			}
		}
		for i, x := range r.Entries {
			if pairs = append(pairs, x.Pair); x.Rank != map[string]int{"z": 1, "y": 2, "x": 3}[x.Pair] || x.Tied {
				t.Errorf("by %s, pair %d: %+v", by, i, x)
			}
		}
		if got := [2]string{strings.Join(rows, " "), strings.Join(pairs, " ")}; got != want {
			t.Errorf("by %s: %q, want %q", by, got, want)
		}
		if !strings.HasPrefix(r.Sentence, "At 2.00 mm/s of filament c holds") || !strings.Contains(r.Sentence,
			" z comes") {
			t.Errorf("by %s: %s", by, r.Sentence)
		}
	}
}

// Of three speeds the sentence tells the first and the last; of one feeder alone none.
func TestSpeedsThatAreTold(t *testing.T) {
	table := func(speed float64, names ...string) ForceTable {
		f := ForceTable{Speed: speed}
		for i, n := range names {
			x := 50 - float64(i)
			f.Rows = append(f.Rows, ForceRow{Feeder: n, Force: x, Low: x, High: x})
		}
		return f
	}
	r := Ranking{Forces: []ForceTable{table(2e-3, "a", "b"), table(4e-3, "a", "b"), table(8e-3, "a", "b")}}
	r.order(named("force"))
	if r.Sentence != r.Forces[0].Best+" "+r.Forces[2].Best || r.Forces[1].Best == "" {
		t.Errorf("%s", r.Sentence)
	}
	r = Ranking{Forces: []ForceTable{table(2e-3, "a"), table(4e-3, "a")}}
	if r.order(named("force")); r.Sentence != "" {
		t.Errorf("%s", r.Sentence)
	}
}

// The one who is first at a speed, in words, by the number that is ranked: what cannot be ranked, what alone can, what
// cannot be told apart, and the interval in the number's own unit.
func TestFirstByForceInWords(t *testing.T) {
	row := func(name string, per float64, rank int, tied bool) ForceRow {
		return ForceRow{Feeder: name, Force: 60, Low: 54, High: 66, Rank: rank, Tied: tied,
			PerMass: quantity.KnownIf(per > 0, per)}
	}
	for _, x := range []struct {
		rows []ForceRow
		by   string
		want string
	}{
		{[]ForceRow{row("a", 0, 1, false)}, "force-per-mass",
			"no feeder can be ranked by force per 100 g of feeder: mass or cost is not given."},
		{[]ForceRow{row("a", 300, 1, false), row("b", 0, 2, false)}, "force-per-mass",
			"only a can be ranked by force per 100 g of feeder: 30.0 N; mass or cost of the others is not given."},
		{[]ForceRow{row("a", 300, 1, true), row("b", 290, 1, true), row("c", 200, 3, false)}, "force-per-mass",
			"a and b cannot be told apart by force per 100 g of feeder: up to 30.0 N."},
		{[]ForceRow{row("a", 300, 1, true), row("b", 290, 1, true)}, "force",
			"a and b cannot be told apart by force held: up to 60.00 N."},
		{[]ForceRow{row("a", 300, 1, false), row("b", 200, 2, false)}, "force-per-mass",
			"a holds the most force per 100 g of feeder: 30.0 N (27.0 to 33.0)."},
		{[]ForceRow{row("a", 300, 1, false)}, "force", "a holds the most force: 60.00 N (54.00 to 66.00)."},
	} {
		got := firstByForce(&ForceTable{Speed: 2e-3, Rows: x.rows}, named(x.by))
		if want := "At 2.00 mm/s of filament " + x.want; got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// The pair that is first, in words.
func TestFirstPairInWords(t *testing.T) {
	pair := func(name string, flow, per float64, rank int, tied bool) Entry {
		return Entry{Pair: name, Flow: flow * 1e-9, Low: (flow - 2) * 1e-9, High: (flow + 3) * 1e-9, Rank: rank,
			Tied: tied, PerMass: quantity.KnownIf(per > 0, per), Limit: "grip"}
	}
	for _, x := range []struct {
		rows []Entry
		by   string
		want string
	}{
		{[]Entry{pair("a", 20, 0, 1, false)}, "flow-per-mass",
			"No pair can be ranked by usable flow per 100 g of feeder and hot end: mass or cost is not given."},
		{[]Entry{pair("a", 20, 5, 1, false), pair("b", 30, 0, 2, false)}, "flow-per-mass",
			"Only a can be ranked by usable " +
				"flow per 100 g of feeder and hot end: mass or cost of the others is not given."},
		// Ranked by mass the second has the highest flow of those that share the place; the third is not one of them.
		{[]Entry{pair("a", 20, 5, 1, true), pair("b", 25, 4.9, 1, true), pair("c", 40, 1, 3, false)}, "flow-per-mass",
			"2 pairs share the first place by usable flow per 100 g of feeder and hot end: their usable flows, up to " +
				"25.0 mm3/s (likely range 23.0 to 28.0), cannot be told apart."},
		{[]Entry{pair("a", 20, 5, 1, false), pair("b", 10, 5, 2, false)}, "flow",
			"a comes first with a usable flow of " +
				"20.0 mm3/s (likely range 18.0 to 23.0), limited by grip, next by nothing within the search."},
		{[]Entry{pair("a", 20, 5, 1, false)}, "flow-per-mass",
			"a comes first by usable flow per 100 g of feeder and hot " +
				"end with a usable flow of 20.0 mm3/s (likely range 18.0 to 23.0), limited by grip, next by " +
				"nothing within the search."},
	} {
		if got := firstByFlow(x.rows, named(x.by)); got != x.want {
			t.Errorf("%q, want %q", got, x.want)
		}
	}
}

// A ranking in Go begins with a header of its own; one with a duty says what is wanted, and progress ends at all.
func TestRankingsMadeInGo(t *testing.T) {
	job := RankJob{Feeders: []Rival{held("a", 60, 2, 5, 0, 0), held("b", 40, 1, 5, 0, 0)}}
	for title, want := range map[string]string{"": "Ranking of feeders", "mine": "mine"} {
		job.Header = Header{Title: title, Files: []File{{Name: "f"}}}
		job.Header.warn("w", "said before")
		r, err := Rank(t.Context(), job, nil)
		if err != nil || r.Title != want || r.Version != Version || len(r.Files) != 1 || !materials.Warned(r.Warnings,
			"w") || r.Samples != 0 || r.By != "force" || r.Target != nil {
			t.Errorf("%+v, %v", r, err)
		}
	}
	job.Header = bareHeader("kept")
	job.Header.Version = "other"
	if r, err := Rank(t.Context(), job, nil); err != nil || r.Version != "other" || r.Title != "kept" {
		t.Errorf("%v", err)
	}
	// Two feeders on no hot end, or one on two, are something to rank; one on one is not.
	s := ended(0.05, 30)
	s.Target = 5e-9
	for i := range job.Feeders {
		x := s.Clone()
		f := *job.Feeders[i].Feeder
		f.Stock = s.Feeder.Stock
		x.Feeder, job.Feeders[i].Feeder, job.Feeders[i].Setup = &f, &f, x
	}
	one := RankJob{Duty: s, Feeders: job.Feeders[:1], HotEnds: []Place{{"h", s}}, Samples: 16, Seed: 1}
	if _, err := Rank(t.Context(), one, nil); err == nil {
		t.Error("one pair is ranked")
	}
	two := s.Clone()
	two.HotEnd.Sections[0].Length = 12e-3
	one.HotEnds = append(one.HotEnds, Place{"short", two})
	var seen []float64
	r, err := Rank(t.Context(), one, func(done float64) { seen = append(seen, done) })
	if err != nil {
		t.Fatal(err)
	}
	near(t, "wanted", r.Target, 5e-9, 1e-12)
	if r.Samples != 16 || r.Seed != 1 || len(r.Entries) != 2 || r.Duty != s.Material.Name || r.Block == nil ||
		slices.ContainsFunc(seen, func(x float64) bool { return !(x >= 0 && x <= 1) }) {
		t.Errorf("%+v, progress %v", r, seen)
	}
	for _, e := range r.Entries {
		if e.Judged == "" || e.Pair != "a on "+e.HotEnd || !(e.Low <= e.Flow && e.Flow <= e.High) {
			t.Errorf("%+v", e)
		}
	}
	if materials.Warned(r.Warnings, "rank-search-end") {
		t.Errorf("%v", warned(r.Warnings))
	}
}
