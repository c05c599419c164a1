package study

import (
	"math"
	"slices"
	"strings"
	"testing"

	"meltload/flow/assess"
	"meltload/flow/calibrate"
	"meltload/flow/casefile"
	"meltload/flow/mould"
	"meltload/flow/quantity"
	"meltload/materials"
	"meltload/materials/unit"
)

// The trace of a filling is thinned to some 600 points with its last, while the most frozen and the highest push count
// all of it; the profile has the names of its elements and the hottest face.
func TestTraceOfAFilling(t *testing.T) {
	c := casefile.Invented().Clone()
	supply, err := assess.NewSupply(c, 12e-9)
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range []struct{ samples, kept, step int }{{1301, 435, 3}, {600, 301, 2}, {599, 599, 1}, {2, 2, 1}} {
		f := &assess.Filling{Result: &mould.Result{}, Supply: supply}
		for i := range x.samples {
			f.Trace = append(f.Trace, mould.Sample{Time: float64(i), Flow: 10e-9, Pressure: 1e5, Frozen: 0.1, Front: 1,
				Open: 2, Limited: i == 0})
		}
		f.Trace[1].Frozen, f.Trace[1].Pressure = 0.4, 5e6
		f.Profile = mould.Profile{X: []float64{1, 2}, T: [][]float64{{500, 400}, {500, 500}}, Face: []float64{0.75, 1},
			Surface: []float64{330, 320}, Element: []int{0, 2}}
		r := MouldResult{SetFlow: 12e-9, NoFlow: 450, Hottest: 325}
		r.trace(c, f)
		second := r.Trace[1]
		if len(r.Trace) != x.kept || second.Time != float64(x.step) || r.Trace[x.kept-1].Time != float64(x.samples-1) ||
			!r.Trace[0].Limited || second.Limited || second.Front != 1 || second.Open != 2 || r.Frozen != 0.4 {
			t.Errorf("%d samples: %d kept, the second at %g s, frozen %g", x.samples, len(r.Trace), second.Time,
				r.Frozen)
		}
		if x.step > 1 && math.Abs(second.Force-supply.Push(10e-9, 1e5)) > 1e-9 {
			t.Errorf("push of %g N", second.Force)
		}
		push := supply.Push(10e-9, 5e6)
		holds := c.Feeder.At(12e-9/c.Area()).Force / c.Limits.Safety
		if math.Abs(r.Mount/push-1) > 1e-12 || math.Abs(r.Uses[0].Share/(push/holds)-1) > 1e-12 ||
			r.Uses[1].Share != 0.4 {
			t.Errorf("%d samples: %g N on the mount, want %g; %+v", x.samples, r.Mount, push, r.Uses)
		}
		if p := r.Profile; r.Hottest != 330 || p.NoFlow != 450 || p.Frozen[0] != 0.25 || p.Frozen[1] != 0 ||
			p.Element[0] != c.Mould.Elements[0].Name || p.Element[1] != c.Mould.Elements[2].Name {
			t.Errorf("%+v, hottest %g", p, r.Hottest)
		}
	}
}

// A cycle lasts until melt has filled, the gate has frozen and the centre has cooled, and the mould is open; one that
// is stated goes over it. No row of shots is looked at where the part never comes out.
func TestCycleAndShots(t *testing.T) {
	for _, x := range []struct {
		what                       string
		cooling, gate, cycle, over float64 // over: mould over ejection temperature, K
		want                       float64 // 0 for none
		shots                      bool
	}{
		{"cooling is longest", 20, 8, 0, -30, 3 + 20 + 5, true}, {"the gate is", 20, 25, 0, -30, 3 + 25 + 5, true},
		{"never cools", 0, 8, 0, -30, 0, true}, {"stated", 20, 8, 90, -30, 90, true},
		{"stated and never cools", 0, 0, 90, -30, 90, true}, {"as short as it is open", 20, 8, 5, -30, 5, false},
		{"too hot", 20, 8, 0, 0, 28, false}, {"just not too hot", 20, 8, 90, -0.1, 90, true},
	} {
		c := casefile.Invented().Clone()
		m := c.Mould
		m.Open, m.Cycle, m.Shots, m.Surface = 5, x.cycle, 2, c.Material.Ejection+x.over
		r := MouldResult{Time: 3, Melt: c.Block, Cooling: quantity.KnownIf(x.cooling > 0, x.cooling),
			GateFreeze: quantity.KnownIf(x.gate > 0, x.gate)}
		if err := r.shots(t.Context(), c); err != nil {
			t.Fatal(err)
		}
		if got := quantity.Or(r.Cycle, 0); got != x.want || (len(r.Shots) > 0) != x.shots {
			t.Errorf("%s: a cycle of %g s, want %g; %d shots", x.what, got, x.want, len(r.Shots))
		}
		if !x.shots {
			continue
		}
		air := m.Wall.AirT // of the mould, else about the hot end
		want, err := mould.Repeat(t.Context(), &c.Case, &m.Mould, mould.RepeatSettings{Melt: c.Block, Shots: 2,
			Cycle: x.cycle, Open: 5, AirT: air, NoFlow: m.NoFlow})
		if err != nil {
			t.Fatal(err)
		}
		for i, s := range r.Shots {
			w := want[i]
			if s.Number != i+1 || s.Face != w.Face || s.Shut != w.Shut || s.Centre != w.Centre ||
				s.Opening != w.Opening || quantity.Or(s.Set, 0) != w.Set || quantity.Or(s.Eject, 0) != w.Eject {
				t.Errorf("%s: %+v, want %+v", x.what, s, w)
			}
		}
	}
	// Without air of its own the mould stands in that about the block; air that is none is said.
	c := casefile.Invented().Clone()
	c.Mould.Wall.AirT, c.Mould.Shots, c.HotEnd.Block.Ambient = 0, 2, unit.Kelvin(60)
	r := MouldResult{Melt: c.Block}
	if err := r.shots(t.Context(), c); err != nil {
		t.Fatal(err)
	}
	c.Mould.Wall.AirT = unit.Kelvin(60)
	same := MouldResult{Melt: c.Block}
	if err := same.shots(t.Context(), c); err != nil || !slices.EqualFunc(r.Shots, same.Shots, func(a,
		b MouldShot) bool {
		return a.Face == b.Face && a.Opening == b.Opening
	}) {
		t.Errorf("%+v, %v", r.Shots, err)
	}
	c.Mould.Wall.AirT = 100
	bad := MouldResult{Melt: c.Block}
	if err := bad.shots(t.Context(), c); err != nil || !materials.Warned(bad.Warnings, "no-repeated-shots") {
		t.Errorf("%v, %v", bad.Warnings, err)
	}
}

// How much larger a shot is than the melt at rest is said by number; a material that sets over a range and has none in
// its record is warned of; shrinkage is that of the record or computed, with what must be held for none.
func TestNumbersOfAShot(t *testing.T) {
	c := casefile.Invented().Clone()
	r := MouldResult{Volume: 300e-9, NoFlow: unit.Kelvin(110), Contact: quantity.Known(1e3)}
	r.shotNotes(c, &assess.Filling{Supply: &assess.Supply{Melt: c.Block - 6, Centre: 500, Available: 200e-9}})
	if !strings.Contains(warned(r.Warnings), "takes 1.5 times the melt") {
		t.Errorf("%s", warned(r.Warnings))
	}
	for _, x := range []struct {
		melts, sets [2]float64
		warn        bool
	}{{[2]float64{430, 440}, [2]float64{380, 390}, false}, {[2]float64{430, 440}, [2]float64{0, 0}, true},
		{[2]float64{430, 440}, [2]float64{390, 390}, true}, {[2]float64{0, 0}, [2]float64{0, 0}, false}} {
		m := *c.Material
		m.Viscosity.MeltLow, m.Viscosity.MeltHigh, m.Cooling = x.melts[0], x.melts[1], x.sets
		s := c.Clone()
		s.Material = &m
		r := MouldResult{NoFlow: unit.Kelvin(110), Contact: quantity.Known(1e3)}
		r.shotNotes(s, &assess.Filling{Supply: &assess.Supply{Melt: c.Block, Centre: 500}})
		if materials.Warned(r.Warnings, "no-cooling-range") != x.warn {
			t.Errorf("%+v: %s", x, warned(r.Warnings))
		}
	}
	// An amorphous polymer shrinks by its specific volume, a semi-crystalline one as its record says.
	published := map[bool]int{}
	for _, name := range materials.Names() {
		m := material(t, name)
		s := c.Clone()
		s.Material = m
		r := MouldResult{NoFlow: m.FlowPoint(), DeadEnd: 20e6, Contact: quantity.Known(1e3)}
		r.shotNotes(s, &assess.Filling{Supply: &assess.Supply{Melt: c.Block, Centre: 900}})
		want, ok := mould.Shrink(m, m.FlowPoint(), 20e6)
		if !ok {
			if r.ShrinkLow != nil || r.ShrinkBasis != "" {
				t.Errorf("%s: shrinks by %v", name, r.ShrinkLow)
			}
			continue
		}
		published[want.Published]++
		if *r.ShrinkLow != want.Low || *r.ShrinkHigh != want.High || strings.HasPrefix(r.ShrinkBasis, "published") !=
			want.Published || (r.HoldFor != nil) != (want.Pressure > 0 && !math.IsInf(want.Pressure, 1)) ||
			r.HoldFor != nil && *r.HoldFor != want.Pressure {
			t.Errorf("%s: %v to %v (%s), hold %v; want %+v", name, *r.ShrinkLow, *r.ShrinkHigh, r.ShrinkBasis,
				r.HoldFor, want)
		}
	}
	if published[true] == 0 || published[false] == 0 {
		t.Errorf("published and computed: %v", published)
	}
}

// A mould in words: short, full but stuck, full and out; what limits the flow, the clamp, and both ends of the range.
func TestSentenceOnAMould(t *testing.T) {
	full := MouldResult{Filled: true, ComesOut: true, Share: 1, Time: 4, Peak: 5e6, Cooling: quantity.Known(20.0),
		Clamp: Interval{Low: 100, Best: 200, High: 300}, Verdict: "full, and comes out", SetFlow: 12e-9}
	end := func(filled bool, share float64) MouldGain {
		return MouldGain{Filled: filled, Share: quantity.KnownIf(share > 0, share)}
	}
	clamp := " Clamp " + quantity.Text("clamp", 200) + ", up to " + quantity.Text("clamp", 300) + " if it is packed."
	for _, x := range []struct {
		change func(r *MouldResult)
		want   string
	}{
		{func(r *MouldResult) {}, "The mould fills in 4.00 s at up to 5.00 MPa, and the part comes out after another " +
			quantity.Text("cooling", 20) + "." + clamp},
		{func(r *MouldResult) { r.ComesOut, r.WhyNotOut = false, "It sticks" },
			"It sticks. The mould fills in 4.00 s at up to 5.00 MPa." + clamp},
		{func(r *MouldResult) { r.Filled, r.Share, r.Where, r.Why = false, 0.5, "gate", "it froze" }, "Short shot: " +
			quantity.Text("filled_share", 0.5) + " filled after 4.00 s, the front in gate; it froze." + clamp},
		{func(r *MouldResult) { r.LimitedAt = quantity.Known(1.0) },
			"From 1.00 s on the force of the feeder sets the flow, not the set flow of " +
				quantity.Text("set_flow", 12e-9) + "." + clamp},
		{func(r *MouldResult) { r.Ends = []MouldGain{end(true, 1), end(false, 0.25)} }, clamp +
			" Range: with all unknowns favourable full, with all unfavourable short at " +
			quantity.Text("filled_share", 0.25) + "."},
		{func(r *MouldResult) { r.Ends = []MouldGain{end(false, 0), end(true, 1)} }, "favourable no answer, with all " +
			"unfavourable full."},
		{func(r *MouldResult) { r.Verdict = "likely full: short at one end" }, "Likely full. The mould fills"},
	} {
		r := full
		x.change(&r)
		if got := r.sentence(); !strings.Contains(got, x.want) || len(r.Ends) != 2 && strings.Contains(got, "Range") ||
			r.Verdict == full.Verdict && strings.HasPrefix(got, "Full") {
			t.Errorf("%s\nwant %s", got, x.want)
		}
	}
}

// What a filling says by itself: what never comes to pass, and contact without resistance, are not known; clamps have
// the safety factor in them.
func TestWhatAFillingSays(t *testing.T) {
	c := casefile.Invented().Clone()
	m := c.Mould
	m.Safety, m.Flow, m.Surface = 1.5, 12e-9, 320
	for _, known := range []bool{true, false} {
		f := &assess.Filling{Result: &mould.Result{Filled: true, Time: 4, Volume: 50e-9, Peak: 5e6, OpenLow: 100,
			Open: 200, OpenHigh: 300, NoFlow: 390, Balance: 1e-5}, Supply: &assess.Supply{Melt: 470, Available: 40e-9}}
		m.Contact = math.Inf(1)
		if known {
			f.Limited, f.GateFreeze, f.Cooling, m.Contact = 2, 7, 20, 3000
		}
		r := mouldResult(c, f)
		for what, x := range map[string]struct {
			got  *float64
			want float64
		}{"limited": {r.LimitedAt, 2}, "gate": {r.GateFreeze, 7}, "cooling": {r.Cooling, 20}, "contact": {r.Contact,
			3000}} {
			if (x.got != nil) != known || known && *x.got != x.want {
				t.Errorf("%s: %v, want %g", what, x.got, x.want)
			}
		}
		if r.Clamp != (Interval{Low: 150, Best: 300, High: 450}) || r.Share != 1 || r.Time != 4 || r.Melt != 470 ||
			r.Available != 40e-9 || r.Surface != 320 || r.Hottest != 320 || r.NoFlow != 390 || r.SetFlow != 12e-9 ||
			r.Volume != 50e-9 || r.Peak != 5e6 || r.Safety != 1.5 || r.Balance != 1e-5 {
			t.Errorf("%+v", r)
		}
	}
}

// A side question's row has the numbers of its filling, the clamp with its safety; without a filling it says why.
func TestRowOfASideQuestion(t *testing.T) {
	g := gainOf(assess.Variant{What: "hotter", Filling: &assess.Filling{Result: &mould.Result{Front: 0.01, Time: 3,
		Peak: 4e6, Open: 200, Why: "froze", Trace: []mould.Sample{{Filled: 0.4}}}}}, 1.5)
	if g.Change != "hotter" || g.Filled || *g.Share != 0.4 || *g.Front != 0.01 || *g.Time != 3 || *g.Peak != 4e6 ||
		*g.Clamp != 300 || g.Note != "froze" {
		t.Errorf("%+v", g)
	}
	if g = gainOf(assess.Variant{What: "colder", Why: "no melt"}, 1.5); g.Share != nil || g.Clamp != nil ||
		g.Note != "no melt" {
		t.Errorf("%+v", g)
	}
}

// A fit of a mould by lengths in words and as keys of the case file: only what the lengths tell is written, its band
// rounded outward to a tenth of a kelvin.
func TestFitOfAMouldByHand(t *testing.T) {
	c := casefile.Invented().Clone()
	points := []calibrate.Spiral{{Block: 480, Mould: 310, Flow: 9e-9, Thickness: 1e-3, Width: 8e-3, Length: 14e-3}}
	fit := calibrate.SpiralFit{Before: []float64{10e-3}, Predicted: []float64{13e-3}, RMS: 0.05, Was: 0.3, Solves: 9,
		Settled: true,
		Contact: calibrate.SpiralValue{Start: 3000, Value: 2500, Low: 2000, High: 3125, Known: true},
		NoFlow:  calibrate.SpiralValue{Start: 383.15, Value: 393.15, Low: 391.1, High: 395.21, Known: true}}
	for _, x := range []struct {
		contact, noFlow, settled bool
		keys                     []SpiralKey
		good                     bool
	}{
		{true, true, true, []SpiralKey{{"mould.contact_W_m2K", "2500"}, {"mould.contact_range_W_m2K", "[2000, 3125]"},
			{"mould.no_flow_degC", "120"}, {"mould.no_flow_range_K", "2.1"}}, true},
		{false, true, true, []SpiralKey{{"mould.no_flow_degC", "120"}, {"mould.no_flow_range_K", "2.1"}}, false},
		{true, false, false, []SpiralKey{{"mould.contact_W_m2K", "2500"}, {"mould.contact_range_W_m2K",
			"[2000, 3125]"}}, false},
	} {
		f := fit
		f.Contact.Known, f.NoFlow.Known, f.Settled = x.contact, x.noFlow, x.settled
		r := spiralResult(c, points, &f)
		if !slices.Equal(r.Keys, x.keys) || r.Good != x.good || materials.Warned(r.Warnings,
			"fit-not-settled") == x.settled {
			t.Errorf("%+v: %+v, good %t, %s", x, r.Keys, r.Good, warned(r.Warnings))
		}
		if v := r.Values[1]; math.Abs(v.Start-110) > 1e-9 || math.Abs(v.Value-120) > 1e-9 ||
			math.Abs(*v.Low-117.95) > 1e-9 || math.Abs(*v.High-122.06) > 1e-9 || r.Values[0].Start != 3000 ||
			*r.Values[0].High != 3125 {
			t.Errorf("%+v", r.Values)
		}
		if l := r.Lengths[0]; l != (SpiralPoint{480, 310, 9e-9, 1e-3, 8e-3, 14e-3, 10e-3, 13e-3}) || r.RMS != 0.05 ||
			r.Was != 0.3 || r.Solves != 9 {
			t.Errorf("%+v", l)
		}
		if strings.Contains(r.Sentence,
			"contact of melt and mould is 2500 W/(m2 K) (2000 to 3125, 95 %)") != x.contact ||
			strings.Contains(r.Sentence, "The no-flow temperature is not known from these lengths.") == x.noFlow {
			t.Errorf("%s", r.Sentence)
		}
	}
}
