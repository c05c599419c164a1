package study

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"meltload/flow"
	"meltload/flow/assess"
	"meltload/flow/casefile"
	"meltload/flow/feeder"
	"meltload/flow/march"
	"meltload/flow/match"
	"meltload/flow/quantity"
	"meltload/flow/setup"
	"meltload/flow/transient"
	"meltload/materials"
	"meltload/materials/unit"
)

// The numbers of a verdict by the bounds of a search: what binds, what comes next, what is pushed and what melts
// through, and the wanted flow held or not.
func TestNumbersOfAVerdict(t *testing.T) {
	c := casefile.Invented().Clone()
	f := &match.Result{Block: unit.Kelvin(200), Flow: 20e-9, Binding: match.Stall, LowFlow: 1e-9, Bounds: []match.Bound{
		{Limit: match.Core, Flow: 12e-9, Value: -0.3, Warns: true}, {Limit: match.Stall, Flow: 20e-9, Value: 0},
		{Limit: match.Heater, Flow: 25e-9, Value: 0.4}, {Limit: match.Mount, Flow: 40e-9, Open: true,
			Value: match.MostMargin}}}
	for _, x := range []struct {
		target     float64
		held, good bool
		said       string
	}{{0, false, true, ""}, {20e-9, true, true, "is held with a margin of 0 %"},
		{16e-9, true, true, "The wanted flow of 16 mm3/s is held with a margin of 25 %."},
		{25e-9, false, false, "is not held: the usable flow is 20 % lower."}} {
		var r Result
		c.Target = x.target
		r.verdict(c, f)
		v := &r.Verdict
		if v.Flow != 20e-9 || v.Limit != "stall" || v.Next != "heater power" || *v.NextFlow != 25e-9 ||
			*v.Pushed != 20e-9 || *v.Melted != 12e-9 || *v.LowFlow != 1e-9 || (v.Target != nil) != (x.target > 0) ||
			v.Held != x.held || r.Good != x.good || (v.Margin != nil) != (x.target > 0) ||
			v.Margin != nil && math.Abs(*v.Margin-(20e-9/x.target-1)) > 1e-12 || !strings.Contains(r.Sentence, x.said) {
			t.Errorf("%g m3/s wanted: %+v, good %t: %s", x.target, v, r.Good, r.Sentence)
		}
		for _, want := range []string{"is 20.0 mm3/s (8.32 mm/s of filament), limited by stall.",
			"The next limit is heater power at 25.0 mm3/s.", "Melts through: up to 12.0 mm3/s"} {
			if !strings.Contains(r.Sentence, want) {
				t.Errorf("no %q in %s", want, r.Sentence)
			}
		}
	}
	// Nothing flows, or nothing binds: no next limit, nothing melted beyond the search.
	c.Target = 0
	var r Result
	r.verdict(c, &match.Result{Block: unit.Kelvin(200), Binding: match.FlowPoint})
	if v := &r.Verdict; r.Good || v.Next != "" || v.NextFlow != nil || v.Pushed != nil || v.Melted != nil ||
		v.LowFlow != nil || r.Sentence != "At 200 degC no flow is usable: flow point." {
		t.Errorf("%+v, %s", v, r.Sentence)
	}
	r = Result{}
	r.verdict(c, &match.Result{Block: unit.Kelvin(200), Flow: 40e-9, Bounds: []match.Bound{
		{Limit: match.Stall, Flow: 40e-9, Open: true}, {Limit: match.Core, Flow: 40e-9, Open: true}}})
	if v := &r.Verdict; !r.Good || *v.Pushed != 40e-9 || v.Melted != nil || strings.Contains(r.Sentence,
		"other limit") || !strings.HasPrefix(r.Sentence,
		"At 200 degC nothing limits the flow up to 40.0 mm3/s, the end of the search.") {
		t.Errorf("%+v, %s", v, r.Sentence)
	}
	r = Result{}
	r.verdict(c, &match.Result{Flow: 20e-9, Binding: match.Stall, Bounds: []match.Bound{{Limit: match.Stall,
		Flow: 20e-9}, {Limit: match.Core, Flow: 20e-9}}})
	if strings.Contains(r.Sentence, "Melts through") || !strings.Contains(r.Sentence,
		"The next limit is unmelted core") {
		t.Errorf("a core that melts through at the bound: %s", r.Sentence)
	}
	r = Result{}
	r.verdict(c, &match.Result{Flow: 20e-9, Binding: match.Stall, Bounds: []match.Bound{{Limit: match.Stall,
		Flow: 20e-9}}})
	if !strings.Contains(r.Sentence, " No other limit lies within the search.") {
		t.Errorf("%s", r.Sentence)
	}
}

// How sure a wanted flow is comes into the sentence once it was judged, with the margin either way.
func TestJudgedFlowInWords(t *testing.T) {
	for _, x := range []struct {
		margin float64
		held   bool
		want   string
	}{{0.25, true, " The wanted flow of 16 mm3/s: likely held, with a margin of 25 %."},
		{-0.2, false, " The wanted flow of 16 mm3/s: likely held, the usable flow is 20 % lower."}} {
		v := &Verdict{Flow: 20e-9, Limit: "stall", Target: quantity.Known(16e-9), Margin: &x.margin, Held: x.held,
			Judged: string(assess.Likely)}
		if got := sentence(v, unit.Kelvin(200), 2.4e-6); !strings.Contains(got, x.want) {
			t.Errorf("%s: no %q", got, x.want)
		}
	}
}

// A bound of a result is that of the search; a margin that only says "at least" is none.
func TestBoundsOfAResult(t *testing.T) {
	c := casefile.Invented().Clone()
	var r Result
	r.bounds(c, &match.Result{Bounds: []match.Bound{{Limit: match.Stall, Flow: 9e-9, Value: 0.5, Warns: true},
		{Limit: match.Core, Flow: 40e-9, Open: true, Value: match.MostMargin}}})
	if a, b := &r.Bounds[0], &r.Bounds[1]; a.Limit != "stall" || a.Code != "S" || a.Flow != 9e-9 || a.Open ||
		!a.Warns || *a.Margin != 0.5 || math.Abs(*a.Speed-0.1) > 1e-12 || b.Margin != nil || !b.Open || b.Warns ||
		b.Code != "C" {
		t.Errorf("%+v", r.Bounds)
	}
}

// The share of a limit in use is the inverse of capacity over demand; what is exceeded without end has none, and what
// flow does not change is left out.
func TestSharesInUse(t *testing.T) {
	got := usesOf([]match.Margin{{Limit: match.Stall, Value: 0.25}, {Limit: match.Core, Value: 1, Warns: true},
		{Limit: match.Window, Value: 0.1}, {Limit: match.Heater, Value: -0.5}, {Limit: match.Mount, Value: -1}})
	want := []float64{0.8, 0.5, 2, 0}
	for i, u := range got {
		if len(got) != len(want) || math.Abs(u.Share-want[i]) > 1e-12 ||
			strings.HasSuffix(u.Text, "; warns only") != (i == 1) {
			t.Fatalf("%+v", got)
		}
	}
}

// The point shown is at the wanted flow, else at the usable one, else at the least of the search; warnings of the
// search that are not those of the point say at which flow they hold.
func TestWhichPointIsShown(t *testing.T) {
	c := casefile.Invented().Clone()
	plain, err := Glance(c, Options{Here: true})
	if err != nil {
		t.Fatal(err)
	}
	usable := plain.Verdict.Flow
	for _, x := range []struct{ target, block, want float64 }{{3e-9, c.Block, 3e-9}, {0, c.Block, usable},
		{0, c.Material.FlowPoint() - 5, c.Limits.MinFlow}} {
		s := c.Clone()
		s.Target = x.target
		s.SetBlock(x.block)
		r, err := Glance(s, Options{Here: true})
		if err != nil {
			t.Fatal(err)
		}
		var d flow.Solution
		if err := march.New(&s.Case, march.Options{}).Solve(x.block, x.want, &d); err != nil {
			t.Fatal(err)
		}
		p := &r.Point
		for what, v := range map[string][2]float64{"flow": {p.Flow, x.want}, "push": {p.Push, d.Push},
			"pressure": {p.Pressure, d.Pressure}, "mount": {p.Mount, d.Force}, "heater": {p.Heater, d.Heater},
			"holds": {p.Capability, s.Feeder.At(x.want / s.Area()).Force}, "spent": {r.Spent.Barrel, d.Load.Barrel},
			"centre": {p.EntryCentre, d.EntryCentre}, "melts": {p.FlowPoint, s.Material.FlowPoint()}} {
			if math.Abs(v[0]/v[1]-1) > 1e-6 {
				t.Errorf("%+v: %s is %g, want %g", x, what, v[0], v[1])
			}
		}
		share := 0.0
		for _, q := range r.Sections {
			share += q.Share
		}
		if math.Abs(share-1) > 1e-9 {
			t.Errorf("%+v: shares of the pressure sum to %g", x, share)
		}
		elsewhere := strings.Contains(warned(r.Warnings), "at the usable flow of "+quantity.Text("usable_flow", usable))
		if elsewhere != (x.target > 0) { // the search warns of what the point at 3 mm3/s does not show
			t.Errorf("%+v: %s", x, warned(r.Warnings))
		}
	}
	if r, err := Glance(c, Options{Solver: "none"}); err == nil || !strings.Contains(err.Error(), `no solver "none"`) {
		t.Errorf("%v, %v", r, err)
	}
	quick, err := Glance(c, Options{Solver: "lumped", Here: true})
	if err != nil || quick.Melt != nil || quick.Point.Push != quick.Point.Quick || quick.Point.WeakStock != nil {
		t.Errorf("%+v, %v", quick, err)
	}
}

// The strength of the stock is said where the stronger takes a tenth more than the weaker, and only there.
func TestStrengthOfTheStockIsSaid(t *testing.T) {
	c := casefile.Invented().Clone()
	seen := map[bool]int{}
	for _, q := range []float64{11e-9, 13e-9, 16e-9, 25e-9, 38e-9} {
		var r Result
		if err := r.strengthSpread(c, q); err != nil {
			t.Fatal(err)
		}
		ratio := *r.Point.StrongStock / *r.Point.WeakStock
		said := materials.Warned(r.Warnings, "stock-strength")
		if seen[said]++; said != (ratio >= 1.1) {
			t.Errorf("%g m3/s: the stronger takes %.3f of the weaker, said %t", q, ratio, said)
		}
	}
	if seen[true] == 0 || seen[false] == 0 {
		t.Errorf("said %d times, not %d times", seen[true], seen[false])
	}
}

// The field of the melt zone is cut into stations of as many cells as it has.
func TestFieldByStation(t *testing.T) {
	f := &march.Field{Cells: 2, Z: []float64{0, 1}, R: []float64{3, 4}, Stretch: make([]march.Stretch, 2),
		Radius: []float64{1, 2, 3, 4}, T: []float64{5, 6, 7, 8}, U: []float64{9, 10, 11, 12}}
	m := melt(f)
	if fmt.Sprint(m.CellEdge, m.T, m.U, len(m.Stretch)) != "[[1 2] [3 4]] [[5 6] [7 8]] [[9 10] [11 12]] 2" {
		t.Errorf("%+v", m)
	}
}

// loadLine is a solver whose push is a straight line in flow, and falls with the block temperature.
type loadLine struct{ c *setup.Setup }

func (s loadLine) Clone() flow.Solver { return s }
func (s loadLine) Name() string       { return "line" }
func (s loadLine) Solve(block, q float64, r *flow.Solution) error {
	r.Block, r.Flow, r.Speed, r.Push = block, q, q/s.c.Area(), (10+2e9*q)*math.Exp((400-block)/100)
	r.Pressure, r.EntryCentre = r.Push*1e5, block
	return nil
}

// Load curves are drawn at the block temperature and at both ends of the range looked at, without an end that is the
// block itself.
func TestTemperaturesOfTheCurves(t *testing.T) {
	c := casefile.Invented().Clone()
	for _, x := range []struct {
		low, high float64 // from the block
		want      []float64
	}{{-20, 25, []float64{-20, 0, 25}}, {-0.9, 25, []float64{0, 25}}, {-20, 0.9, []float64{-20, 0}},
		{-1.1, 1.1, []float64{-1.1, 0, 1.1}}} {
		c.Temps = [2]float64{c.Block + x.low, c.Block + x.high}
		v := loadLine{c}
		r := Result{solver: v}
		if err := r.curves(c, v, 2); err != nil {
			t.Fatal(err)
		}
		var got []float64
		for _, l := range r.Load {
			got = append(got, math.Round(10*(l.Block-c.Block))/10)
			for _, p := range l.Points {
				if want := (10 + 2e9*p.Flow) * math.Exp((400-l.Block)/100); math.Abs(p.Push/want-1) > match.ChartMiss {
					t.Errorf("%+v: %g N at %g m3/s on the curve of %g K, want %g", x, p.Push, p.Flow, l.Block, want)
				}
			}
		}
		low, top := r.curveEnds(c)
		if !slices.Equal(got, x.want) || r.Load[0].Points[0].Flow != low || r.Load[0].Points[1].Flow != top ||
			len(r.Capability) != 2 {
			t.Errorf("curves at %v of the block, want %v", got, x.want)
		}
	}
}

// The curve through the flows of a search has the usable one between those about it, once, and ends with the first flow
// past the end of the curves.
func TestFlowsOfTheCurveHere(t *testing.T) {
	c := casefile.Invented().Clone()
	c.Limits.MinFlow, c.Limits.MaxFlow, c.Target = 1e-9, 60e-9, 0
	// No measured points widen the curves.
	m, err := feeder.New(feeder.Feeder{Model: &feeder.Model{Diameter: 1.75e-3, Stock: 303, Material: c.Material,
		Grip: &feeder.Grip{Area: 1e-6, Wheels: 2, Tension: 1}}})
	if err != nil {
		t.Fatal(err)
	}
	c.Feeder = m
	for usable, want := range map[float64]string{0: "[1 2 4]", 2: "[1 2 4]", 3: "[1 2 3 4 8]", 9: "[1 2 4 8 9 16]"} {
		found := &match.Result{Flow: usable * 1e-9, Solution: flow.Solution{Flow: usable * 1e-9}}
		for q := 1.0; q < 50; q *= 2 {
			found.Scan = append(found.Scan, flow.Solution{Flow: q * 1e-9})
		}
		r := Result{Verdict: Verdict{Flow: found.Flow}}
		r.curveHere(c, found, 3)
		var got []float64
		for _, p := range r.Load[0].Points {
			got = append(got, math.Round(p.Flow*1e9))
		}
		last := got[len(got)-1]
		if fmt.Sprint(got) != want || r.Capability[0].Flow != 1e-9 || math.Abs(r.Capability[2].Flow*1e9-last) > 1e-9 {
			t.Errorf("usable %g: %v, want %s; capability to %g", usable, got, want, r.Capability[2].Flow)
		}
	}
}

// What a feeder by its model is made of stands beside what it holds.
func TestPartsOfTheCapability(t *testing.T) {
	c := casefile.Invented().Clone()
	f, err := feeder.New(feeder.Feeder{Model: &feeder.Model{Diameter: 1.75e-3, Stock: 303, Material: c.Material,
		Grip: &feeder.Grip{Area: 1e-6, Wheels: 2, Tension: 1}}})
	if err != nil {
		t.Fatal(err)
	}
	c.Feeder = f
	var r Result
	r.capability(c, []float64{5e-9})
	grip, _, _ := f.Model.Parts(5e-9 / c.Area())
	if p := r.Capability[0]; *p.Grip != grip || p.Stall != nil || p.Column != nil ||
		p.Force != f.At(5e-9/c.Area()).Force {
		t.Errorf("%+v", p)
	}
}

// The map and the curve over temperature: even steps, the range looked at, and a best temperature only where something
// flows.
func TestMapByHand(t *testing.T) {
	c := casefile.Invented().Clone()
	r, err := Run(c, Options{Curve: 4, MapTemps: 3, MapFlows: 4})
	if err != nil {
		t.Fatal(err)
	}
	last := r.Load[0].Points[3].Flow
	for i, q := range r.Map.Flows {
		if math.Abs(q/(last*float64(i+1)/4)-1) > 1e-12 {
			t.Errorf("flow %d of the map is %g, want %g", i, q, last*float64(i+1)/4)
		}
	}
	for i, T := range r.Map.Temps {
		if want := c.Temps[0] + (c.Temps[1]-c.Temps[0])*float64(i)/2; math.Abs(T-want) > 1e-9 {
			t.Errorf("row %d at %g K, want %g", i, T, want)
		}
	}
	usable, best := 0, 0
	for i := range r.Map.Codes {
		for _, code := range r.Map.Codes[i] {
			if code == "+" {
				usable++
			}
		}
	}
	for i := range r.ByTemp {
		if r.ByTemp[i].Flow > r.ByTemp[best].Flow {
			best = i
		}
		if want := c.Temps[0] + (c.Temps[1]-c.Temps[0])*float64(i)/20; math.Abs(r.ByTemp[i].Block-want) > 1e-9 {
			t.Errorf("point %d at %g K, want %g", i, r.ByTemp[i].Block, want)
		}
		near(t, "print speed", r.ByTemp[i].Speed, r.ByTemp[i].Flow/(0.2e-3*0.45e-3), 1e-9)
	}
	if len(r.Map.Codes) != 3 || len(r.Map.Codes[0]) != 4 || len(r.Map.Push[2]) != 4 || len(r.ByTemp) != 21 ||
		math.Abs(r.Map.Usable-float64(usable)/12) > 1e-12 || *r.BestTemp != r.ByTemp[best].Block ||
		r.ByTemp[0].Code == "" {
		t.Errorf("%+v, best %g", r.Map, *r.BestTemp)
	}
	// Nothing flows where every block is below the flow point: there is no best.
	cold := c.Clone()
	cold.Temps = [2]float64{c.Material.FlowPoint() - 20, c.Material.FlowPoint() - 5}
	cold.SetBlock(cold.Temps[1])
	if r, err := Run(cold, Options{Curve: 2, MapTemps: 2, MapFlows: 2}); err != nil || r.BestTemp != nil ||
		r.Map.Usable != 0 {
		t.Errorf("best at %v, %v", r.BestTemp, err)
	}
	if !slices.Equal(spaced(2, 8, 4), []float64{2, 4, 6, 8}) || !slices.Equal(spaced(2, 8, 1), []float64{2}) ||
		!slices.Equal(spaced(2, 8, 2), []float64{2, 8}) {
		t.Errorf("%v %v", spaced(2, 8, 4), spaced(2, 8, 1))
	}
}

// How often what is not known is sampled: as said, as often as a quick answer does, or as the set-up says; the seed of
// the set-up unless another is given.
func TestHowOftenIsSampled(t *testing.T) {
	c := &setup.Setup{Samples: 900, Seed: 7}
	for _, x := range []struct {
		o       AssessOptions
		samples int
		seed    uint64
	}{{AssessOptions{}, 256, 7}, {AssessOptions{Samples: 64, Seed: 3}, 64, 3}, {AssessOptions{Samples: -1}, 900, 7}} {
		if n, seed := x.o.sampling(c); n != x.samples || seed != x.seed {
			t.Errorf("%+v: %d samples, seed %d", x.o, n, seed)
		}
	}
}

// Range, verdict and sentence follow the samples; a wanted flow is judged by the share that holds it, and none is where
// no flow is wanted.
func TestRangeByItsSamples(t *testing.T) {
	c := casefile.Invented().Clone()
	for _, target := range []float64{0, 60e-9} {
		c.Target, c.Limits.MaxFlow = target, 70e-9
		r, err := Glance(c, Options{Here: true})
		if err != nil {
			t.Fatal(err)
		}
		if err := r.Spread(t.Context(), c, 16, 5, nil); err != nil {
			t.Fatal(err)
		}
		a, err := assess.Spread(t.Context(), c, assess.Options{Samples: 16, Seed: 5, Flow: r.Point.Flow})
		if err != nil {
			t.Fatal(err)
		}
		x := r.Range
		if x.Usable != Interval(a.Usable) || x.Push != Interval(a.Push) || x.Heater != Interval(a.Heater) ||
			x.SurfaceMiss != nil || x.Samples != 16 || r.Samples != 16 || r.Seed != 5 || x.searchEnd != 70e-9 ||
			len(x.Limits) != len(a.Limits) || len(x.Influences) != len(a.Influences) ||
			!strings.Contains(r.Sentence, " Likely range: ") {
			t.Errorf("%g m3/s wanted: %+v", target, x)
		}
		if (x.Probability != nil) != (target > 0) || target > 0 && (*x.Probability != a.Held ||
			r.Verdict.Judged != string(assess.Judge(a.Held)) || r.Good) ||
			target == 0 && r.Verdict.Judged != "" {
			t.Errorf("%g m3/s wanted: held in %v, %q", target, x.Probability, r.Verdict.Judged)
		}
	}
	for flow, want := range map[float64]bool{40e-9: true, 40e-9 * (1 - 0.9e-6): true, 40e-9 * (1 - 1.15e-6): false} {
		if atEnd(flow, 40e-9) != want || (&Corners{searchEnd: 40e-9}).Beyond(flow) != want {
			t.Errorf("%g of the end: %t", flow/40e-9, !want)
		}
	}
	if limitName("") != "none within the search" || limitName(match.Grip) != "grip" {
		t.Error("names of limits")
	}
}

// The gains are those of the search; a result that was read finds its solver and its search again.
func TestGainsOfAResult(t *testing.T) {
	c := casefile.Invented().Clone()
	r, err := Glance(c, Options{Here: true})
	if err != nil {
		t.Fatal(err)
	}
	if err := r.FindGains(c); err != nil {
		t.Fatal(err)
	}
	again := Result{Header: Header{Solver: "marching"}}
	if err := again.FindGains(c); err != nil {
		t.Fatal(err)
	}
	if len(r.Gains) < 5 || len(again.Gains) != len(r.Gains) {
		t.Fatalf("%d gains, %d again", len(r.Gains), len(again.Gains))
	}
	for i, g := range r.Gains {
		if math.Abs(g.Flow/(r.Verdict.Flow+g.Gain)-1) > 1e-3 && math.Abs(g.Flow/r.Verdict.Flow-1-g.Gain) > 1e-3 ||
			g.Limit == "" || g.Change != again.Gains[i].Change {
			t.Errorf("%+v of %g m3/s", g, r.Verdict.Flow)
		}
	}
	// No set points where no flow above the least is usable or wanted.
	none := Result{Header: Header{Solver: "marching"}}
	s := c.Clone()
	s.Target = 0
	none.Verdict.Flow = s.Limits.MinFlow
	if err := none.FindSetPoints(s, 0); err != nil || none.SetPoints != nil || none.SetLine != nil {
		t.Errorf("%+v, %v", none.SetPoints, err)
	}
}

// A force too small for any block, and one that any block holds, are said so and have no part in the line.
func TestSetPointsOutOfReach(t *testing.T) {
	c := casefile.Invented().Clone()
	for force, note := range map[float64]string{1: "above it even at " + quantity.Text("best_block", c.Temps[1]),
		5000: "the lowest temperature of the range suffices"} {
		r := Result{Header: Header{Solver: "marching"}, Verdict: Verdict{Flow: 20e-9}}
		if err := r.FindSetPoints(c, force); err != nil || len(r.SetPoints) == 0 || r.SetLine != nil {
			t.Fatalf("%g N: %+v, %v", force, r.SetPoints, err)
		}
		for _, p := range r.SetPoints {
			if p.Note != note || (p.Block != nil) != (force > 100) {
				t.Errorf("%g N: %+v", force, p)
			}
		}
	}
}

// A run that ends without a feeder has no use of it, and one without a heater's power none of that; what a trace has of
// a sample is that sample.
func TestUsesOfARun(t *testing.T) {
	c := casefile.Invented().Clone()
	for _, x := range []struct {
		holds, power float64
		uses         int
	}{{60, 40, 2}, {0, 40, 1}, {60, 0, 1}, {0, 0, 0}} {
		c.HotEnd.Block.Power = x.power
		r := TraceResult{Points: []TracePoint{{Heater: 10}, {Heater: 30, Force: 45,
			Capability: quantity.KnownIf(x.holds > 0, x.holds)}, {Heater: 20, Force: 30,
			Capability: quantity.KnownIf(x.holds > 0, x.holds)}}}
		if r.uses(c); len(r.Uses) != x.uses {
			t.Errorf("%+v: %+v", x, r.Uses)
		}
		for _, u := range r.Uses {
			if want := map[bool]float64{true: 0.75, false: 0.5}[u.Of == string(match.Heater)]; u.Share != want {
				t.Errorf("%+v, want %g", u, want)
			}
		}
	}
	got := tracePoints(&transient.Trace{Samples: []transient.Sample{{Time: 1, Block: 2, Flow: 3, Force: 4, Steady: 5,
		Centre: 6, ExitBulk: 7, Heater: 8, Capability: 9, Phase: 1}, {}}}, []transient.Phase{{Name: "a"}, {Name: "b"}})
	nine := 9.0
	if p := got[0]; *p.Capability != nine || p.Phase != "b" || got[1].Capability != nil || got[1].Phase != "a" ||
		[]float64{p.Time, p.Block, p.Flow, p.Force, p.Steady, p.Centre, p.ExitBulk, p.Heater}[7] != 8 || p.Steady != 5 {
		t.Errorf("%+v", got)
	}
}
